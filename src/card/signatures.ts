/**
 * What the first bytes of a volume say it is: boot sectors that a driver could mount, and the marks by which other
 * file systems are known. Offsets and magic numbers are those published by each file system's own documentation
 * and gathered in the sources of libblkid (util-linux).
 */
import { hasAscii, isFilledWith, isPowerOfTwo, u16At, u32At } from '../bytes/cursor.js';
import type { FileSystemName } from '../facts/schema.js';
import { type FatName, mostFat32Clusters, widthByCount } from './fat/width.js';

/** Something in a boot sector that no driver would take; `at` is an offset inside the sector. */
export interface BootSectorFault {
  readonly at: number;
  readonly text: string;
}

/** Sizes that a FAT boot sector gives, in sectors and clusters (FAT specification section 3.1 and 3.5). */
interface FatSizes {
  readonly fatSectors: number;
  readonly totalSectors: number;
  /** Data clusters; negative when the parts before them are larger than the volume, not finite for zero fields. */
  readonly clusters: number;
}

function fatSizes(sector0: Uint8Array): FatSizes {
  const bytesPerSector = u16At(sector0, 11);
  const fatSectors = u16At(sector0, 22) || u32At(sector0, 36);
  const totalSectors = u16At(sector0, 19) || u32At(sector0, 32);
  const rootSectors = Math.ceil((u16At(sector0, 17) * 32) / bytesPerSector);
  const before = u16At(sector0, 14) + (sector0[16] ?? 0) * fatSectors + rootSectors;
  return { fatSectors, totalSectors, clusters: Math.floor((totalSectors - before) / (sector0[13] ?? 0)) };
}

/** Texts at byte 54 or 82 by which a FAT boot sector without 55 AA is still known. */
const fatTexts: readonly (readonly [number, string])[] = [
  [82, 'MSWIN'],
  [82, 'FAT32   '],
  [54, 'MSDOS'],
  [54, 'FAT16   '],
  [54, 'FAT12   '],
  [54, 'FAT     '],
];
const hasFatText = (sector0: Uint8Array): boolean =>
  fatTexts.some(([at, text]) => hasAscii(sector0, at, text));

/**
 * Everything that keeps sector 0 (512 bytes) from being a FAT boot sector in the eyes of common drivers; empty for
 * one that can be mounted. The width of the FAT is not decided here. (FAT specification section 3.1; the set of
 * tests is that of libblkid.)
 */
export function fatFaults(sector0: Uint8Array): BootSectorFault[] {
  const faults: BootSectorFault[] = [];
  const fault = (at: number, text: string): void => {
    faults.push({ at, text });
  };
  for (const other of ['NTFS    ', 'EXFAT   ', '-FVE-FS-'])
    if (hasAscii(sector0, 3, other)) fault(3, `its name is "${other.trim()}"`);
  for (const other of ['JFS     ', 'HPFS    '])
    if (hasAscii(sector0, 54, other)) fault(54, `its type is "${other.trim()}"`);
  if ((sector0[510] !== 0x55 || sector0[511] !== 0xaa) && !hasFatText(sector0))
    fault(510, 'the mark 55 AA is missing');
  const bytesPerSector = u16At(sector0, 11);
  if (!isPowerOfTwo(bytesPerSector) || bytesPerSector < 512 || bytesPerSector > 4096)
    fault(11, `it says ${bytesPerSector} bytes in a sector`);
  if (!isPowerOfTwo(sector0[13] ?? 0)) fault(13, `it says ${sector0[13] ?? 0} sectors in a cluster`);
  if (u16At(sector0, 14) === 0) fault(14, 'it says that there are no reserved sectors');
  if (sector0[16] === 0) fault(16, 'it says that there is no FAT');
  const media = sector0[21] ?? 0;
  if (media !== 0xf0 && media < 0xf8) fault(21, `its media byte is 0x${media.toString(16).padStart(2, '0')}`);
  const sizes = fatSizes(sector0);
  if (sizes.fatSectors === 0) fault(22, 'it says that the FAT has no sectors');
  if (sizes.totalSectors === 0) fault(19, 'it says that the volume has no sectors');
  else if (faults.length === 0 && (sizes.clusters < 1 || sizes.clusters > mostFat32Clusters))
    fault(32, `it leaves room for ${Math.max(sizes.clusters, 0)} clusters`);
  return faults;
}

/** True when sector 0 (512 bytes) is a FAT boot sector that a driver could mount, of whatever width. */
export const isFat = (sector0: Uint8Array): boolean =>
  sector0.length >= 512 && fatFaults(sector0).length === 0;

/** True when sector 0 has the jump and the text of a FAT boot sector, sound or not. */
export const looksLikeFatBootSector = (sector0: Uint8Array): boolean =>
  sector0.length >= 512 &&
  ((sector0[0] === 0xeb && sector0[2] === 0x90) || sector0[0] === 0xe9) &&
  hasFatText(sector0);

/**
 * Width of a sound FAT by its cluster count alone: below 4085 FAT12, below 65525 FAT16, else FAT32 (FAT
 * specification section 3.5).
 */
export function fatWidthByCount(sector0: Uint8Array): FatName {
  return widthByCount(fatSizes(sector0).clusters);
}

/** True when sector 0 is a sound exFAT boot sector (exFAT specification section 3.1). */
export function isExfat(sector0: Uint8Array): boolean {
  const sectorShift = sector0[108] ?? 0;
  const clusterShift = sector0[109] ?? 0;
  const fats = sector0[110] ?? 0;
  return (
    sector0.length >= 512 &&
    hasAscii(sector0, 3, 'EXFAT   ') &&
    sector0[510] === 0x55 &&
    sector0[511] === 0xaa &&
    isFilledWith(sector0.subarray(11, 64), 0) &&
    sectorShift >= 9 &&
    sectorShift <= 12 &&
    clusterShift <= 25 - sectorShift &&
    (fats === 1 || fats === 2)
  );
}

/** True when sector 0 is a sound NTFS boot sector: its name, its sector and cluster size, no reserved sectors, no FAT. */
export function isNtfs(sector0: Uint8Array): boolean {
  const bytesPerSector = u16At(sector0, 11);
  const perCluster = sector0[13] ?? 0;
  return (
    sector0.length >= 512 &&
    hasAscii(sector0, 3, 'NTFS    ') &&
    sector0[510] === 0x55 &&
    sector0[511] === 0xaa &&
    isPowerOfTwo(bytesPerSector) &&
    bytesPerSector >= 256 &&
    bytesPerSector <= 4096 &&
    // Above 128 the byte is a negative power of two: clusters of up to 2 MiB.
    (isPowerOfTwo(perCluster) || perCluster >= 0xe0) &&
    u16At(sector0, 14) === 0 &&
    sector0[16] === 0
  );
}

/** What kind of sound boot sector these 512 bytes are; null for none. */
export const soundBootSector = (sector0: Uint8Array): 'FAT' | 'exFAT' | 'NTFS' | null =>
  isFat(sector0) ? 'FAT' : isExfat(sector0) ? 'exFAT' : isNtfs(sector0) ? 'NTFS' : null;

/** True when these 512 bytes are a boot sector of FAT, exFAT or NTFS that a driver could mount. */
export const isSoundBootSector = (sector0: Uint8Array): boolean => soundBootSector(sector0) !== null;

// ---- other file systems -----------------------------------------------------------------------------------

/** A mark of a file system at a fixed place of its volume. */
export interface Signature {
  /** Byte offset in the volume of the bytes that are tested. */
  readonly at: number;
  readonly length: number;
  /** The file system, null when the bytes are not its mark. */
  readonly test: (bytes: Uint8Array) => FileSystemName | null;
}

const textAt = (at: number, text: string, name: FileSystemName): Signature => ({
  at,
  length: text.length,
  test: (bytes) => (hasAscii(bytes, 0, text) ? name : null),
});
const u16Big = (bytes: Uint8Array, at: number): number => (bytes[at] ?? 0) * 256 + (bytes[at + 1] ?? 0);
const u32Big = (bytes: Uint8Array, at: number): number => u16Big(bytes, at) * 65536 + u16Big(bytes, at + 2);

/** Bits of the ext superblock that only ext4 has: any but those that ext3 drivers know. */
const EXT3_INCOMPATIBLE = 0x2 | 0x4 | 0x10;
const EXT3_READ_ONLY = 0x1 | 0x2 | 0x4;

/**
 * ext2, ext3 or ext4 by the superblock. Two magic bytes are little: the fields around them must make sense too,
 * or a FAT that happens to hold them would pass.
 */
function extOf(block: Uint8Array): FileSystemName | null {
  if (u16At(block, 0x38) !== 0xef53) return null;
  const logBlock = u32At(block, 0x18);
  if (u32At(block, 0) === 0 || u32At(block, 4) === 0 || u32At(block, 0x20) === 0) return null;
  if (logBlock > 6 || u32At(block, 0x14) > 1 || u32At(block, 0x4c) > 1) return null;
  const revised = u32At(block, 0x4c) === 1;
  const compatible = revised ? u32At(block, 0x5c) : 0;
  const incompatible = revised ? u32At(block, 0x60) : 0;
  const readOnly = revised ? u32At(block, 0x64) : 0;
  const beyondExt3 = (incompatible & ~EXT3_INCOMPATIBLE) !== 0 || (readOnly & ~EXT3_READ_ONLY) !== 0;
  return beyondExt3 ? 'ext4' : (compatible & 0x4) !== 0 ? 'ext3' : 'ext2';
}

/** HFS, HFS+ and HFSX by their volume header, all big-endian; an HFS wrapper around HFS+ counts as HFS+. */
function hfsOf(block: Uint8Array): FileSystemName | null {
  if (hasAscii(block, 0, 'H+')) return u16Big(block, 2) === 4 ? 'HFS+' : null;
  if (hasAscii(block, 0, 'HX')) return u16Big(block, 2) === 5 ? 'HFS+' : null;
  if (!hasAscii(block, 0, 'BD')) return null;
  const blockBytes = u32Big(block, 20);
  if (blockBytes === 0 || blockBytes % 512 !== 0) return null;
  return hasAscii(block, 0x7c, 'H+') ? 'HFS+' : 'HFS';
}

/** Minix by two magic bytes and the fields around them. */
function minixOf(block: Uint8Array): FileSystemName | null {
  const old = u16At(block, 0x10);
  if ([0x137f, 0x138f, 0x2468, 0x2478].includes(old))
    return u16At(block, 0) > 0 && u16At(block, 4) > 0 && u16At(block, 6) > 0 && u16At(block, 10) === 0
      ? 'Minix'
      : null;
  const blockBytes = u16At(block, 0x1c);
  if (u16At(block, 0x18) !== 0x4d5a) return null;
  return u32At(block, 0) > 0 && blockBytes >= 1024 && blockBytes <= 4096 && blockBytes % 1024 === 0
    ? 'Minix'
    : null;
}

const swapSignatures: Signature[] = [0xff6, 0x1ff6, 0x3ff6, 0x7ff6, 0xfff6].map((at) => ({
  at,
  length: 10,
  test: (bytes) => (hasAscii(bytes, 0, 'SWAPSPACE2') || hasAscii(bytes, 0, 'SWAP-SPACE') ? 'swap' : null),
}));
const lvmSignatures: Signature[] = [0, 512, 1024, 1536].map((at) => ({
  at,
  length: 32,
  test: (bytes) => (hasAscii(bytes, 0, 'LABELONE') && hasAscii(bytes, 0x18, 'LVM2 001') ? 'LVM2' : null),
}));

/** Bytes of the volume recognition sequence that is looked at: 16 descriptors of 2 KiB from byte 32768. */
const RECOGNITION_SEQUENCE_BYTES = 16 * 2048;

/**
 * ISO 9660 or UDF by the volume recognition sequence (ECMA-119, ECMA-167 part 2): descriptors of 2 KiB, each with
 * a five-letter name at byte 1. A disc that is both counts as UDF.
 */
function opticalOf(sequence: Uint8Array): FileSystemName | null {
  let iso = false;
  let extended = false;
  for (let at = 0; at < sequence.length; at += 2048) {
    if (hasAscii(sequence, at + 1, 'CD001')) iso = true;
    else if (hasAscii(sequence, at + 1, 'BEA01')) extended = true;
    else if (extended && (hasAscii(sequence, at + 1, 'NSR02') || hasAscii(sequence, at + 1, 'NSR03')))
      return 'UDF';
    else if (!hasAscii(sequence, at + 1, 'TEA01') && !hasAscii(sequence, at + 1, 'BOOT2')) break;
  }
  return iso ? 'ISO9660' : null;
}

/** Marks of all file systems other than FAT, exFAT and NTFS, those with more magic bytes at one place first. */
export const signatures: readonly Signature[] = [
  textAt(0, 'XFSB', 'XFS'),
  {
    at: 0,
    length: 8,
    test: (bytes) =>
      hasAscii(bytes, 0, 'LUKS') &&
      bytes[4] === 0xba &&
      bytes[5] === 0xbe &&
      bytes[6] === 0 &&
      (bytes[7] === 1 || bytes[7] === 2)
        ? 'LUKS'
        : null,
  },
  {
    at: 0,
    length: 4,
    test: (bytes) => (hasAscii(bytes, 0, 'hsqs') || hasAscii(bytes, 0, 'sqsh') ? 'squashfs' : null),
  },
  textAt(0, 'UBI#', 'UBI'),
  textAt(0, '\0\0\0ReFS\0', 'ReFS'),
  ...lvmSignatures,
  {
    at: 32,
    length: 8,
    test: (bytes) => {
      const blockBytes = u32At(bytes, 4);
      return hasAscii(bytes, 0, 'NXSB') &&
        isPowerOfTwo(blockBytes) &&
        blockBytes >= 4096 &&
        blockBytes <= 65536
        ? 'APFS'
        : null;
    },
  },
  textAt(0x10040, '_BHRfS_M', 'Btrfs'),
  textAt(0x8000, 'JFS1', 'JFS'),
  {
    at: 0x10034,
    length: 9,
    test: (bytes) =>
      ['ReIsErFs', 'ReIsEr2Fs', 'ReIsEr3Fs'].some((text) => hasAscii(bytes, 0, text)) ? 'ReiserFS' : null,
  },
  textAt(0x2034, 'ReIsErFs', 'ReiserFS'),
  { at: 0x8000, length: RECOGNITION_SEQUENCE_BYTES, test: opticalOf },
  { at: 0x8000, length: 6, test: opticalOf },
  ...[0x400, 0x1400].map(
    (at): Signature => ({
      at,
      length: 4,
      test: (bytes) => (u32At(bytes, 0) === 0xf2f52010 ? 'F2FS' : null),
    }),
  ),
  { at: 0x400, length: 4, test: (bytes) => (u32At(bytes, 0) === 0xe0f5e1e2 ? 'EROFS' : null) },
  { at: 0x400, length: 0x68, test: extOf },
  { at: 0x400, length: 0x80, test: hfsOf },
  ...swapSignatures,
  {
    at: 0x4000,
    length: 6,
    test: (bytes) => (hasAscii(bytes, 0, 'SKUL') && bytes[4] === 0xba ? 'LUKS' : null),
  },
  { at: 0x400, length: 0x20, test: minixOf },
];
