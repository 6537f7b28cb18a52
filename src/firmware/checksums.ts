/**
 * Checksums that loaders and containers use. CRC parameters and their names follow the catalogue of parametrised CRC
 * algorithms (https://reveng.sourceforge.io/crc-catalogue/all.htm); its check values are in the tests.
 */

/** Parameters of one CRC in the catalogue's terms. */
export interface CrcParameters {
  readonly width: 16 | 32;
  /** Polynomial without its highest term, most significant bit first. */
  readonly poly: number;
  readonly init: number;
  /** Both `refin` and `refout`: no CRC here has them differ. */
  readonly reflected: boolean;
  readonly xorout: number;
}

const crc32 = (poly: number, init: number, reflected: boolean, xorout: number): CrcParameters => ({
  width: 32,
  poly,
  init,
  reflected,
  xorout,
});
const crc16 = (poly: number, init: number, reflected: boolean): CrcParameters => ({
  width: 16,
  poly,
  init,
  reflected,
  xorout: 0,
});
const ones = 0xffffffff;

/** CRCs by their name in the catalogue, lower case. */
export const crcCatalogue = {
  /** zlib, ZIP, gzip, GPT. */
  'crc-32/iso-hdlc': crc32(0x04c11db7, ones, true, ones),
  /** What the CRC unit of STM32 gives for big-endian words; second stage of the RP2040. */
  'crc-32/mpeg-2': crc32(0x04c11db7, ones, false, 0),
  'crc-32/bzip2': crc32(0x04c11db7, ones, false, ones),
  /** The POSIX command of this name also feeds in the length. */
  'crc-32/cksum': crc32(0x04c11db7, 0, false, ones),
  /** DFU suffix. */
  'crc-32/jamcrc': crc32(0x04c11db7, ones, true, 0),
  'crc-32/iscsi': crc32(0x1edc6f41, ones, true, ones),
  'crc-32/autosar': crc32(0xf4acfb13, ones, true, ones),
  'crc-32/base91-d': crc32(0xa833982b, ones, true, ones),
  'crc-32/xfer': crc32(0x000000af, 0, false, 0),
  'crc-16/ibm-3740': crc16(0x1021, 0xffff, false),
  'crc-16/xmodem': crc16(0x1021, 0, false),
  'crc-16/kermit': crc16(0x1021, 0, true),
  'crc-16/arc': crc16(0x8005, 0, true),
  'crc-16/modbus': crc16(0x8005, 0xffff, true),
} as const satisfies Record<string, CrcParameters>;

/** Name of a CRC in the catalogue, lower case. */
export type CrcName = keyof typeof crcCatalogue;

/** Lowest `width` bits in reverse order. */
function reflect(value: number, width: number): number {
  let from = value;
  let result = 0;
  for (let i = 0; i < width; i++) {
    result = ((result << 1) | (from & 1)) >>> 0;
    from >>>= 1;
  }
  return result;
}

const tables = new Map<string, Uint32Array>();

/** One remainder for each byte value; CRCs of 16 bits stand in the upper half unless they are reflected. */
function tableOf({ width, poly, reflected }: CrcParameters): Uint32Array {
  const key = `${width} ${poly} ${reflected}`;
  const known = tables.get(key);
  if (known) return known;
  const table = new Uint32Array(256);
  const divisor = reflected ? reflect(poly, width) : (poly << (32 - width)) >>> 0;
  for (let byte = 0; byte < 256; byte++) {
    let rest = reflected ? byte : (byte << 24) >>> 0;
    for (let bit = 0; bit < 8; bit++)
      if (reflected) rest = rest & 1 ? (rest >>> 1) ^ divisor : rest >>> 1;
      else rest = rest & 0x80000000 ? (rest << 1) ^ divisor : rest << 1;
    table[byte] = rest;
  }
  tables.set(key, table);
  return table;
}

/** CRC of bytes with any parameters of the catalogue: an unsigned number of `width` bits. */
export function crc(parameters: CrcParameters, bytes: Uint8Array): number {
  const { width, init, reflected, xorout } = parameters;
  const table = tableOf(parameters);
  const shift = 32 - width;
  let rest = reflected ? reflect(init, width) : (init << shift) >>> 0;
  if (reflected)
    for (let i = 0; i < bytes.length; i++) rest = (rest >>> 8) ^ table[(rest ^ bytes[i]!) & 0xff]!;
  else for (let i = 0; i < bytes.length; i++) rest = (rest << 8) ^ table[((rest >>> 24) ^ bytes[i]!) & 0xff]!;
  return (((reflected ? rest : rest >>> shift) ^ xorout) >>> 0) % 2 ** width;
}

/** CRC by its name in the catalogue. */
export const crcOf = (name: CrcName, bytes: Uint8Array): number => crc(crcCatalogue[name], bytes);

/**
 * What the CRC unit of STM32 gives in its reset state when it is fed little-endian words, as programs do: MPEG-2 over
 * each word's bytes in reverse. Null when the length is no multiple of 4, which the unit cannot be fed.
 */
export function stm32Crc(bytes: Uint8Array): number | null {
  if (bytes.length % 4 !== 0) return null;
  const table = tableOf(crcCatalogue['crc-32/mpeg-2']);
  let rest = ones;
  for (let at = 0; at < bytes.length; at += 4)
    for (let k = 3; k >= 0; k--) rest = (rest << 8) ^ table[((rest >>> 24) ^ bytes[at + k]!) & 0xff]!;
  return rest >>> 0;
}

/** Adler-32 (RFC 1950): two sums modulo 65521. */
export function adler32(bytes: Uint8Array): number {
  let low = 1;
  let high = 0;
  for (const byte of bytes) {
    low = (low + byte) % 65_521;
    high = (high + low) % 65_521;
  }
  return high * 65_536 + low;
}

/** Sum of all bytes, modulo 2^`bits`. */
export function byteSum(bytes: Uint8Array, bits: 8 | 16 | 32): number {
  let sum = 0;
  for (const byte of bytes) sum += byte;
  return sum % 2 ** bits;
}

/** Sum of all little-endian 32-bit words, modulo 2^32; null when the length is no multiple of 4. */
export function wordSumOf(bytes: Uint8Array): number | null {
  if (bytes.length % 4 !== 0) return null;
  let sum = 0;
  for (let at = 0; at < bytes.length; at += 4)
    sum =
      (sum + bytes[at]! + bytes[at + 1]! * 2 ** 8 + bytes[at + 2]! * 2 ** 16 + bytes[at + 3]! * 2 ** 24) %
      2 ** 32;
  return sum;
}

/** All bytes, each exclusive-or the one before. */
export function xorOf(bytes: Uint8Array): number {
  let value = 0;
  for (const byte of bytes) value ^= byte;
  return value;
}

/** Kinds that `checksumOf` knows beside the catalogue's CRCs. */
const others = {
  'stm32-crc': { bytes: 4, of: stm32Crc },
  'adler-32': { bytes: 4, of: adler32 },
  'sum-8': { bytes: 1, of: (bytes: Uint8Array) => byteSum(bytes, 8) },
  'sum-16': { bytes: 2, of: (bytes: Uint8Array) => byteSum(bytes, 16) },
  'sum-32': { bytes: 4, of: (bytes: Uint8Array) => byteSum(bytes, 32) },
  /** Sum of little-endian words. */
  'word-sum-32': { bytes: 4, of: wordSumOf },
  'xor-8': { bytes: 1, of: xorOf },
} as const satisfies Record<string, { bytes: 1 | 2 | 4; of: (bytes: Uint8Array) => number | null }>;

/** Name of any checksum of this file, as a profile writes it. */
export type ChecksumKind = CrcName | keyof typeof others;

/** Every kind that a profile may name in `update.checksum.kind`, in the order of this file. */
export const checksumKinds: readonly ChecksumKind[] = [
  ...(Object.keys(crcCatalogue) as CrcName[]),
  ...(Object.keys(others) as (keyof typeof others)[]),
];

/** True for a kind that `checksumOf` computes. */
export const isChecksumKind = (kind: string): kind is ChecksumKind =>
  (checksumKinds as readonly string[]).includes(kind);

/** Bytes that a checksum of this kind takes in a file: 1, 2 or 4. */
export function checksumBytes(kind: ChecksumKind): 1 | 2 | 4 {
  if (kind in others) return others[kind as keyof typeof others].bytes;
  return crcCatalogue[kind as CrcName].width === 16 ? 2 : 4;
}

/**
 * Checksum of bytes as an unsigned number, or null when bytes of this length have none of this kind (word-fed kinds
 * want a multiple of 4).
 */
export function checksumOf(kind: ChecksumKind, bytes: Uint8Array): number | null {
  return kind in others ? others[kind as keyof typeof others].of(bytes) : crcOf(kind as CrcName, bytes);
}
