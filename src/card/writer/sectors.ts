import { fsInfoSignatures } from '../fat/fs-info.js';
import { type CardLayout, cardSectorBytes } from './layout.js';

/** Media byte of something that stays in its drive (FAT specification, section 3.1), as formatters write it for cards. */
export const mediaByte = 0xf8;

/** Sectors and heads of the drive that a card is not: what formatters write for all but the smallest. */
const sectorsPerTrack = 63;
const heads = 255;

/** What the first sectors say besides the layout. */
export interface Identity {
  readonly serial: number;
  /** Eleven characters. */
  readonly label: string;
}

/** Sectors that FAT32 keeps beside its boot sector; 0 where there is no room for one. */
export function reservedUse({ fileSystem, reservedSectors }: CardLayout): { fsInfo: number; backup: number } {
  if (fileSystem !== 'FAT32') return { fsInfo: 0, backup: 0 };
  return { fsInfo: reservedSectors > 1 ? 1 : 0, backup: reservedSectors > 7 ? 6 : 0 };
}

/** The boot sector (FAT specification, sections 3.1 to 3.3), 512 bytes. It holds no program. */
export function bootSector(layout: CardLayout, { serial, label }: Identity): Uint8Array {
  const bytes = new Uint8Array(512);
  const view = new DataView(bytes.buffer);
  const is32 = layout.fileSystem === 'FAT32';
  const shift = is32 ? 28 : 0;
  bytes.set([0xeb, is32 ? 0x58 : 0x3c, 0x90]); // 0 BS_jmpBoot
  text(bytes, 3, 'MSDOS5.0'); // 3 BS_OEMName: old drivers have been tried with this one
  view.setUint16(11, layout.bytesPerSector, true); // BPB_BytsPerSec
  bytes[13] = layout.clusterBytes / layout.bytesPerSector; // BPB_SecPerClus
  view.setUint16(14, layout.reservedSectors, true); // BPB_RsvdSecCnt
  bytes[16] = layout.fatCount; // BPB_NumFATs
  view.setUint16(17, layout.rootEntries, true); // BPB_RootEntCnt
  const isSmall = !is32 && layout.totalSectors < 0x10000;
  view.setUint16(19, isSmall ? layout.totalSectors : 0, true); // BPB_TotSec16
  bytes[21] = mediaByte; // BPB_Media
  view.setUint16(22, is32 ? 0 : layout.fatSectors, true); // BPB_FATSz16
  view.setUint16(24, sectorsPerTrack, true); // BPB_SecPerTrk
  view.setUint16(26, heads, true); // BPB_NumHeads
  view.setUint32(28, layout.startByte / cardSectorBytes, true); // BPB_HiddSec
  view.setUint32(32, isSmall ? 0 : layout.totalSectors, true); // BPB_TotSec32
  if (is32) {
    const { fsInfo, backup } = reservedUse(layout);
    view.setUint32(36, layout.fatSectors, true); // BPB_FATSz32
    view.setUint32(44, 2, true); // BPB_RootClus
    view.setUint16(48, fsInfo, true); // BPB_FSInfo
    view.setUint16(50, backup, true); // BPB_BkBootSec
  }
  bytes[36 + shift] = 0x80; // BS_DrvNum
  bytes[38 + shift] = 0x29; // BS_BootSig
  view.setUint32(39 + shift, serial, true); // BS_VolID
  text(bytes, 43 + shift, label); // BS_VolLab
  text(bytes, 54 + shift, layout.fileSystem.padEnd(8)); // BS_FilSysType
  return signed(bytes);
}

/** The FSInfo sector (FAT specification, section 5), 512 bytes. */
export function fsInfoSector(freeClusters: number, nextFree: number): Uint8Array {
  const bytes = new Uint8Array(512);
  const view = new DataView(bytes.buffer);
  for (const [at, value] of fsInfoSignatures) view.setUint32(at, value, true);
  view.setUint32(488, freeClusters, true);
  view.setUint32(492, nextFree, true);
  return bytes;
}

/** The one partition of a card. */
export interface NewPartition {
  /** 1 to 4. */
  readonly slot: number;
  readonly type: number;
  readonly bootFlag: number;
}

/** A partition table without a boot program: 440 bytes of zero, the number of the disk, one entry. */
export function partitionTable(
  { startByte, totalSectors, bytesPerSector }: CardLayout,
  { slot, type, bootFlag }: NewPartition,
  diskId: number,
): Uint8Array {
  const bytes = new Uint8Array(512);
  const view = new DataView(bytes.buffer);
  const first = startByte / cardSectorBytes;
  const count = (totalSectors * bytesPerSector) / cardSectorBytes;
  const at = 446 + (slot - 1) * 16;
  view.setUint32(440, diskId, true);
  bytes[at] = bootFlag;
  bytes.set(cylinderHeadSector(first), at + 1);
  bytes[at + 4] = type;
  bytes.set(cylinderHeadSector(first + count - 1), at + 5);
  view.setUint32(at + 8, first, true);
  view.setUint32(at + 12, count, true);
  return signed(bytes);
}

/** A sector's number as old programs count; what lies beyond cylinder 1023 stands as the last place that there is. */
function cylinderHeadSector(sector: number): [number, number, number] {
  const track = Math.floor(sector / sectorsPerTrack);
  const cylinder = Math.floor(track / heads);
  if (cylinder > 1023) return [254, 0xff, 0xff];
  return [track % heads, ((sector % sectorsPerTrack) + 1) | ((cylinder >> 8) << 6), cylinder & 0xff];
}

function signed(bytes: Uint8Array): Uint8Array {
  bytes[510] = 0x55;
  bytes[511] = 0xaa;
  return bytes;
}

function text(bytes: Uint8Array, at: number, characters: string): void {
  for (let i = 0; i < characters.length; i++) bytes[at + i] = characters.charCodeAt(i);
}
