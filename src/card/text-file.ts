/**
 * Small text files that a boot loader or program reads: how they are stored, how their lines end, and what in them
 * breaks a plain grammar. The Unicode Standard (section 23.8 for the byte-order mark, table 3-7 for well-formed UTF-8)
 * is the source for the encodings.
 */
import { limits } from '../bytes/limits.js';

export type TextEncodingName = 'ascii' | 'utf-8' | 'utf-16' | 'other';
export type ByteOrderMark = 'none' | 'utf-8' | 'utf-16-le' | 'utf-16-be';
export type LineEnds = 'none' | 'lf' | 'crlf' | 'cr' | 'mixed';
export type Grammar = 'lines' | 'key-value';

/** How a text file is stored. Counts are of bytes; in UTF-16 the line ends are those of its 16-bit units. */
export interface TextFile {
  /** Of what follows the byte-order mark; `ascii` for an empty file. */
  readonly encoding: TextEncodingName;
  readonly mark: ByteOrderMark;
  /** Bytes of value 0. */
  readonly zeroBytes: number;
  /** Line ends of each kind: line feed alone, carriage return and line feed, carriage return alone. */
  readonly lf: number;
  readonly crlf: number;
  readonly cr: number;
}

/** What breaks a grammar, in a plain phrase; `line` counts from 1. */
export interface GrammarFault {
  readonly line: number;
  readonly text: string;
}

const lineFeed = 0x0a;
const carriageReturn = 0x0d;
const space = 0x20;
const tab = 0x09;

/** Looks through a whole text file once. Takes any bytes. */
export function readTextFile(bytes: Uint8Array): TextFile {
  const { mark, length } = markOf(bytes);
  let zeroBytes = 0;
  let oddZeros = 0;
  for (let at = 0; at < bytes.length; at++)
    if (bytes[at] === 0) {
      zeroBytes++;
      oddZeros += at % 2;
    }
  // Plain letters in UTF-16 have a zero in every second byte, and never one in the others.
  const bare =
    mark === 'none' && bytes.length % 2 === 0 && zeroBytes > 0 && zeroBytes * 2 >= bytes.length * 0.9;
  const guessed = !bare ? null : oddZeros === zeroBytes ? 'le' : oddZeros === 0 ? 'be' : null;
  const wide = mark === 'utf-16-le' ? 'le' : mark === 'utf-16-be' ? 'be' : guessed;
  return {
    mark,
    zeroBytes,
    encoding: wide === null ? byteEncoding(bytes, length) : 'utf-16',
    ...countLineEnds(bytes, length, wide),
  };
}

/** The line ends of a file in one word: `mixed` when two kinds or more occur. */
export function lineEndsOf({ lf, crlf, cr }: TextFile): LineEnds {
  const kinds = [lf > 0 ? 'lf' : null, crlf > 0 ? 'crlf' : null, cr > 0 ? 'cr' : null].filter(
    (kind) => kind !== null,
  );
  return kinds.length > 1 ? 'mixed' : ((kinds[0] as LineEnds | undefined) ?? 'none');
}

function markOf(bytes: Uint8Array): { mark: ByteOrderMark; length: number } {
  const [first, second, third] = bytes;
  if (first === 0xef && second === 0xbb && third === 0xbf) return { mark: 'utf-8', length: 3 };
  if (first === 0xff && second === 0xfe) return { mark: 'utf-16-le', length: 2 };
  if (first === 0xfe && second === 0xff) return { mark: 'utf-16-be', length: 2 };
  return { mark: 'none', length: 0 };
}

function byteEncoding(bytes: Uint8Array, from: number): TextEncodingName {
  let at = from;
  let isAscii = true;
  while (at < bytes.length) {
    const first = bytes[at] as number;
    if (first < 0x80) {
      at++;
      continue;
    }
    isAscii = false;
    const length = sequenceLength(first, bytes[at + 1] ?? 0);
    if (length === 0) return 'other';
    for (let i = 1; i < length; i++) if (((bytes[at + i] ?? 0) & 0xc0) !== 0x80) return 'other';
    at += length;
  }
  return isAscii ? 'ascii' : 'utf-8';
}

/** Bytes of a well-formed sequence that starts with these two (Unicode Standard, table 3-7); 0 when there is none. */
function sequenceLength(first: number, second: number): number {
  if (first >= 0xc2 && first <= 0xdf) return 2;
  if (first === 0xe0) return second >= 0xa0 ? 3 : 0;
  if (first === 0xed) return second <= 0x9f ? 3 : 0;
  if (first >= 0xe1 && first <= 0xef) return 3;
  if (first === 0xf0) return second >= 0x90 ? 4 : 0;
  if (first >= 0xf1 && first <= 0xf3) return 4;
  if (first === 0xf4) return second <= 0x8f ? 4 : 0;
  return 0;
}

function countLineEnds(
  bytes: Uint8Array,
  from: number,
  wide: 'le' | 'be' | null,
): { lf: number; crlf: number; cr: number } {
  const counts = { lf: 0, crlf: 0, cr: 0 };
  const step = wide === null ? 1 : 2;
  let before = -1;
  for (let at = from; at + step <= bytes.length; at += step) {
    const low = bytes[wide === 'be' ? at + 1 : at] as number;
    const high = wide === null ? 0 : (bytes[wide === 'be' ? at : at + 1] as number);
    const unit = high === 0 ? low : -1;
    if (unit === lineFeed) {
      if (before === carriageReturn) counts.crlf++;
      else counts.lf++;
    } else if (before === carriageReturn) counts.cr++;
    before = unit;
  }
  if (before === carriageReturn) counts.cr++;
  return counts;
}

/**
 * What in a text breaks a grammar, at most `limits.listed` faults, in order. Empty lines break neither.
 * - `lines`: every line is plain: no tabs or other control characters, no space at its start or end.
 * - `key-value`: every line is `key=value` besides: a key of small letters, digits, `_`, `.` and `-`, no space next to
 *   the `=`, no comment.
 */
export function grammarFaults(bytes: Uint8Array, grammar: Grammar): GrammarFault[] {
  const faults: GrammarFault[] = [];
  let start = markOf(bytes).length;
  for (let line = 1; start < bytes.length && faults.length < limits.listed; line++) {
    let end = start;
    while (end < bytes.length && bytes[end] !== lineFeed && bytes[end] !== carriageReturn) end++;
    if (end > start) {
      const text =
        plainFault(bytes, start, end) ?? (grammar === 'lines' ? null : keyFault(bytes, start, end));
      if (text !== null) faults.push({ line, text });
    }
    start = end + (bytes[end] === carriageReturn && bytes[end + 1] === lineFeed ? 2 : 1);
  }
  return faults;
}

function plainFault(bytes: Uint8Array, start: number, end: number): string | null {
  for (let at = start; at < end; at++) {
    const byte = bytes[at] as number;
    if (byte === tab) return 'it holds a tab';
    if (byte < space || byte === 0x7f) return 'it holds a control character';
  }
  if (bytes[start] === space) return 'it starts with a space';
  return bytes[end - 1] === space ? 'it ends with a space' : null;
}

function keyFault(bytes: Uint8Array, start: number, end: number): string | null {
  const first = bytes[start];
  // A number sign, a semicolon, two slashes: the usual starts of a comment.
  if (first === 0x23 || first === 0x3b || (first === 0x2f && bytes[start + 1] === 0x2f))
    return 'it is a comment';
  let equals = start;
  while (equals < end && bytes[equals] !== 0x3d) equals++;
  if (equals === end) return 'it has no = sign';
  if (equals === start) return 'nothing stands before the = sign';
  if (bytes[equals - 1] === space || bytes[equals + 1] === space) return 'a space stands next to the = sign';
  for (let at = start; at < equals; at++) {
    const byte = bytes[at] as number;
    if (byte >= 0x41 && byte <= 0x5a) return 'a capital letter stands before the = sign';
    const isPlain =
      (byte >= 0x61 && byte <= 0x7a) ||
      (byte >= 0x30 && byte <= 0x39) ||
      byte === 0x5f ||
      byte === 0x2e ||
      byte === 0x2d;
    if (!isPlain) return 'what stands before the = sign is not only letters and digits';
  }
  return null;
}
