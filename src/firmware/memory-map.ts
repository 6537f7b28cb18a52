import { limits } from '../bytes/limits.js';
import { hex, type ProblemList } from './problem.js';

/** First address that a 32-bit processor cannot name. */
export const addressSpace = 2 ** 32;

/** Bytes that lie together in memory. */
export interface Segment {
  /** Address of the first byte. */
  readonly start: number;
  /** The bytes; never empty. May be a view of the update file: callers must not change it. */
  readonly bytes: Uint8Array;
}

/** Addresses from `start` up to but not including `end`. */
export interface AddressRange {
  readonly start: number;
  readonly end: number;
}

/**
 * The program as it will stand in memory: segments in ascending order that neither overlap nor touch. Addresses are
 * plain numbers from 0 to 2^32. Gaps hold nothing: a far-away configuration word costs its own bytes only.
 */
export class MemoryMap {
  constructor(
    /** Ascending, apart from each other by at least one byte. */
    readonly segments: readonly Segment[],
  ) {}

  /** Lowest address, or null when there is no program at all. */
  get start(): number | null {
    return this.segments[0]?.start ?? null;
  }

  /** Address after the last byte, or null when there is no program at all. */
  get end(): number | null {
    const last = this.segments.at(-1);
    return last ? last.start + last.bytes.length : null;
  }

  /** Bytes of program, gaps left out. */
  get byteCount(): number {
    let count = 0;
    for (const segment of this.segments) count += segment.bytes.length;
    return count;
  }

  /** The stretches that hold bytes. */
  get ranges(): AddressRange[] {
    return this.segments.map(({ start, bytes }) => ({ start, end: start + bytes.length }));
  }

  /** The segment that holds an address, or null. */
  segmentAt(address: number): Segment | null {
    let low = 0;
    let high = this.segments.length - 1;
    while (low <= high) {
      const middle = Math.floor((low + high) / 2);
      const segment = this.segments[middle]!;
      if (address < segment.start) high = middle - 1;
      else if (address >= segment.start + segment.bytes.length) low = middle + 1;
      else return segment;
    }
    return null;
  }

  /** Exactly `length` bytes from an address, or null when one of them is not there. */
  read(address: number, length: number): Uint8Array | null {
    const segment = this.segmentAt(address);
    if (!segment || length < 0) return null;
    const from = address - segment.start;
    return from + length <= segment.bytes.length ? segment.bytes.subarray(from, from + length) : null;
  }

  /** The little-endian 32-bit word at an address, or null when one of its bytes is not there. */
  word(address: number): number | null {
    const bytes = this.read(address, 4);
    return bytes ? bytes[0]! + bytes[1]! * 2 ** 8 + bytes[2]! * 2 ** 16 + bytes[3]! * 2 ** 24 : null;
  }

  /** The stretches of program that lie outside `[start, end)`. Empty when all of it lies inside. */
  outside(start: number, end: number): AddressRange[] {
    const found: AddressRange[] = [];
    for (const range of this.ranges) {
      if (range.start < start) found.push({ start: range.start, end: Math.min(range.end, start) });
      if (range.end > end) found.push({ start: Math.max(range.start, end), end: range.end });
    }
    return found;
  }

  /** The stretches of program that lie inside `[start, end)`. */
  inside(start: number, end: number): AddressRange[] {
    const found: AddressRange[] = [];
    for (const range of this.ranges) {
      const from = Math.max(range.start, start);
      const to = Math.min(range.end, end);
      if (from < to) found.push({ start: from, end: to });
    }
    return found;
  }

  /** The part of the program inside `[start, end)`, with unchanged addresses. */
  slice(start: number, end: number): MemoryMap {
    const parts: Segment[] = [];
    for (const segment of this.segments) {
      const from = Math.max(segment.start, start);
      const to = Math.min(segment.start + segment.bytes.length, end);
      if (from < to)
        parts.push({ start: from, bytes: segment.bytes.subarray(from - segment.start, to - segment.start) });
    }
    return new MemoryMap(parts);
  }

  /** Address of the first place that holds these bytes, or null. An empty pattern is nowhere. */
  find(pattern: Uint8Array): number | null {
    const first = pattern[0];
    if (first === undefined) return null;
    for (const { start, bytes } of this.segments)
      for (let at = bytes.indexOf(first); at !== -1; at = bytes.indexOf(first, at + 1)) {
        let same = 1;
        while (same < pattern.length && bytes[at + same] === pattern[same]) same += 1;
        if (same === pattern.length) return start + at;
      }
    return null;
  }

  /** True when both hold the same bytes at the same addresses. */
  equals(other: MemoryMap): boolean {
    return (
      this.segments.length === other.segments.length &&
      this.segments.every((segment, i) => {
        const mate = other.segments[i]!;
        return (
          segment.start === mate.start &&
          segment.bytes.length === mate.bytes.length &&
          segment.bytes.every((byte, at) => byte === mate.bytes[at])
        );
      })
    );
  }
}

/** Bytes on their way into a map: `bytes.length` may be larger than `length` while a piece still grows. */
interface Piece {
  start: number;
  bytes: Uint8Array;
  length: number;
  /** True when `bytes` belongs to the builder and may be written to. */
  own: boolean;
  /** Byte offset in the update file. */
  at: number;
}

/**
 * Gathers pieces of program in the order of the file and puts them in order of address. Where two pieces overlap the
 * later one stands, as after a loader that writes record by record; different bytes there are a problem.
 */
export class MemoryMapBuilder {
  private readonly pieces: Piece[] = [];
  private total = 0;
  /** True once a limit kept bytes out: the map is then not the whole program. */
  overLimit = false;

  constructor(private readonly problems: ProblemList) {}

  /**
   * Adds bytes at an address. They are copied when they continue the piece before (records and blocks are small),
   * else kept as a view unless `copy` says that the caller will use the array again.
   */
  add(start: number, bytes: Uint8Array, at: number, copy = false): void {
    if (bytes.length === 0 || this.overLimit) return;
    if (!Number.isSafeInteger(start) || start < 0 || start + bytes.length > addressSpace) {
      this.problems.add(
        'address-past-32-bits',
        `${bytes.length} bytes at ${hex(start)} end past 32 bits`,
        at,
      );
      return;
    }
    this.total += bytes.length;
    const last = this.pieces.at(-1);
    const continues = last !== undefined && last.start + last.length === start;
    if (this.total > limits.programBytes || (!continues && this.pieces.length >= limits.programPieces)) {
      this.overLimit = true;
      this.problems.add(
        'over-limit',
        'more program, or more separate pieces of it, than this tool reads',
        at,
      );
      return;
    }
    if (!continues) {
      this.pieces.push({ start, bytes: copy ? bytes.slice() : bytes, length: bytes.length, own: copy, at });
      return;
    }
    const length = last.length + bytes.length;
    if (!last.own || last.bytes.length < length) {
      const grown = new Uint8Array(Math.max(length, Math.min(2 * length, limits.programBytes)));
      grown.set(last.bytes.subarray(0, last.length));
      last.bytes = grown;
      last.own = true;
    }
    last.bytes.set(bytes, last.length);
    last.length = length;
  }

  /** The finished map. Overlaps with different bytes are added to the problems, at the later piece. */
  build(): MemoryMap {
    const ordered = this.pieces
      .map((piece, turn) => ({ piece, turn }))
      .sort((a, b) => a.piece.start - b.piece.start || a.turn - b.turn);
    const segments: Segment[] = [];
    for (let i = 0; i < ordered.length; ) {
      const first = ordered[i]!.piece;
      let end = first.start + first.length;
      let overlaps = false;
      let next = i + 1;
      for (; next < ordered.length && ordered[next]!.piece.start <= end; next++) {
        const piece = ordered[next]!.piece;
        if (piece.start < end) overlaps = true;
        end = Math.max(end, piece.start + piece.length);
      }
      const group = ordered.slice(i, next);
      if (group.length === 1)
        segments.push({ start: first.start, bytes: first.bytes.subarray(0, first.length) });
      else {
        group.sort((a, b) => a.turn - b.turn);
        segments.push({ start: first.start, bytes: this.join(group, first.start, end, overlaps) });
      }
      i = next;
    }
    return new MemoryMap(segments);
  }

  /** Writes pieces that touch or overlap over each other in the order of the file. */
  private join(group: { piece: Piece }[], start: number, end: number, overlaps: boolean): Uint8Array {
    const joined = new Uint8Array(end - start);
    const written = overlaps ? new Uint8Array(end - start) : null;
    for (const { piece } of group) {
      const from = piece.start - start;
      if (written) {
        for (let k = 0; k < piece.length; k++)
          if (written[from + k] === 1 && joined[from + k] !== piece.bytes[k]) {
            this.problems.add(
              'overlap',
              `address ${hex(piece.start + k)} is given twice, with different bytes`,
              piece.at,
            );
            break;
          }
        written.fill(1, from, from + piece.length);
      }
      joined.set(piece.bytes.subarray(0, piece.length), from);
    }
    return joined;
  }
}

/** A map of one segment, or of none when there are no bytes. */
export function singleSegment(start: number, bytes: Uint8Array): MemoryMap {
  return new MemoryMap(bytes.length === 0 ? [] : [{ start, bytes }]);
}

/** The next multiple of `step` at or above a number: where a field or page begins after it. */
export const alignUp = (value: number, step: number): number => Math.ceil(value / step) * step;

/** True when a number is a multiple of `step`. */
export const isAligned = (value: number, step: number): boolean => value % step === 0;
