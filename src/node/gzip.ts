import { crc32, createInflateRaw, type InflateRaw } from 'node:zlib';
import { type ByteSource, ReadProblem } from '../bytes/byte-source.js';
import { isFilledWith, u16At, u32At } from '../bytes/cursor.js';
import { limits } from '../bytes/limits.js';
import { SparseSource } from './sparse-source.js';

/** Something odd about how an image is packed. `at` is the byte offset in the packed file. */
export interface ContainerProblem {
  readonly code: string;
  readonly text: string;
  readonly at: number;
}

/** What came out of a gzip file. */
export interface Unpacked {
  /**
   * The image. From the first piece whose checksum did not hold, every read fails with the cause `damaged` (or
   * `over-limit`); `size` is then what had come so far.
   */
  readonly source: ByteSource;
  /** Size of the image in bytes; null when the file is broken, since the end was then not seen. */
  readonly bytes: number | null;
  /** True when checksum and length of every piece held. */
  readonly crcHeld: boolean;
  readonly problems: readonly ContainerProblem[];
}

/** Called now and then with how far the work is, in bytes of the packed file. */
export type Progress = (done: number, total: number) => void;

/** Bytes read from the packed file, and handed out by zlib, at a time. */
const stretchBytes = 256 * 1024;
/** Longest header of a member that is read: names and comments are rarely over a hundred bytes. */
const headerBytes = 128 * 1024;

/** True for the two bytes with which every gzip member begins (RFC 1952 section 2.3.1). */
export const isGzip = (head: Uint8Array): boolean => head[0] === 0x1f && head[1] === 0x8b;

/** A member that cannot be trusted: what is wrong, and where in the packed file. */
class Broken {
  constructor(
    readonly code: string,
    readonly text: string,
    readonly at: number,
    readonly cause: 'damaged' | 'over-limit' | 'read-error' = 'damaged',
  ) {}
}

/**
 * Unpacks a gzip file (RFC 1952) of one member or several into memory, keeping only pages that are not zero. zlib
 * hands out bytes long before the checksum that vouches for them has come, and its own gzip reader hides what
 * follows the last member; so headers and trailers are read here, and a member whose checksum does not hold is
 * closed as a whole.
 * @param most limits to use instead of the named ones; tests make them small.
 */
export async function unpackGzip(
  packed: ByteSource,
  progress: Progress = () => {},
  most: { unpackedBytes: number; unpackedSize: number; gzipMembers: number } = limits,
): Promise<Unpacked> {
  const image = new SparseSource(most.unpackedBytes);
  const problems: ContainerProblem[] = [];
  const stop = (broken: Broken, from: number): Unpacked => {
    problems.push({ code: broken.code, text: broken.text, at: broken.at });
    image.finish();
    // The end was not seen: what lies past the bytes that came is as unknown as they are.
    image.close({ from, to: Number.POSITIVE_INFINITY, cause: broken.cause, detail: broken.text });
    return { source: image, bytes: null, crcHeld: false, problems };
  };

  let at = 0;
  for (let member = 0; at < packed.size; member++) {
    const from = image.size;
    if (member > 0) {
      const head = packed.read(at, Math.min(2, packed.size - at));
      if (head instanceof ReadProblem) return stop(unreadable(head), from);
      if (!isGzip(head)) {
        const zeroPadded = isZeroToEnd(packed, at);
        if (zeroPadded instanceof ReadProblem) return stop(unreadable(zeroPadded), from);
        if (!zeroPadded)
          problems.push({
            code: 'trailing-bytes',
            text: `${packed.size - at} bytes follow the packed image and do not belong to it`,
            at,
          });
        break;
      }
    }
    if (member >= most.gzipMembers)
      return stop(
        new Broken('too-many-members', `packed in more than ${most.gzipMembers} pieces`, at, 'over-limit'),
        from,
      );
    const end = await unpackMember(packed, at, image, most.unpackedSize, progress);
    if (end instanceof Broken) return stop(end, from);
    at = end;
  }
  image.finish();
  progress(packed.size, packed.size);
  return { source: image, bytes: image.size, crcHeld: true, problems };
}

const unreadable = (problem: ReadProblem): Broken =>
  new Broken('unreadable', problem.detail ?? 'the packed file could not be read', problem.at, 'read-error');

/** Unpacks one member; its end in the packed file, or why it cannot be trusted. */
async function unpackMember(
  packed: ByteSource,
  start: number,
  image: SparseSource,
  mostSize: number,
  progress: Progress,
): Promise<number | Broken> {
  const dataStart = headerEnd(packed, start);
  if (dataStart instanceof Broken) return dataStart;
  const before = image.size;
  let crc = 0;
  let tooBig = false;
  const ended = await inflate(
    packed,
    dataStart,
    (bytes) => {
      if (image.size + bytes.length > mostSize) {
        tooBig = true;
        return false;
      }
      crc = crc32(bytes, crc);
      image.append(bytes);
      return true;
    },
    progress,
  );
  if (tooBig) return new Broken('over-size', `unpacks to more than ${mostSize} bytes`, start, 'over-limit');
  if (ended instanceof Broken) return ended;

  const trailer = packed.size - ended < 8 ? null : packed.read(ended, 8);
  if (trailer === null)
    return new Broken('truncated', 'the packed file ends before its checksum', packed.size);
  if (trailer instanceof ReadProblem) return unreadable(trailer);
  // Compared with what came, so a file cut off and one put together wrongly are told apart by their place.
  if (u32At(trailer, 0) !== crc)
    return new Broken(
      'checksum',
      'the checksum of the packed image does not hold: the file is damaged',
      ended,
    );
  if (u32At(trailer, 4) !== (image.size - before) % 2 ** 32)
    return new Broken(
      'length',
      'the packed image is not as long as the file says: the file is damaged',
      ended + 4,
    );
  return ended + 8;
}

/** First byte after the header of a member (RFC 1952 section 2.3). */
function headerEnd(packed: ByteSource, start: number): number | Broken {
  const head = packed.read(start, Math.min(headerBytes, packed.size - start));
  if (head instanceof ReadProblem) return unreadable(head);
  const cut = (): Broken =>
    new Broken('truncated', 'the packed file ends inside its header', start + head.length);
  if (head.length < 10) return cut();
  const flags = head[3] ?? 0;
  if (!isGzip(head) || head[2] !== 8 || (flags & 0xe0) !== 0)
    return new Broken('header', 'the header of the packed file makes no sense', start);
  let at = 10;
  if (flags & 0x04) {
    if (at + 2 > head.length) return cut();
    at += 2 + u16At(head, at);
  }
  for (const flag of [0x08, 0x10]) {
    // File name and comment, each up to a zero byte.
    if (!(flags & flag)) continue;
    const zero = at < head.length ? head.indexOf(0, at) : -1;
    if (zero < 0) return cut();
    at = zero + 1;
  }
  if (flags & 0x02) {
    if (at + 2 > head.length) return cut();
    if (u16At(head, at) !== (crc32(head.subarray(0, at)) & 0xffff))
      return new Broken('header', 'the checksum of the header does not hold', start);
    at += 2;
  }
  return at > head.length ? cut() : start + at;
}

/**
 * Inflates from byte `start` until the deflate stream ends by itself (RFC 1951), handing each stretch to `take`,
 * which answers false to stop. The first byte after the stream, or why there is none.
 */
function inflate(
  packed: ByteSource,
  start: number,
  take: (bytes: Uint8Array) => boolean,
  progress: Progress,
): Promise<number | Broken> {
  return new Promise((resolve) => {
    const stream: InflateRaw = createInflateRaw({ chunkSize: stretchBytes });
    let at = start;
    let settled = false;
    const settle = (result: number | Broken): void => {
      if (settled) return;
      settled = true;
      stream.destroy();
      resolve(result);
    };
    const feed = (): void => {
      if (settled) return;
      progress(at, packed.size);
      const length = Math.min(stretchBytes, packed.size - at);
      if (length === 0) {
        stream.end();
        return;
      }
      const bytes = packed.read(at, length);
      if (bytes instanceof ReadProblem) {
        settle(unreadable(bytes));
        return;
      }
      at += length;
      stream.write(bytes, (error) => {
        if (!error) feed();
      });
    };
    stream.on('data', (bytes: Uint8Array) => {
      if (!settled && !take(bytes)) settle(new Broken('stopped', 'unpacking was stopped', at));
    });
    // `bytesWritten` counts what zlib used up, not what it was given.
    stream.on('end', () => settle(start + stream.bytesWritten));
    stream.on('error', (error) => {
      const place = start + stream.bytesWritten;
      settle(
        place >= packed.size
          ? new Broken(
              'truncated',
              'the packed file ends in the middle: it was not copied whole',
              packed.size,
            )
          : new Broken('data', `the packed data are damaged (${error.message})`, place),
      );
    });
    feed();
  });
}

/** True when only zeros follow: padding that tapes and some tools leave. */
function isZeroToEnd(packed: ByteSource, from: number): boolean | ReadProblem {
  for (let at = from; at < packed.size; at += stretchBytes) {
    const bytes = packed.read(at, Math.min(stretchBytes, packed.size - at));
    if (bytes instanceof ReadProblem) return bytes;
    if (!isFilledWith(bytes, 0)) return false;
  }
  return true;
}
