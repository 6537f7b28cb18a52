import { type ByteSource, ReadProblem } from '../../bytes/byte-source.js';
import type { FatGeometry } from './boot-sector.js';

/** Bytes of FAT in one read. */
const stretchBytes = 1024 * 1024;

/** True where a Uint32Array reads memory the way FATs are stored. */
const isLittleEndian = new Uint8Array(new Uint32Array([1]).buffer)[0] === 1;

/** One copy of the FAT in memory: `nextOf` gives the entry of a cluster. */
export interface FatTable {
  /** Entries as stored, the four reserved bits of FAT32 among them. */
  readonly entries: Uint32Array;
  /** The bits of an entry that count: 28 of the 32 of FAT32. */
  readonly mask: number;
  /** Lowest value that means: end of the chain (FAT specification, section 4). */
  readonly endMark: number;
  /** The value that means: bad cluster. */
  readonly badMark: number;
}

/** The FAT entry of a cluster, without reserved bits; of a cluster that the FAT does not have, 0 (free). */
export const nextOf = (table: FatTable, cluster: number): number =>
  (table.entries[cluster] ?? 0) & table.mask;

/** What a FAT copy holds that another does not. */
export interface FatDifference {
  /** Clusters whose entries differ. */
  clusters: number;
  /** The first of them; 0 when none. */
  firstCluster: number;
  /** True when FAT[0], or FAT[1] in more than its clean-shutdown bit, differs. */
  start: boolean;
  /** True when the clean-shutdown bit of FAT[1] differs. */
  dirtyMark: boolean;
  /** True when the reserved bits of a FAT32 entry, or the unused entry that pads a FAT12, differ. */
  unused: boolean;
}

/** Marks of an entry width: end of chain, bad cluster, and the bits of FAT[1] (FAT specification, section 4). */
export function fatMarks(entryBits: 12 | 16 | 32): {
  endMark: number;
  badMark: number;
  cleanBit: number;
  noErrorBit: number;
  mask: number;
} {
  if (entryBits === 12) return { endMark: 0xff8, badMark: 0xff7, cleanBit: 0, noErrorBit: 0, mask: 0xfff };
  if (entryBits === 16)
    return { endMark: 0xfff8, badMark: 0xfff7, cleanBit: 0x8000, noErrorBit: 0x4000, mask: 0xffff };
  return {
    endMark: 0x0ffffff8,
    badMark: 0x0ffffff7,
    cleanBit: 0x08000000,
    noErrorBit: 0x04000000,
    mask: 0x0fffffff,
  };
}

/** Reads copy `index` of the FAT, counted from 0. The caller has checked the size against its limit. */
export function readTable(source: ByteSource, geometry: FatGeometry, index: number): RawTable | ReadProblem {
  const { entryBits, entryCount } = geometry;
  // FAT12 entries come in pairs of three bytes: an odd number of them has one more as padding.
  const padded = entryBits === 12 ? entryCount + (entryCount & 1) : entryCount;
  const length = Math.min(Math.ceil((padded * entryBits) / 8), geometry.fatBytes);
  const start = geometry.fatStart + index * geometry.fatBytes;
  // A boot sector may claim any size: memory is taken only for a FAT whose last byte is there.
  const last = source.read(start + length - 1, 1);
  if (last instanceof ReadProblem) return last;
  const values = new Uint32Array(padded);
  const target = entryBits === 32 ? new Uint8Array(values.buffer) : new Uint8Array(length);
  for (let at = 0; at < length; at += stretchBytes) {
    const size = Math.min(stretchBytes, length - at);
    const got = source.read(start + at, size);
    if (got instanceof ReadProblem) return got;
    target.set(got, at);
  }
  if (entryBits === 12) unpack12(target, values);
  else if (entryBits === 16)
    for (let i = 0; i < padded; i++) values[i] = target[2 * i]! | (target[2 * i + 1]! << 8);
  else if (!isLittleEndian) {
    const view = new DataView(values.buffer);
    for (let i = 0; i < padded; i++) values[i] = view.getUint32(4 * i, true);
  }
  return { values, entryBits, entryCount };
}

/** A FAT copy as read, with the reserved bits of FAT32 still in it. */
export interface RawTable {
  readonly values: Uint32Array;
  readonly entryBits: 12 | 16 | 32;
  readonly entryCount: number;
}

function unpack12(bytes: Uint8Array, values: Uint32Array): void {
  for (let i = 0, at = 0; i < values.length; i += 2, at += 3) {
    const middle = bytes[at + 1] ?? 0;
    values[i] = (bytes[at] ?? 0) | ((middle & 0x0f) << 8);
    if (i + 1 < values.length) values[i + 1] = (middle >> 4) | ((bytes[at + 2] ?? 0) << 4);
  }
}

/** Compares two raw copies; entries beyond the last cluster do not exist in either. */
export function compareTables(first: RawTable, second: RawTable): FatDifference {
  const difference = { clusters: 0, firstCluster: 0, start: false, dirtyMark: false, unused: false };
  const a = first.values;
  const b = second.values;
  const length = Math.min(a.length, b.length);
  let at = 0;
  while (at < length && a[at] === b[at]) at++;
  if (at === length) return difference;
  const { cleanBit, mask } = fatMarks(first.entryBits);
  for (; at < length; at++) {
    const bits = a[at]! ^ b[at]!;
    if (bits === 0) continue;
    const meant = bits & mask;
    if (at === 0) difference.start = true;
    else if (at === 1) {
      if ((meant & cleanBit) !== 0) difference.dirtyMark = true;
      if ((bits & ~cleanBit) !== 0) difference.start = true;
    } else if (meant === 0 || at >= first.entryCount) difference.unused = true;
    else {
      if (difference.clusters === 0) difference.firstCluster = at;
      difference.clusters++;
    }
  }
  return difference;
}

/** The table that chains are followed through, out of a raw copy. */
export function finishTable(raw: RawTable): FatTable {
  const { endMark, badMark, mask } = fatMarks(raw.entryBits);
  return { entries: raw.values.subarray(0, raw.entryCount), mask, endMark, badMark };
}

/**
 * True when copy `index` of a FAT32 equals, bit by bit, one in memory. It is looked at stretch by stretch and not
 * kept: on a sound card this is all that a second copy is needed for.
 */
export function isSameCopy(
  source: ByteSource,
  geometry: FatGeometry,
  index: number,
  kept: RawTable,
): boolean | ReadProblem {
  if (kept.entryBits !== 32 || !isLittleEndian) return false;
  const length = kept.entryCount * 4;
  const start = geometry.fatStart + index * geometry.fatBytes;
  for (let at = 0; at < length; at += stretchBytes) {
    const got = source.read(start + at, Math.min(stretchBytes, length - at));
    if (got instanceof ReadProblem) return got;
    if (!sameWords(got, kept.values, at / 4)) return false;
  }
  return true;
}

function sameWords(bytes: Uint8Array, values: Uint32Array, from: number): boolean {
  const aligned = bytes.byteOffset % 4 === 0 ? bytes : bytes.slice();
  const words = new Uint32Array(aligned.buffer, aligned.byteOffset, aligned.length >>> 2);
  for (let i = 0; i < words.length; i++) if (words[i] !== values[from + i]) return false;
  return true;
}
