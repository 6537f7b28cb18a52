import { type ByteSource, isInside, type ReadCause, ReadProblem } from '../bytes/byte-source.js';

/** Bytes of one page. */
export const pageBytes = 64 * 1024;
const zeros = Buffer.alloc(pageBytes);
/** Bytes of the first sector of any medium. */
const leastBytes = 512;

/** A stretch that nobody may read, and why. */
export interface ClosedStretch {
  readonly from: number;
  /** First byte after the stretch; infinite when the end of the medium was never seen. */
  readonly to: number;
  readonly cause: ReadCause;
  readonly detail: string;
}

/** Bytes in memory of which only the pages that are not zero are kept: most of a card's image is empty. */
export class SparseSource implements ByteSource {
  private readonly pages = new Map<number, Uint8Array>();
  private readonly closed: ClosedStretch[] = [];
  private readonly page = Buffer.alloc(pageBytes);
  private filled = 0;
  private kept = 0;

  /** @param limit most bytes to keep; pages that come later are closed with the cause `over-limit`. */
  constructor(private readonly limit: number) {}

  /**
   * Bytes appended so far. Of an image whose end was never seen at least one sector, so that whoever reads from its
   * start is told why the bytes cannot be had, in place of finding a medium too short to hold anything.
   */
  get size(): number {
    const endUnseen = this.closed.some(({ to }) => to === Number.POSITIVE_INFINITY);
    return endUnseen ? Math.max(this.filled, leastBytes) : this.filled;
  }
  /** Bytes held in memory. */
  get keptBytes(): number {
    return this.kept;
  }

  /** Adds bytes at the end. */
  append(bytes: Uint8Array): void {
    for (let at = 0; at < bytes.length; ) {
      const inPage = this.filled % pageBytes;
      const take = Math.min(bytes.length - at, pageBytes - inPage);
      this.page.set(bytes.subarray(at, at + take), inPage);
      at += take;
      this.filled += take;
      if (this.filled % pageBytes === 0) this.keepPage(pageBytes);
    }
  }

  /** Keeps the last, unfilled page. Call it once, after the last byte. */
  finish(): void {
    const rest = this.filled % pageBytes;
    if (rest > 0) this.keepPage(rest);
  }

  /** Closes a stretch: every read that touches it fails with this cause. */
  close(stretch: ClosedStretch): void {
    this.closed.push(stretch);
  }

  read(at: number, length: number): Uint8Array | ReadProblem {
    for (const { from, to, cause, detail } of this.closed)
      if (at < to && at + length > from) return new ReadProblem(at, length, cause, detail);
    if (!isInside(at, length, this.filled)) return new ReadProblem(at, length, 'past-end');
    const bytes = new Uint8Array(length);
    for (let done = 0; done < length; ) {
      const inPage = (at + done) % pageBytes;
      const take = Math.min(length - done, pageBytes - inPage);
      const page = this.pages.get(Math.floor((at + done) / pageBytes));
      if (page) bytes.set(page.subarray(inPage, inPage + take), done);
      done += take;
    }
    return bytes;
  }

  private keepPage(used: number): void {
    if (this.page.compare(zeros, 0, used, 0, used) === 0) return;
    const from = this.filled - used;
    if (this.kept + used > this.limit) {
      this.closeOverLimit(from);
      return;
    }
    this.pages.set(Math.floor(from / pageBytes), Uint8Array.from(this.page.subarray(0, used)));
    this.kept += used;
  }

  /** One stretch from the first page that was left out to the last: zero pages between are closed too. */
  private closeOverLimit(from: number): void {
    const last = this.closed.at(-1);
    if (last?.cause === 'over-limit') this.closed[this.closed.length - 1] = { ...last, to: this.filled };
    else
      this.closed.push({
        from,
        to: this.filled,
        cause: 'over-limit',
        detail: `more than ${this.limit} bytes of this image are not zero`,
      });
  }
}
