/**
 * Little-endian fields out of an exact slice. Every field is range-checked against the slice itself: a plain
 * `DataView` over a view's buffer would read the neighbours.
 */
export class Cursor {
  private readonly view: DataView;
  constructor(
    readonly bytes: Uint8Array,
    /** Where the next field starts. */
    public at = 0,
  ) {
    this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }
  u8(): number {
    const value = this.view.getUint8(this.at);
    this.at += 1;
    return value;
  }
  u16(): number {
    const value = this.view.getUint16(this.at, true);
    this.at += 2;
    return value;
  }
  u32(): number {
    const value = this.view.getUint32(this.at, true);
    this.at += 4;
    return value;
  }
  /** 64 bits as a number; above 2^53 - 1 it is not exact, which every caller's range check refuses anyway. */
  u64(): number {
    const low = this.u32();
    return low + this.u32() * 2 ** 32;
  }
  /** The next `length` bytes, as a view. */
  raw(length: number): Uint8Array {
    if (this.at + length > this.bytes.length) throw new RangeError(`field of ${length} bytes past the slice`);
    const value = this.bytes.subarray(this.at, this.at + length);
    this.at += length;
    return value;
  }
  /** The next `length` bytes as Latin-1 text, byte for byte. */
  latin1(length: number): string {
    return latin1(this.raw(length));
  }
  skip(length: number): this {
    this.at += length;
    return this;
  }
  seek(at: number): this {
    this.at = at;
    return this;
  }
}

/** One character a byte: U+0000 to U+00FF. */
export function latin1(bytes: Uint8Array): string {
  let text = '';
  for (const byte of bytes) text += String.fromCharCode(byte);
  return text;
}

export const u16At = (bytes: Uint8Array, at: number): number =>
  (bytes[at] ?? 0) | ((bytes[at + 1] ?? 0) << 8);
export const u32At = (bytes: Uint8Array, at: number): number =>
  (u16At(bytes, at) | (u16At(bytes, at + 2) << 16)) >>> 0;

/** True when the ASCII text stands at byte `at`. */
export function hasAscii(bytes: Uint8Array, at: number, text: string): boolean {
  if (at < 0 || at + text.length > bytes.length) return false;
  for (let i = 0; i < text.length; i++) if (bytes[at + i] !== text.charCodeAt(i)) return false;
  return true;
}

/** True when every byte has this value. */
export function isFilledWith(bytes: Uint8Array, value: number): boolean {
  // By index: iterating over a large typed array costs ten times as much.
  for (let i = 0; i < bytes.length; i++) if (bytes[i] !== value) return false;
  return true;
}

/** UTF-16 (little-endian) text up to its first zero unit. */
export function utf16Text(bytes: Uint8Array): string {
  let text = '';
  for (let i = 0; i + 1 < bytes.length; i += 2) {
    const unit = (bytes[i] ?? 0) + (bytes[i + 1] ?? 0) * 256;
    if (unit === 0) break;
    text += String.fromCharCode(unit);
  }
  return text;
}

/** True for 1, 2, 4, 8 …, as far as 32 bits go. */
export const isPowerOfTwo = (value: number): boolean => value > 0 && (value & (value - 1)) === 0;
