/**
 * The partition table of a medium: MBR, GPT, a hybrid of both, or none. This file decides which kind it is and
 * which partition a given boot loader takes; `mbr.ts` and `gpt.ts` read the two formats.
 */
import { type ByteSource, ReadProblem } from '../../bytes/byte-source.js';
import { isFilledWith } from '../../bytes/cursor.js';
import { limits } from '../../bytes/limits.js';
import { Unseen } from '../../facts/fact.js';
import type { FileSystemName } from '../../facts/schema.js';
import { unseenFrom } from '../../facts/unseen-from.js';
import { fatFaults, isSoundBootSector, looksLikeFatBootSector } from '../signatures.js';
import { type Gpt, readGpt } from './gpt.js';
import {
  entriesOfSlots,
  isExtendedType,
  type MbrSlot,
  PROTECTIVE_TYPE,
  readLogicalPartitions,
  readMbrSlots,
} from './mbr.js';

export type PartitionScheme = 'mbr' | 'gpt' | 'hybrid' | 'none';
export type PartitionKind = 'primary' | 'extended' | 'logical' | 'gpt';

/** Something wrong with a partition table. Decoders collect these; rules judge them. */
export interface TableProblem {
  /** What is wrong, as one hyphenated word. */
  readonly code: string;
  /** What is wrong, in a plain sentence. */
  readonly text: string;
  /** Byte offset on the medium. */
  readonly at: number;
}

/** A used entry of a partition table. All sizes and offsets are bytes on the medium. */
export interface PartitionEntry {
  /** Number as partition tools give it: slot 1 to 4, logical partitions from 5, place in the array of a GPT. */
  readonly index: number;
  readonly kind: PartitionKind;
  /** Type byte in an MBR, type GUID (upper-case text) in a GPT. */
  readonly type: number | string;
  /** What the type means. */
  readonly typeName: string;
  /** Boot-flag byte of an MBR entry; null in a GPT. */
  readonly bootFlag: number | null;
  /** Name of a GPT entry; null in an MBR. */
  readonly name: string | null;
  readonly startByte: number;
  readonly bytes: number;
  /** True when it runs past the end of the medium. */
  readonly pastEnd: boolean;
  /** True when it shares bytes with another entry; an extended partition and its own logical ones do not count. */
  readonly overlaps: boolean;
  /** Index of the extended entry around a logical partition; null for any other. */
  readonly container: number | null;
  /** Where the entry itself stands, and its length there. */
  readonly at: number;
  readonly entryBytes: number;
}

/** An entry before it is compared with the others and with the medium. */
export type RawEntry = Omit<PartitionEntry, 'pastEnd' | 'overlaps'>;

export interface PartitionTable {
  /** Null when sector 0 could not be read: `unread` says why. */
  readonly scheme: PartitionScheme | null;
  /** Used entries in the order of the table; of a hybrid, those of its MBR first, then those that only its GPT has. */
  readonly entries: readonly PartitionEntry[];
  /** Set when entries may lack: a limit was met, or a part of the table could not be read. */
  readonly incomplete: Unseen | null;
  /** At most `limits.problems` of them; `problemsTotal` counts all. */
  readonly problems: readonly TableProblem[];
  readonly problemsTotal: number;
  /** True when any of the first 440 bytes is not zero; null when they were not read. */
  readonly bootCode: boolean | null;
  /** True when sector 0 by itself is a sound boot sector and a sound, non-empty partition table. */
  readonly bothDescribed: boolean;
  /** True when sector 0 is a boot sector that a driver could mount. */
  readonly soundBootSector: boolean;
  /** Bytes in a logical block, as the table counts them. */
  readonly sectorBytes: number;
  readonly mediumBytes: number;
  /** Why sector 0 could not be read. */
  readonly unread: ReadProblem | null;
}

/** Collects problems up to `limits.problems` and counts the rest. */
export class ProblemList {
  readonly kept: TableProblem[] = [];
  total = 0;
  add(code: string, at: number, text: string): void {
    this.total++;
    if (this.kept.length < limits.problems) this.kept.push({ code, text, at });
  }
}

/** Bytes of sector 0 that carry table and boot sector, whatever the sector size. */
const SECTOR_0_BYTES = 512;

/**
 * Reads the partition table of a medium. The order in which sector 0 is taken for one thing or the other is the
 * one of common system software: all four boot flags 00 or 80, else (with sound entries) a damaged MBR; an entry
 * of type EE means GPT; a sound boot sector means no table; what is left is an MBR. Block addresses of an MBR
 * count 512-byte sectors, as memory cards do, unless `sectorBytes` says otherwise. Never throws.
 */
export function readPartitionTable(source: ByteSource, sectorBytes = 512): PartitionTable {
  const problems = new ProblemList();
  const sector0 = source.size >= SECTOR_0_BYTES ? source.read(0, SECTOR_0_BYTES) : undefined;
  const result = (
    scheme: PartitionScheme | null,
    more: Partial<Omit<PartitionTable, 'scheme' | 'problems' | 'problemsTotal'>> = {},
  ): PartitionTable => ({
    scheme,
    entries: [],
    incomplete: null,
    problems: problems.kept,
    problemsTotal: problems.total,
    bootCode: null,
    bothDescribed: false,
    soundBootSector: false,
    sectorBytes,
    mediumBytes: source.size,
    unread: null,
    ...more,
  });
  if (sector0 === undefined) {
    problems.add('medium-too-small', 0, 'the medium is smaller than one sector of 512 bytes');
    return result('none');
  }
  if (sector0 instanceof ReadProblem)
    return result(null, { unread: sector0, incomplete: unseenFrom(sector0) });

  const slots = readMbrSlots(sector0);
  const mediumSectors = Math.floor(source.size / sectorBytes);
  const soundBootSector = isSoundBootSector(sector0);
  const signed = sector0[510] === 0x55 && sector0[511] === 0xaa;
  const bootCode = !isFilledWith(sector0.subarray(0, 440), 0);
  const common = { bootCode, soundBootSector };
  const flagsGood = slots.every((slot) => slot.bootFlag === 0 || slot.bootFlag === 0x80);

  if (!signed) {
    if (!soundBootSector && isSoundTable(slots, mediumSectors))
      problems.add(
        'missing-signature',
        510,
        'there are partition entries, but the mark 55 AA at byte 510 is missing: no driver takes this for a table',
      );
    else noteUnsoundBootSector(sector0, soundBootSector, problems);
    return result('none', common);
  }
  // An entry of type EE at sector 1 is protective whatever the flags are: drivers of GPT do not look at them.
  if (slots.some((slot) => slot.type === PROTECTIVE_TYPE && (flagsGood || slot.startSector === 1)))
    return readWithGpt(source, slots, problems, { ...common, sectorBytes }, result);
  if (soundBootSector)
    return result('none', { ...common, bothDescribed: flagsGood && isSoundTable(slots, mediumSectors) });
  // Odd boot flags: text or code where entries should be, unless all the rest of the entries makes sense.
  if (!flagsGood && !isSoundTable(slots, mediumSectors)) {
    noteUnsoundBootSector(sector0, soundBootSector, problems);
    return result('none', common);
  }
  if (!slots.some((slot) => slot.used) && looksLikeFatBootSector(sector0)) {
    noteUnsoundBootSector(sector0, soundBootSector, problems);
    return result('none', common);
  }
  noteSlotProblems(slots, problems);
  const chains = readLogicalPartitions(source, slots, sectorBytes, problems);
  const raw = [...entriesOfSlots(slots, sectorBytes), ...chains.entries];
  const entries = placed(raw, source.size, problems);
  return result('mbr', { ...common, entries, incomplete: chains.incomplete });
}

/** The rest of `readPartitionTable` once an entry of type EE was seen: GPT, or hybrid with another type beside it. */
function readWithGpt(
  source: ByteSource,
  slots: readonly MbrSlot[],
  problems: ProblemList,
  common: { bootCode: boolean; soundBootSector: boolean; sectorBytes: number },
  result: (scheme: PartitionScheme, more: Partial<PartitionTable>) => PartitionTable,
): PartitionTable {
  const gpt: Gpt = readGpt(source, problems);
  const sectorBytes = gpt.sectorBytes ?? common.sectorBytes;
  const mediumSectors = Math.floor(source.size / sectorBytes);
  const protective = slots.find((slot) => slot.type === PROTECTIVE_TYPE);
  if (protective && protective.startSector !== 1)
    problems.add(
      'protective-start',
      protective.at + 8,
      `the protective entry starts at sector ${protective.startSector}, not at sector 1`,
    );
  const others = slots.filter((slot) => slot.used && slot.type !== PROTECTIVE_TYPE);
  const bothDescribed = common.soundBootSector && isSoundTable(slots, mediumSectors);
  if (!others.some((slot) => slot.type !== 0)) {
    noteBootFlags(slots, problems);
    return result('gpt', {
      ...common,
      sectorBytes,
      bothDescribed,
      entries: placed(gpt.entries, source.size, problems),
      incomplete: gpt.incomplete,
    });
  }
  noteSlotProblems(slots, problems);
  const chains = readLogicalPartitions(source, slots, sectorBytes, problems);
  // Each half is compared with itself: that the MBR repeats entries of the GPT is what makes a hybrid.
  const fromMbr = placed([...entriesOfSlots(others, sectorBytes), ...chains.entries], source.size, problems);
  const fromGpt = placed(gpt.entries, source.size, problems).filter(
    (entry) => !fromMbr.some((other) => other.startByte === entry.startByte && other.bytes === entry.bytes),
  );
  return result('hybrid', {
    ...common,
    sectorBytes,
    bothDescribed,
    entries: [...fromMbr, ...fromGpt],
    incomplete: chains.incomplete ?? gpt.incomplete,
  });
}

/**
 * True when the four slots by themselves are a sound, non-empty table: entries of a type, inside the medium,
 * apart from each other, none at sector 0, and nothing in unused slots. Boot flags are not looked at.
 */
function isSoundTable(slots: readonly MbrSlot[], mediumSectors: number): boolean {
  const used = slots.filter((slot) => slot.type !== 0);
  if (used.length === 0) return false;
  return (
    slots.every((slot) => slot.type !== 0 || slot.blank) &&
    used.every(
      (slot) =>
        slot.startSector >= 1 && slot.sectors >= 1 && slot.startSector + slot.sectors <= mediumSectors,
    ) &&
    used.every((slot, i) =>
      used.every(
        (other, j) =>
          i === j ||
          slot.startSector + slot.sectors <= other.startSector ||
          other.startSector + other.sectors <= slot.startSector,
      ),
    )
  );
}

function noteUnsoundBootSector(sector0: Uint8Array, sound: boolean, problems: ProblemList): void {
  if (sound || !looksLikeFatBootSector(sector0)) return;
  for (const fault of fatFaults(sector0))
    problems.add('unsound-boot-sector', fault.at, `sector 0 looks like a FAT boot sector, but ${fault.text}`);
}

function noteBootFlags(slots: readonly MbrSlot[], problems: ProblemList): void {
  for (const slot of slots)
    if (slot.bootFlag !== 0 && slot.bootFlag !== 0x80)
      problems.add(
        'boot-flag',
        slot.at,
        `the boot flag of entry ${slot.slot} is 0x${slot.bootFlag.toString(16).padStart(2, '0')}; only 0x00 and 0x80 are allowed`,
      );
}

function noteSlotProblems(slots: readonly MbrSlot[], problems: ProblemList): void {
  noteBootFlags(slots, problems);
  for (const slot of slots) {
    if (!slot.used) continue;
    if (slot.type === 0)
      problems.add(
        'type-zero',
        slot.at + 4,
        `entry ${slot.slot} has a length but type 0x00, which means unused`,
      );
    if (slot.startSector === 0)
      problems.add(
        'entry-at-sector-0',
        slot.at + 8,
        `entry ${slot.slot} starts at the sector of the table itself`,
      );
    if (slot.sectors === 0)
      problems.add('entry-without-length', slot.at + 12, `entry ${slot.slot} has a type but no length`);
  }
  const active = slots.filter((slot) => slot.used && slot.bootFlag === 0x80);
  if (active[1])
    problems.add('two-active', active[1].at, `${active.length} entries are marked active; only one may be`);
  const extended = slots.filter((slot) => isExtendedType(slot.type));
  if (extended[1])
    problems.add(
      'two-extended',
      extended[1].at + 4,
      `${extended.length} entries are extended; only one may be`,
    );
}

/** Adds what only the medium and the other entries tell: past the end, overlapping. */
function placed(raw: readonly RawEntry[], mediumBytes: number, problems: ProblemList): PartitionEntry[] {
  const overlapping = overlappingEntries(raw);
  return raw.map((entry) => {
    const pastEnd = entry.startByte + entry.bytes > mediumBytes;
    const overlaps = overlapping.has(entry);
    const name = `${entry.kind === 'gpt' ? 'GPT ' : ''}entry ${entry.index}`;
    if (pastEnd) problems.add('entry-past-end', entry.at, `${name} runs past the end of the medium`);
    if (overlaps) problems.add('entries-overlap', entry.at, `${name} shares bytes with another entry`);
    return { ...entry, pastEnd, overlaps };
  });
}

/** Entries that share bytes with another one, an extended partition and its own logical ones left out. */
function overlappingEntries(entries: readonly RawEntry[]): Set<RawEntry> {
  const found = new Set<RawEntry>();
  // At most limits.partitionEntries + 4 + limits.logicalPartitions of them, so pairs are affordable.
  for (let i = 0; i < entries.length; i++)
    for (let j = i + 1; j < entries.length; j++) {
      const one = entries[i]!;
      const other = entries[j]!;
      if (one.container === other.index && other.kind === 'extended') continue;
      if (other.container === one.index && one.kind === 'extended') continue;
      if (one.bytes === 0 || other.bytes === 0) continue;
      if (one.startByte + one.bytes <= other.startByte || other.startByte + other.bytes <= one.startByte)
        continue;
      found.add(one);
      found.add(other);
    }
  return found;
}

// ---- which partition a boot loader takes --------------------------------------------------------------------

/** The stretch of the medium that a boot loader takes for its volume, or why there is none. */
export type TakenPartition =
  | {
      readonly found: true;
      /** Number of the entry, from 1; null when the loader takes the whole medium. */
      readonly index: number | null;
      readonly startByte: number;
      /** As the table says: it may run past the medium. */
      readonly bytes: number;
      readonly entry: PartitionEntry | null;
    }
  | {
      readonly found: false;
      /** Plain words. */
      readonly reason: string;
      /** Set when it cannot be told whether there is one: the profile is silent, or something was not read. */
      readonly unseen: Unseen | null;
      /** Where an owner would expect the volume, for an explanation: never what the loader takes. */
      readonly closest: { readonly startByte: number; readonly bytes: number } | null;
    };

/** What starts at a place of the medium: `FAT` without its width, another file system, or why it was not seen. */
export type Probe = (startByte: number, bytes: number) => 'FAT' | FileSystemName | ReadProblem;

export interface TakingHabits {
  /** False when the loader does not find logical partitions. Taken as true when left out. */
  readonly logicalPartitions?: boolean;
  /** True when `first-fat` stops at exFAT too, because this loader reads it. */
  readonly readsExfat?: boolean;
}

/**
 * The stretch that a boot loader takes: `first-slot`, `first-fat`, `active`, `slot-N` or `whole-card`; anything
 * else, `any` and undefined among it, answers with an unseen marker. On a medium without a table every habit but
 * `whole-card` takes the whole medium if its sector 0 is a sound boot sector: real drivers do, and whether this
 * loader may is a matter of the rule on partitioning.
 */
export function takenPartition(
  table: PartitionTable,
  takesPartition: string | undefined,
  mediumBytes: number,
  probe: Probe,
  habits: TakingHabits = {},
): TakenPartition {
  const slotNumber = /^slot-([1-9][0-9]{0,3})$/.exec(takesPartition ?? '')?.[1];
  const known =
    slotNumber !== undefined ||
    takesPartition === 'first-slot' ||
    takesPartition === 'first-fat' ||
    takesPartition === 'active' ||
    takesPartition === 'whole-card';
  if (!known)
    return unseenTaken(
      new Unseen(
        'profile-silent',
        'the board profile does not say which partition the boot loader takes',
        'add loader.takesPartition to the board profile',
      ),
    );
  const whole = { found: true, index: null, startByte: 0, bytes: mediumBytes, entry: null } as const;
  if (takesPartition === 'whole-card') return whole;
  if (table.unread) return unseenTaken(unseenFrom(table.unread));
  if (table.scheme === 'none') {
    if (table.soundBootSector) return whole;
    return {
      found: false,
      reason: 'the medium starts neither with a partition table nor with a file system',
      unseen: null,
      closest: { startByte: 0, bytes: mediumBytes },
    };
  }
  const take = (entry: PartitionEntry): TakenPartition => ({
    found: true,
    index: entry.index,
    startByte: entry.startByte,
    bytes: entry.bytes,
    entry,
  });
  const volumes = table.entries.filter((entry) => entry.kind !== 'extended');
  const closest = volumes[0] ? { startByte: volumes[0].startByte, bytes: volumes[0].bytes } : null;
  /** Not found, unless the list of entries may lack the one that was wanted. */
  const notFound = (reason: string, wanted: 'array' | 'slot' | 'any'): TakenPartition => {
    const mayLack = table.incomplete && (wanted === 'any' || (wanted === 'array' && table.scheme === 'gpt'));
    return { found: false, reason, unseen: mayLack ? table.incomplete : null, closest };
  };

  if (takesPartition === 'first-fat') {
    for (const entry of volumes) {
      if (entry.kind === 'logical' && habits.logicalPartitions === false) continue;
      const kind = probe(entry.startByte, entry.bytes);
      // An entry that was not read may be the one: which later one the loader takes cannot be told then.
      if (kind instanceof ReadProblem) {
        if (entry.startByte >= mediumBytes) continue;
        return unseenTaken(unseenFrom(kind), closest);
      }
      if (kind === 'FAT' || (kind === 'exFAT' && habits.readsExfat === true)) return take(entry);
    }
    return notFound(
      volumes.length === 0 ? 'the partition table has no entry' : 'no partition holds a FAT file system',
      'any',
    );
  }
  if (takesPartition === 'active') {
    if (table.scheme === 'gpt') return notFound('a GPT has no boot flag, so no partition is active', 'slot');
    const active = table.entries.find((entry) => entry.kind === 'primary' && entry.bootFlag === 0x80);
    return active ? take(active) : notFound('no partition is marked active', 'slot');
  }
  if (table.scheme === 'gpt') {
    const wanted = slotNumber === undefined ? table.entries[0] : byIndex(table.entries, Number(slotNumber));
    return wanted
      ? take(wanted)
      : notFound(`entry ${slotNumber ?? '1'} of the partition table is not used`, 'array');
  }
  const number = Number(slotNumber ?? '1');
  const wanted = byIndex(
    table.entries.filter((entry) => entry.kind !== 'gpt'),
    number,
  );
  if (wanted?.kind === 'logical' && habits.logicalPartitions === false)
    return notFound(`entry ${number} is a logical partition, which the boot loader does not find`, 'slot');
  return wanted
    ? take(wanted)
    : notFound(
        `slot ${number} of the partition table holds no partition of its own`,
        number > MBR_SLOTS ? 'any' : 'slot',
      );
}

const MBR_SLOTS = 4;

const byIndex = (entries: readonly PartitionEntry[], index: number): PartitionEntry | undefined =>
  entries.find((entry) => entry.index === index);

const unseenTaken = (
  unseen: Unseen,
  closest: { startByte: number; bytes: number } | null = null,
): TakenPartition => ({ found: false, reason: unseen.text, unseen, closest });
