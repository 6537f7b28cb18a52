import { closeSync, openSync, readSync } from 'node:fs';
import { type ByteSource, isInside, ReadProblem } from '../bytes/byte-source.js';
import { errorText, readCauseOf } from './read-cause.js';

/** How a device is read. Sizes are in bytes. */
export interface DeviceShape {
  readonly bytes: number;
  /** Reads begin and end at multiples of this. */
  readonly sectorBytes: number;
}

/** What reads a device: tests put a failing one in its place. Answers with how many bytes came. */
export type DeviceRead = (buffer: Uint8Array, at: number) => number;

/** Bytes that are fetched at once at least, and kept: readers come back to the same tables again and again. */
const blockBytes = 64 * 1024;
/** Blocks that are kept. */
const mostBlocks = 128;
/** Reads whose bytes are compared at the end with what the device gives then. */
const mostWitnesses = 64;

/**
 * Bytes of a block device, opened for reading only. A raw device takes whole sectors at sector bounds only, so that
 * what is fetched is wider than what was asked.
 */
export class DeviceSource implements ByteSource {
  readonly size: number;
  private readonly block: number;
  private readonly sectorBytes: number;
  private readonly kept = new Map<number, Uint8Array>();
  /** Blocks in the order in which they were first read, with what they held. */
  private readonly witnesses = new Map<number, Uint8Array>();

  constructor(
    private readonly fetch: DeviceRead,
    { bytes, sectorBytes }: DeviceShape,
    private readonly release: () => void = () => {},
  ) {
    this.size = bytes;
    this.sectorBytes = sectorBytes;
    this.block = Math.max(blockBytes, sectorBytes);
  }

  /** Opens a device. Throws the system's error (`EACCES`, `ENXIO`) when that fails. */
  static open(path: string, shape: DeviceShape): DeviceSource {
    const descriptor = openSync(path, 'r');
    return new DeviceSource(
      (buffer, at) => readSync(descriptor, buffer, 0, buffer.length, at),
      shape,
      () => closeSync(descriptor),
    );
  }

  read(at: number, length: number): Uint8Array | ReadProblem {
    if (!isInside(at, length, this.size)) return new ReadProblem(at, length, 'past-end');
    const first = Math.floor(at / this.block);
    const last = Math.floor((at + Math.max(length, 1) - 1) / this.block);
    if (first === last) {
      const block = this.blockAt(first);
      const from = at - first * this.block;
      return block instanceof ReadProblem
        ? this.withoutNeighbours(at, length, block)
        : block.subarray(from, from + length);
    }
    const bytes = new Uint8Array(length);
    for (let index = first; index <= last; index++) {
      const from = Math.max(at, index * this.block);
      const to = Math.min(at + length, (index + 1) * this.block);
      const block = this.blockAt(index);
      const piece =
        block instanceof ReadProblem
          ? this.withoutNeighbours(from, to - from, block)
          : block.subarray(from - index * this.block, to - index * this.block);
      if (piece instanceof ReadProblem) return new ReadProblem(at, length, piece.cause, piece.detail);
      bytes.set(piece, from - at);
    }
    return bytes;
  }

  /** True when the places that were read first do not hold what they held then, or cannot be read any more. */
  changed(): boolean {
    for (const [index, before] of this.witnesses) {
      const now = this.fetched(index * this.block, before.length);
      if (now instanceof ReadProblem || Buffer.compare(now, before) !== 0) return true;
    }
    return false;
  }

  close(): void {
    this.release();
  }

  /** One bad sector must not take its good neighbours with it: the whole sectors that were asked for, alone. */
  private withoutNeighbours(at: number, length: number, problem: ReadProblem): Uint8Array | ReadProblem {
    if (length === 0) return new Uint8Array(0);
    const unit = this.sectorBytes;
    const from = Math.floor(at / unit) * unit;
    const to = Math.min(this.size, Math.ceil((at + length) / unit) * unit);
    if (to - from >= this.block) return new ReadProblem(at, length, problem.cause, problem.detail);
    const got = this.fetched(from, to - from);
    return got instanceof ReadProblem
      ? new ReadProblem(at, length, got.cause, got.detail)
      : got.subarray(at - from, at - from + length);
  }

  private blockAt(index: number): Uint8Array | ReadProblem {
    const known = this.kept.get(index);
    if (known) return known;
    const at = index * this.block;
    const got = this.fetched(at, Math.min(this.block, this.size - at));
    if (got instanceof ReadProblem) return got;
    if (this.kept.size >= mostBlocks) this.kept.delete(this.kept.keys().next().value as number);
    this.kept.set(index, got);
    if (this.witnesses.size < mostWitnesses && !this.witnesses.has(index)) this.witnesses.set(index, got);
    return got;
  }

  /** Bytes straight from the device; both ends are sector bounds. */
  private fetched(at: number, length: number): Uint8Array | ReadProblem {
    const bytes = new Uint8Array(length);
    for (let got = 0; got < length; ) {
      let count: number;
      try {
        count = this.fetch(got === 0 ? bytes : bytes.subarray(got), at + got);
      } catch (error) {
        return new ReadProblem(at, length, readCauseOf(error), trouble(error));
      }
      if (count === 0)
        return new ReadProblem(at, length, 'read-error', `the device gives nothing from byte ${at + got} on`);
      got += count;
    }
    return bytes;
  }
}

/** The system's words for an error of a device, with what they mean when it went away. */
function trouble(error: unknown): string {
  const text = errorText(error);
  return /^(?:ENXIO|ENODEV|ENOMEDIUM)/.test(text) ? `the card is not there any more: ${text}` : text;
}
