/** The master boot record in sector 0 and the chain of extended boot records behind it. */
import { type ByteSource, ReadProblem } from '../../bytes/byte-source.js';
import { isFilledWith, u32At } from '../../bytes/cursor.js';
import { limits } from '../../bytes/limits.js';
import { Unseen } from '../../facts/fact.js';
import { unseenFrom } from '../../facts/unseen-from.js';
import type { ProblemList, RawEntry } from './partition-table.js';

/** Offset of the four entries in sector 0. */
export const MBR_ENTRIES_AT = 446;
const ENTRY_BYTES = 16;

/** Type byte of the entry that covers a GPT (UEFI specification 5.2.3, protective MBR). */
export const PROTECTIVE_TYPE = 0xee;

/** Meanings of the type bytes that cards carry; any other is `unknown`. */
const typeNames: Readonly<Record<number, string>> = {
  0: 'empty',
  1: 'FAT12',
  4: 'FAT16 below 32 MB',
  5: 'extended',
  6: 'FAT16',
  7: 'NTFS or exFAT',
  11: 'FAT32',
  12: 'FAT32 (LBA)',
  14: 'FAT16 (LBA)',
  15: 'extended (LBA)',
  17: 'hidden FAT12',
  20: 'hidden FAT16 below 32 MB',
  22: 'hidden FAT16',
  23: 'hidden NTFS or exFAT',
  27: 'hidden FAT32',
  28: 'hidden FAT32 (LBA)',
  30: 'hidden FAT16 (LBA)',
  39: 'Windows recovery',
  130: 'Linux swap',
  131: 'Linux',
  133: 'Linux extended',
  142: 'Linux LVM',
  165: 'FreeBSD',
  166: 'OpenBSD',
  169: 'NetBSD',
  175: 'HFS or HFS+',
  218: 'data without a file system',
  238: 'GPT protective',
  239: 'EFI system (FAT)',
  253: 'Linux RAID',
};

/** What a type byte means, in a few words; `unknown` for one that is in no list here. */
export const mbrTypeName = (type: number): string => typeNames[type] ?? 'unknown';

/** True for the type bytes of extended partitions: 05, 0F, 85. */
export const isExtendedType = (type: number): boolean => type === 0x05 || type === 0x0f || type === 0x85;

/** One of the four slots of a boot record, as its bytes say. Sectors are counted as the table counts them. */
export interface MbrSlot {
  /** 1 to 4. */
  readonly slot: number;
  readonly bootFlag: number;
  readonly type: number;
  readonly startSector: number;
  readonly sectors: number;
  /** True when it has a type or a length. */
  readonly used: boolean;
  /** True when all sixteen bytes are zero. */
  readonly blank: boolean;
  /** Byte offset of the slot on the medium. */
  readonly at: number;
}

/** The four slots of a boot record; `at` is where the record's sector starts on the medium. */
export function readMbrSlots(sector: Uint8Array, at = 0): MbrSlot[] {
  return [0, 1, 2, 3].map((i) => {
    const bytes = sector.subarray(MBR_ENTRIES_AT + i * ENTRY_BYTES, MBR_ENTRIES_AT + (i + 1) * ENTRY_BYTES);
    const type = bytes[4] ?? 0;
    const sectors = u32At(bytes, 12);
    return {
      slot: i + 1,
      bootFlag: bytes[0] ?? 0,
      type,
      startSector: u32At(bytes, 8),
      sectors,
      used: type !== 0 || sectors !== 0,
      blank: isFilledWith(bytes, 0),
      at: at + MBR_ENTRIES_AT + i * ENTRY_BYTES,
    };
  });
}

/** The used ones of these slots as entries, numbered by slot. */
export function entriesOfSlots(slots: readonly MbrSlot[], sectorBytes: number): RawEntry[] {
  return slots
    .filter((slot) => slot.used)
    .map((slot) =>
      entryOf(slot, slot.slot, isExtendedType(slot.type) ? 'extended' : 'primary', 0, sectorBytes),
    );
}

function entryOf(
  slot: MbrSlot,
  index: number,
  kind: 'primary' | 'extended' | 'logical',
  baseSector: number,
  sectorBytes: number,
  container: number | null = null,
): RawEntry {
  return {
    index,
    kind,
    type: slot.type,
    typeName: mbrTypeName(slot.type),
    bootFlag: slot.bootFlag,
    name: null,
    startByte: (baseSector + slot.startSector) * sectorBytes,
    bytes: slot.sectors * sectorBytes,
    container,
    at: slot.at,
    entryBytes: ENTRY_BYTES,
  };
}

/**
 * Logical partitions of every extended slot, numbered from 5. Each extended boot record holds one logical
 * partition, counted from the record itself, and the link to the next record, counted from the start of the
 * extended partition. A chain that runs in a circle, past the end, or on and on is cut, and said so.
 */
export function readLogicalPartitions(
  source: ByteSource,
  slots: readonly MbrSlot[],
  sectorBytes: number,
  problems: ProblemList,
): { entries: RawEntry[]; incomplete: Unseen | null } {
  const entries: RawEntry[] = [];
  let incomplete: Unseen | null = null;
  const visited = new Set<number>();
  for (const extended of slots.filter((slot) => isExtendedType(slot.type))) {
    let record = extended.startSector;
    let linkAt = extended.at + 8;
    // Records without a partition count too, so that a chain of empty ones ends as well.
    for (let records = 0; ; records++) {
      const at = record * sectorBytes;
      if (visited.has(record)) {
        problems.add('extended-loop', linkAt, 'the chain of logical partitions runs in a circle');
        break;
      }
      if (entries.length >= limits.logicalPartitions || records >= limits.logicalPartitions) {
        problems.add(
          'extended-too-long',
          linkAt,
          `the chain of logical partitions goes on after ${limits.logicalPartitions} records`,
        );
        incomplete = new Unseen(
          'over-limit',
          `only the first ${limits.logicalPartitions} logical partitions were read`,
        );
        break;
      }
      visited.add(record);
      if (at === 0 || at + 512 > source.size) {
        problems.add(
          'extended-past-end',
          linkAt,
          at === 0
            ? 'the chain of logical partitions leads to sector 0'
            : 'the chain of logical partitions leads past the end of the medium',
        );
        break;
      }
      if (record < extended.startSector || record >= extended.startSector + extended.sectors)
        problems.add(
          'extended-outside',
          linkAt,
          'the chain of logical partitions leaves its extended partition',
        );
      const sector = source.read(at, 512);
      if (sector instanceof ReadProblem) {
        problems.add('extended-unread', at, 'a record of the chain of logical partitions could not be read');
        incomplete = unseenFrom(sector);
        break;
      }
      if (sector[510] !== 0x55 || sector[511] !== 0xaa) {
        problems.add(
          'extended-signature',
          at + 510,
          'a record of the chain of logical partitions lacks the mark 55 AA',
        );
        break;
      }
      const [first, link] = readMbrSlots(sector, at);
      if (first?.used && !isExtendedType(first.type)) {
        const entry = entryOf(first, 5 + entries.length, 'logical', record, sectorBytes, extended.slot);
        entries.push(entry);
        const end = (extended.startSector + extended.sectors) * sectorBytes;
        if (first.bootFlag !== 0 && first.bootFlag !== 0x80)
          problems.add(
            'boot-flag',
            first.at,
            `the boot flag of entry ${entry.index} is neither 0x00 nor 0x80`,
          );
        if (first.startSector === 0)
          problems.add(
            'entry-at-sector-0',
            first.at + 8,
            `entry ${entry.index} starts at the sector of its own record`,
          );
        if (entry.startByte < extended.startSector * sectorBytes || entry.startByte + entry.bytes > end)
          problems.add('logical-outside', first.at, `entry ${entry.index} leaves its extended partition`);
      }
      if (!link || !isExtendedType(link.type) || link.sectors === 0) break;
      record = extended.startSector + link.startSector;
      linkAt = link.at + 8;
    }
  }
  return { entries, incomplete };
}
