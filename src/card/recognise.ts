/**
 * Which file system a volume carries, by its signatures, and which signatures further in are left from an earlier
 * format. The order is that of drivers: a boot sector that can be mounted decides, whatever else lies behind it.
 */
import { type ByteSource, isInside, ReadProblem, WindowSource } from '../bytes/byte-source.js';
import { hasAscii, isFilledWith, u32At } from '../bytes/cursor.js';
import { limits } from '../bytes/limits.js';
import type { FileSystemName } from '../facts/schema.js';
import { type ExfatVolume, readExfat } from './exfat/boot-sector.js';
import { GPT_SIGNATURE, gptBlockSizes } from './partition-table/gpt.js';
import type { PartitionTable } from './partition-table/partition-table.js';
import {
  type BootSectorFault,
  fatFaults,
  isFat,
  looksLikeFatBootSector,
  signatures,
  soundBootSector,
} from './signatures.js';

export { fatFaults, isFat, isSoundBootSector, soundBootSector } from './signatures.js';

/** What a volume carries. */
export interface Recognised {
  /** `FAT` stands for any width: the FAT reader decides it. */
  readonly fileSystem: FileSystemName | 'FAT';
  /** Offset in the volume of the bytes that decided; 0 for `empty` and `not recognised`. */
  readonly at: number;
  /** What the boot sector of an exFAT volume says; null for any other, or when its fields make no sense. */
  readonly exfat: ExfatVolume | null;
  /** Of a volume that is not recognised though its first sector looks like FAT: why no driver takes it. */
  readonly fatFaults: readonly BootSectorFault[];
}

/** Bytes at the start of a volume that must all be zero, or all FF, for it to count as never formatted. */
const BLANK_BYTES = 64 * 1024;
const PAGE_BYTES = 4096;

/** Reads a volume by pages, each once, and remembers what could not be read. */
class Pages {
  private readonly pages = new Map<number, Uint8Array | ReadProblem>();
  /** The first page that could not be read. */
  problem: ReadProblem | undefined;
  constructor(private readonly source: ByteSource) {}

  private page(number: number): Uint8Array | ReadProblem {
    const kept = this.pages.get(number);
    if (kept) return kept;
    const at = number * PAGE_BYTES;
    const got = this.source.read(at, Math.min(PAGE_BYTES, this.source.size - at));
    // A source may answer with a view of a buffer that it fills again: what is kept must be a copy.
    const page = got instanceof ReadProblem ? got : got.slice();
    if (page instanceof ReadProblem) this.problem ??= page;
    this.pages.set(number, page);
    return page;
  }

  /** These bytes, or null when they lie outside the volume or could not be read. */
  read(at: number, length: number): Uint8Array | null {
    if (!isInside(at, length, this.source.size)) return null;
    const out = new Uint8Array(length);
    for (let done = 0; done < length; ) {
      const page = this.page(Math.floor((at + done) / PAGE_BYTES));
      if (page instanceof ReadProblem) return null;
      const piece = page.subarray((at + done) % PAGE_BYTES, ((at + done) % PAGE_BYTES) + length - done);
      out.set(piece, done);
      done += piece.length;
    }
    return out;
  }
}

/**
 * The file system of a volume whose byte 0 is byte 0 of `volume`. Reads at most the first 68 KiB, for exFAT the
 * root directory too. A ReadProblem when what could be read does not decide it. Never throws.
 */
export function recognise(volume: ByteSource): Recognised | ReadProblem {
  const is = (
    fileSystem: Recognised['fileSystem'],
    at = 0,
    more: Partial<Pick<Recognised, 'exfat' | 'fatFaults'>> = {},
  ): Recognised => ({ fileSystem, at, exfat: null, fatFaults: [], ...more });

  let sector0: Uint8Array = new Uint8Array(0);
  if (volume.size >= 512) {
    const got = volume.read(0, 512);
    if (got instanceof ReadProblem) return got;
    sector0 = got.slice();
    if (hasAscii(sector0, 3, '-FVE-FS-')) return is('BitLocker', 3);
    if (hasAscii(sector0, 3, 'EXFAT   ')) {
      const exfat = readExfat(volume);
      if (exfat instanceof ReadProblem) return exfat;
      return is('exFAT', 3, { exfat });
    }
    if (hasAscii(sector0, 3, 'NTFS    ')) return is('NTFS', 3);
    if (isFat(sector0)) {
      // BitLocker To Go starts with the same eleven bytes as old FAT32 volumes; its own header lies further in.
      if (hasAscii(sector0, 3, 'MSWIN4.1')) {
        const at = u32At(sector0, 440) + u32At(sector0, 444) * 2 ** 32;
        const header = at > 0 && isInside(at, 8, volume.size) ? volume.read(at, 8) : undefined;
        if (header && !(header instanceof ReadProblem) && hasAscii(header, 0, '-FVE-FS-'))
          return is('BitLocker', at);
      }
      return is('FAT');
    }
  }

  const pages = new Pages(volume);
  for (const signature of signatures) {
    const bytes = pages.read(signature.at, signature.length);
    const name = bytes ? signature.test(bytes) : null;
    if (name) return is(name, signature.at);
  }
  if (pages.problem) return pages.problem;
  const start = pages.read(0, Math.min(volume.size, BLANK_BYTES));
  if (pages.problem) return pages.problem;
  if (start && start.length > 0 && (isFilledWith(start, 0) || isFilledWith(start, 0xff))) return is('empty');
  return is('not recognised', 0, { fatFaults: looksLikeFatBootSector(sector0) ? fatFaults(sector0) : [] });
}

// ---- leftovers of an earlier format -----------------------------------------------------------------------

/** A signature where the live file system keeps nothing. */
export interface Residue {
  /** File system or table: a name of the facts, `FAT`, or `GPT`. */
  readonly what: FileSystemName | 'FAT' | 'GPT';
  /** Byte offset in the source that was searched. */
  readonly at: number;
}

/** True when the live file system keeps nothing in this stretch: no boot sector, FAT, folder, file or bad cluster. */
export type IsFree = (offset: number, length: number) => boolean;

/** Sectors at which partitioning tools let the first partition start: 63 (CHS), 1 MiB, 4 MiB, 16 MiB. */
const usualStarts = [63, 2048, 8192, 32768] as const;

/**
 * Leftovers inside a volume, by offset in the volume. Only places that `isFree` calls unowned are read, so bytes
 * of files and FATs raise no alarm. Looks at the fixed places of all signatures, and at those of backup boot
 * sectors: sector 6 (FAT32), sector 12 (exFAT), the last sector (NTFS).
 */
export function residues(volume: ByteSource, isFree: IsFree): Residue[] {
  const found: Residue[] = [];
  const pages = new Pages(volume);
  for (const { at, length, test } of signatures) {
    if (!isInside(at, length, volume.size) || !isFree(at, length)) continue;
    const bytes = pages.read(at, length);
    const name = bytes ? test(bytes) : null;
    // Two signatures of one file system at one place (a long and a short stretch of it) are one residue.
    if (name && !found.some((other) => other.at === at && other.what === name))
      found.push({ what: name, at });
  }
  const first = volume.size >= 512 && !isFree(0, 512) ? pages.read(0, 512) : null;
  const backups = [6 * 512, ...gptBlockSizes.map((bytes) => 12 * bytes), volume.size - 512];
  for (const at of new Set(backups)) addBootSector(pages, at, isFree, first, found, volume.size);
  return found.sort((a, b) => a.at - b.at);
}

/** Adds a boot sector that lies in free space, unless it is a backup of the live one. */
function addBootSector(
  pages: Pages,
  at: number,
  isFree: IsFree,
  live: Uint8Array | null,
  found: Residue[],
  size: number,
): void {
  if (at <= 0 || !isInside(at, 512, size) || !isFree(at, 512)) return;
  const sector = pages.read(at, 512);
  const kind = sector ? soundBootSector(sector) : null;
  if (!sector || !kind || (live && sameGeometry(sector, live))) return;
  if (!found.some((other) => other.at === at)) found.push({ what: kind, at });
}

/** True when two boot sectors describe the same volume: their name and bytes 11 to 63 are alike. */
function sameGeometry(one: Uint8Array, other: Uint8Array): boolean {
  for (let i = 11; i < 64; i++) if (one[i] !== other[i]) return false;
  return soundBootSector(one) === soundBootSector(other);
}

/**
 * Leftovers on a whole medium, by offset on the medium: those inside the volume (where `isFree`, which takes
 * offsets in the volume, allows), boot sectors and superblocks in the gap before the first partition, boot
 * sectors where an earlier first partition usually started, and GPT headers in block 1 or the last block of a
 * medium whose sector 0 announces no GPT.
 */
export function residuesOfMedium(
  source: ByteSource,
  table: PartitionTable,
  volume: { readonly startByte: number; readonly bytes: number },
  isFree: IsFree,
): Residue[] {
  const end = Math.min(volume.startByte + volume.bytes, source.size);
  if (volume.startByte >= end) return [];
  const window = new WindowSource(source, volume.startByte, end - volume.startByte);
  const found: Residue[] = residues(window, isFree).map(({ what, at }) => ({
    what,
    at: at + volume.startByte,
  }));
  const add = (residue: Residue): void => {
    if (!found.some((other) => other.at === residue.at)) found.push(residue);
  };
  const others = table.entries.filter(
    (entry) => entry.kind !== 'extended' && entry.startByte !== volume.startByte,
  );
  /** Free on the medium: in the volume where it says so, and outside it where no other partition lies. */
  const isFreeOnMedium: IsFree = (at, length) => {
    if (at >= volume.startByte && at + length <= end) return isFree(at - volume.startByte, length);
    if (at + length > volume.startByte && at < end) return false;
    return !others.some((entry) => at + length > entry.startByte && at < entry.startByte + entry.bytes);
  };
  const pages = new Pages(source);
  const live = pages.read(volume.startByte, 512);

  for (const sector of usualStarts)
    addBootSector(pages, sector * 512, isFreeOnMedium, live, found, source.size);

  if (table.scheme !== 'gpt' && table.scheme !== 'hybrid')
    for (const bytes of gptBlockSizes) {
      const lastBlock = (Math.floor(source.size / bytes) - 1) * bytes;
      for (const at of [bytes, lastBlock])
        if (at > 0 && isInside(at, 512, source.size) && isFreeOnMedium(at, 512)) {
          const header = pages.read(at, 8);
          if (header && hasAscii(header, 0, GPT_SIGNATURE)) add({ what: 'GPT', at });
        }
    }

  if (table.scheme !== 'none' && table.scheme !== null) searchGap(source, table, isFreeOnMedium, live, add);
  return found.sort((a, b) => a.at - b.at);
}

/** Searches the gap between the table and the first partition, up to `limits.gapBytes`. */
function searchGap(
  source: ByteSource,
  table: PartitionTable,
  isFreeOnMedium: IsFree,
  live: Uint8Array | null,
  add: (residue: Residue) => void,
): void {
  const starts = table.entries.map((entry) => entry.startByte).filter((start) => start > 0);
  const gapEnd = Math.min(...starts, source.size, limits.gapBytes);
  // A GPT and its array (16 KiB as a rule) stand before the gap.
  const gapStart = table.scheme === 'mbr' ? 512 : 2 * table.sectorBytes + 16384;
  for (const { at, length, test } of signatures) {
    if (at < gapStart || at + length > gapEnd || !isFreeOnMedium(at, length)) continue;
    const bytes = source.read(at, length);
    const name = bytes instanceof ReadProblem ? null : test(bytes);
    if (name) add({ what: name, at });
  }
  const step = 64 * 1024;
  for (let at = gapStart; at + 512 <= gapEnd; at += step) {
    const length = Math.floor(Math.min(step, gapEnd - at) / 512) * 512;
    if (length === 0) break;
    const bytes = source.read(at, length);
    if (bytes instanceof ReadProblem) continue;
    for (let i = 0; i + 512 <= length; i += 512) {
      if (bytes[i + 510] !== 0x55 || bytes[i + 511] !== 0xaa || !isFreeOnMedium(at + i, 512)) continue;
      const sector = bytes.subarray(i, i + 512);
      const kind = soundBootSector(sector);
      if (kind && !(live && sameGeometry(sector, live))) add({ what: kind, at: at + i });
    }
  }
}
