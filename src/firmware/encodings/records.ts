import type { ProblemList } from '../problem.js';
import type { RecordDetails } from './encoding.js';

/**
 * What Intel HEX and S-records have in common: lines of hexadecimal digit pairs after a mark. Bytes are read in
 * place, since a text of such a file would take several times its size.
 */

/** Value of an ASCII hexadecimal digit in either case, or -1. */
export function digitValue(byte: number | undefined): number {
  if (byte === undefined) return -1;
  if (byte >= 0x30 && byte <= 0x39) return byte - 0x30;
  const upper = byte & 0xdf;
  return upper >= 0x41 && upper <= 0x46 ? upper - 0x37 : -1;
}

/** One line that is not blank, without its end. */
export interface Line {
  /** Offset of its first byte that is not white space. */
  readonly from: number;
  /** Offset after its last byte that is not white space. */
  readonly to: number;
}

const isBlank = (byte: number): boolean =>
  byte === 0x20 || byte === 0x09 || byte === 0x0a || byte === 0x0d || byte === 0x0b || byte === 0x0c;

/** Walks over lines that end with LF, CR LF or CR, and notes which of them it met. */
export class LineWalk {
  private lf = 0;
  private crlf = 0;
  private cr = 0;
  constructor(
    private readonly bytes: Uint8Array,
    private at = 0,
  ) {}

  /** The next line that is not blank, or null at the end. */
  next(): Line | null {
    const { bytes } = this;
    while (this.at < bytes.length) {
      let from = this.at;
      let to = from;
      while (to < bytes.length && bytes[to] !== 0x0a && bytes[to] !== 0x0d) to += 1;
      this.at = to + 1;
      if (bytes[to] === 0x0d) {
        if (bytes[to + 1] === 0x0a) {
          this.at += 1;
          this.crlf += 1;
        } else this.cr += 1;
      } else if (to < bytes.length) this.lf += 1;
      while (from < to && isBlank(bytes[from]!)) from += 1;
      while (to > from && isBlank(bytes[to - 1]!)) to -= 1;
      if (from < to) return { from, to };
    }
    return null;
  }

  get lineEnds(): RecordDetails['lineEnds'] {
    const kinds = [this.lf && 'lf', this.crlf && 'crlf', this.cr && 'cr'].filter(Boolean);
    if (kinds.length > 1) return 'mixed';
    return (kinds[0] as RecordDetails['lineEnds'] | undefined) ?? 'none';
  }
}

/** Longest record: 255 counted bytes and what stands before them. */
const scratch = 4 + 255 + 4;

/** Turns the digit pairs of one line into bytes, in an array that is used again for the next line. */
export class PairReader {
  readonly bytes = new Uint8Array(scratch);
  length = 0;
  /** Reads `[from, to)`; false, with a problem, when something there is not a pair of digits or the line is too long. */
  read(file: Uint8Array, from: number, to: number, problems: ProblemList): boolean {
    this.length = 0;
    if ((to - from) / 2 > scratch) {
      problems.add('record-length', 'the line is longer than any record', from);
      return false;
    }
    for (let at = from; at < to; at += 2) {
      const high = digitValue(file[at]);
      const low = at + 1 < to ? digitValue(file[at + 1]) : -1;
      if (high < 0 || low < 0) {
        problems.add('not-hexadecimal', 'a record holds something else than pairs of hexadecimal digits', at);
        return false;
      }
      this.bytes[this.length] = high * 16 + low;
      this.length += 1;
    }
    return true;
  }
  /** Low eight bits of the sum of bytes `[from, to)`. */
  sum(from: number, to: number): number {
    let sum = 0;
    for (let i = from; i < to; i++) sum += this.bytes[i]!;
    return sum % 256;
  }
  /** Big-endian number of `length` bytes, at most 4. */
  number(at: number, length: number): number {
    let value = 0;
    for (let i = 0; i < length; i++) value = value * 256 + this.bytes[at + i]!;
    return value;
  }
}

/** Offset of the first byte that is not white space and not a UTF-8 byte order mark. */
export function firstPrinted(bytes: Uint8Array): number {
  let at = hasByteOrderMark(bytes) ? 3 : 0;
  while (at < bytes.length && isBlank(bytes[at]!)) at += 1;
  return at;
}

/** True when the file begins with a UTF-8 byte order mark. */
export const hasByteOrderMark = (bytes: Uint8Array): boolean =>
  bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf;

/** Number of hexadecimal digits that stand together from an offset on, counted up to `most`. */
export function digitRun(bytes: Uint8Array, at: number, most: number): number {
  let run = 0;
  while (run < most && digitValue(bytes[at + run]) >= 0) run += 1;
  return run;
}
