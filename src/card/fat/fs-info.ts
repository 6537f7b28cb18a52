import { type ByteSource, ReadProblem } from '../../bytes/byte-source.js';
import { u32At } from '../../bytes/cursor.js';
import type { FatBootSector, FieldProblem } from './boot-sector.js';

/** The FSInfo sector's fields as they stand (FAT specification, section 5). All of it is only a hint to drivers. */
export interface FsInfo {
  /** First byte of the sector, from the start of the volume. */
  readonly at: number;
  /** True when all three signatures are right. */
  readonly signed: boolean;
  /** Free clusters; 0xFFFFFFFF means not known. */
  readonly freeClusters: number;
  /** Where to look for a free cluster; 0xFFFFFFFF means not known. */
  readonly nextFree: number;
}

/** The three signatures of an FSInfo sector: offset in the sector and value (FAT specification, section 5). */
export const fsInfoSignatures: readonly (readonly [at: number, value: number])[] = [
  [0, 0x41615252],
  [484, 0x61417272],
  [508, 0xaa550000],
];

/** Value of both counts that means: not known. */
export const fsInfoUnknown = 0xffffffff;

/**
 * The FSInfo sector of a FAT32 volume; null when the volume names none, a read problem when it cannot be read.
 * A number outside the reserved sectors counts as none, as drivers take it.
 */
export function readFsInfo(source: ByteSource, boot: FatBootSector): FsInfo | ReadProblem | null {
  const sector = boot.fsInfoSector;
  if (!boot.isFat32Form || sector === 0 || sector >= boot.reservedSectors) return null;
  const at = sector * boot.bytesPerSector;
  const bytes = source.read(at, 512);
  if (bytes instanceof ReadProblem) return bytes;
  return {
    at,
    signed: fsInfoSignatures.every(([offset, value]) => u32At(bytes, offset) === value),
    freeClusters: u32At(bytes, 488),
    nextFree: u32At(bytes, 492),
  };
}

/** What is odd about FSInfo: harmless, since every driver counts for itself when in doubt. */
export function fsInfoOddities(
  boot: FatBootSector,
  info: FsInfo | null,
  freeClusters: number | null,
): FieldProblem[] {
  if (!boot.isFat32Form) return [];
  if (!info) {
    const text = 'there is no FSInfo sector';
    return [{ code: 'no-fs-info', text, at: 48 }];
  }
  if (!info.signed)
    return [{ code: 'fs-info-marks', text: 'the marks of the FSInfo sector are wrong', at: info.at }];
  if (info.freeClusters === fsInfoUnknown)
    return [{ code: 'free-count-unset', text: 'the count of free clusters is not set', at: info.at + 488 }];
  if (freeClusters === null || info.freeClusters === freeClusters) return [];
  const text = `the count of free clusters says ${info.freeClusters}, the FAT says ${freeClusters}`;
  return [{ code: 'free-count-wrong', text, at: info.at + 488 }];
}
