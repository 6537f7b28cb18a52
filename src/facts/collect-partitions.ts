/** Facts about the partition table, the partition that the boot loader takes, and the kind of its volume. */
import type { ResolvedProfile } from '../board/profile.js';
import { type ByteSource, ReadProblem, WindowSource } from '../bytes/byte-source.js';
import {
  type PartitionEntry,
  type PartitionTable,
  type Probe,
  readPartitionTable,
  type TakenPartition,
  takenPartition,
} from '../card/partition-table/partition-table.js';
import { type Recognised, type Residue, recognise } from '../card/recognise.js';
import { fatWidthByCount } from '../card/signatures.js';
import { Absent, FactList, type FactRecord, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import type { FileSystemName } from './schema.js';
import { unseenFrom } from './unseen-from.js';

/** Result of `collectPartitions`: the table, and the stretch of the medium that the boot loader takes. */
export interface CollectedPartitions {
  readonly table: PartitionTable;
  readonly taken: TakenPartition;
}

/**
 * Reads the partition table of a medium and sets every fact `partitionTable.*` and `partition.*`. Without a
 * board, or with one that does not say which partition its loader takes, `partition.*` is unseen. `sectorBytes` is the
 * unit in which the table counts: 512 unless the medium has larger sectors.
 */
export function collectPartitions(
  store: FactStore,
  source: ByteSource,
  board: ResolvedProfile | null,
  sectorBytes?: number,
): CollectedPartitions {
  const table = readPartitionTable(source, sectorBytes);
  const probes = new Map<string, Recognised | ReadProblem>();
  const recognisedAt = (startByte: number, bytes: number): Recognised | ReadProblem => {
    const key = `${startByte}+${bytes}`;
    const kept = probes.get(key);
    if (kept) return kept;
    const window = volumeWindow(source, startByte, bytes);
    const got = window instanceof ReadProblem ? window : recognise(window);
    probes.set(key, got);
    return got;
  };
  const probe: Probe = (startByte, bytes) => {
    const got = recognisedAt(startByte, bytes);
    return got instanceof ReadProblem ? got : got.fileSystem;
  };
  const taken = takenBy(table, source.size, probe, board);

  if (table.unread || table.scheme === null) {
    store.setGroup('partitionTable', unseenFrom(table.unread ?? new ReadProblem(0, 512, 'damaged')));
  } else {
    store.set('partitionTable.scheme', table.scheme, { where: { offset: 0, length: 512 } });
    store.set('partitionTable.possibleSchemes', new FactList([table.scheme]), {
      where: { offset: 0, length: 512 },
    });
    store.set('partitionTable.bothDescribed', table.bothDescribed, { where: { offset: 0, length: 512 } });
    store.set('partitionTable.entries', entryFacts(table, taken, source, recognisedAt));
    store.set('partitionTable.problems', problemFacts(table));
    store.set(
      'partitionTable.bootCode',
      table.bootCode ?? new Unseen('damaged', 'the medium has no whole first sector'),
      { where: { offset: 0, length: 440 } },
    );
  }
  partitionFacts(store, table, taken);
  return { table, taken };
}

/**
 * The volume that starts at a place of the medium, as a source of its own: cut where the medium ends, so that
 * nothing past its end is ever asked for. A ReadProblem when it starts past the end.
 */
export function volumeWindow(source: ByteSource, startByte: number, bytes: number): ByteSource | ReadProblem {
  const length = Math.min(bytes, source.size - startByte);
  if (!(startByte >= 0 && length > 0)) return new ReadProblem(startByte, Math.max(bytes, 0), 'past-end');
  return startByte === 0 && length === source.size ? source : new WindowSource(source, startByte, length);
}

const noBoard = new Unseen(
  'profile-silent',
  'no board was named, so it is not known which partition its boot loader takes',
  'name the board with --board',
);

/** Why nobody can say which partition the loader takes, or null when the profile says it for this machine. */
export function takingUnknown(board: ResolvedProfile | null): Unseen | null {
  if (!board) return noBoard;
  for (const key of ['loader.takesPartition', 'loader.logicalPartitions', 'loader']) {
    const open = board.open[key];
    if (open) return new Unseen('not-told', open.text, open.settle);
  }
  return null;
}

function takenBy(
  table: PartitionTable,
  mediumBytes: number,
  probe: Probe,
  board: ResolvedProfile | null,
): TakenPartition {
  const unknown = takingUnknown(board);
  if (board === null || unknown !== null) {
    const unseen = unknown ?? noBoard;
    return { found: false, reason: unseen.text, unseen, closest: null };
  }
  const { takesPartition, logicalPartitions, fileSystems } = board.loader;
  return takenPartition(table, takesPartition, mediumBytes, probe, {
    logicalPartitions: logicalPartitions !== false,
    readsExfat: Array.isArray(fileSystems) && fileSystems.includes('exFAT'),
  });
}

function entryFacts(
  table: PartitionTable,
  taken: TakenPartition,
  source: ByteSource,
  recognisedAt: (startByte: number, bytes: number) => Recognised | ReadProblem,
): FactList {
  const items = table.entries.map(
    (entry): FactRecord => ({
      index: entry.index,
      kind: entry.kind,
      type: entry.type,
      typeName: entry.typeName,
      bootFlag: entry.bootFlag ?? new Absent('a GPT has no boot flags'),
      startByte: entry.startByte,
      bytes: entry.bytes,
      pastEnd: entry.pastEnd,
      overlaps: entry.overlaps,
      fileSystem: fileSystemFact(entry, source, recognisedAt),
      taken: taken.found ? taken.entry === entry : (taken.unseen ?? false),
    }),
  );
  return new FactList(items, table.incomplete ?? undefined);
}

function fileSystemFact(
  entry: PartitionEntry,
  source: ByteSource,
  recognisedAt: (startByte: number, bytes: number) => Recognised | ReadProblem,
): FactValue {
  if (entry.kind === 'extended') return new Absent('an extended partition holds partitions, no file system');
  if (entry.bytes === 0) return new Absent('the partition has no length');
  const got = recognisedAt(entry.startByte, entry.bytes);
  if (got instanceof ReadProblem)
    return unseenFrom(new ReadProblem(entry.startByte + got.at, got.length, got.cause, got.detail));
  if (got.fileSystem !== 'FAT') return got.fileSystem;
  const sector0 = source.read(entry.startByte, 512);
  return sector0 instanceof ReadProblem ? unseenFrom(sector0) : fatWidthByCount(sector0);
}

function problemFacts(table: PartitionTable): FactList {
  const kept = table.problems.length;
  return new FactList(
    table.problems.map(({ code, text, at }) => ({ code, text, at })),
    table.problemsTotal > kept
      ? new Unseen('over-limit', `${table.problemsTotal} problems were met; the first ${kept} are listed`)
      : undefined,
  );
}

function partitionFacts(store: FactStore, table: PartitionTable, taken: TakenPartition): void {
  if (!taken.found) {
    if (taken.unseen) {
      store.setGroup('partition', taken.unseen);
      return;
    }
    store.set('partition.found', false, { origin: 'derived' });
    store.setGroup('partition', new Absent(taken.reason));
    return;
  }
  store.set('partition.found', true, { origin: 'derived' });
  const { entry } = taken;
  const where = entry ? { offset: entry.at, length: entry.entryBytes } : { offset: 0, length: 512 };
  store.set('partition.startByte', taken.startByte, { where });
  store.set('partition.bytes', taken.bytes, { where });
  if (!entry) {
    store.setGroup('partition', new Absent('the boot loader takes the whole card, not an entry of a table'));
    if (table.scheme !== null)
      store.set('partition.othersUsed', table.incomplete ?? table.entries.length, { origin: 'derived' });
    else if (table.incomplete) store.set('partition.othersUsed', table.incomplete);
    return;
  }
  store.set('partition.index', entry.index, { where });
  store.set('partition.kind', entry.kind, { where });
  store.set('partition.type', entry.type, { where });
  store.set('partition.bootFlag', entry.bootFlag ?? new Absent('a GPT has no boot flags'), { where });
  store.set('partition.pastEnd', entry.pastEnd, { where, origin: 'derived' });
  // An entry that was not read might overlap this one, or be a further one.
  store.set('partition.overlaps', entry.overlaps || (table.incomplete ?? false), {
    where,
    origin: 'derived',
  });
  const others = table.entries.filter(
    (other) => other !== entry && !(other.kind === 'extended' && entry.container === other.index),
  ).length;
  store.set('partition.othersUsed', table.incomplete && others === 0 ? table.incomplete : others, {
    origin: 'derived',
  });
}

/** Facts that only a reader of FAT can set. */
const fatFactGroups = ['volume', 'damage', 'files', 'filesTotal', 'deletedEntries', 'updateFile'] as const;

/**
 * Sets what recognition alone says of the volume that the boot loader takes: `volume.fileSystem`, of exFAT also
 * its sizes, label and dirty mark, and for every volume other than FAT a marker in place of what a FAT reader
 * would say. Of FAT nothing is set: its reader knows the width. `startByte` is where the volume starts.
 */
export function collectRecognised(store: FactStore, result: Recognised | ReadProblem, startByte = 0): void {
  if (result instanceof ReadProblem) {
    const onMedium = new ReadProblem(startByte + result.at, result.length, result.cause, result.detail);
    for (const group of fatFactGroups) store.setGroup(group, unseenFrom(onMedium));
    return;
  }
  if (result.fileSystem === 'FAT') return;
  const marker = new Unseen(
    'not-visible',
    `flashworthy reads FAT; this volume is ${nameText(result.fileSystem)}`,
  );
  for (const group of fatFactGroups) store.setGroup(group, marker);
  store.set('volume.startByte', startByte, { origin: 'derived' });
  store.set('volume.fileSystem', result.fileSystem, { where: { offset: startByte + result.at } });
  bootSectorFaults(store, result, startByte);
  const { exfat } = result;
  if (!exfat) return;
  const field = (at: number, length: number): { where: { offset: number; length: number } } => ({
    where: { offset: startByte + at, length },
  });
  store.set('volume.bytes', exfat.bytes, field(72, 8));
  store.set('volume.clusterCount', exfat.clusterCount, field(92, 4));
  store.set('volume.serial', exfat.serial, field(100, 4));
  store.set('volume.cleanShutdown', !exfat.dirty, field(106, 2));
  store.set('volume.hardErrorsNoted', exfat.mediaFailure, field(106, 2));
  store.set('volume.bytesPerSector', exfat.bytesPerSector, field(108, 1));
  store.set('volume.clusterBytes', exfat.clusterBytes, field(109, 1));
  store.set('volume.fatCount', exfat.fatCount, field(110, 1));
  const label = exfat.label;
  if (label instanceof ReadProblem)
    store.set(
      'volume.label',
      unseenFrom(new ReadProblem(startByte + label.at, label.length, label.cause, label.detail)),
    );
  else store.set('volume.label', label ?? new Absent('the root directory has no label entry'));
}

/** What is wrong with a boot sector that was meant for FAT and that no driver takes; absent for other volumes. */
function bootSectorFaults(store: FactStore, { fatFaults }: Recognised, startByte: number): void {
  if (fatFaults.length === 0) {
    store.set('damage.bootSector', new Absent('the volume does not begin with a FAT boot sector'));
    return;
  }
  const [first] = fatFaults;
  const where = { where: { offset: startByte + (first?.at ?? 0) } };
  store.set('damage.bootSector', fatFaults.length, where);
  store.set('damage.any', true, where);
  const unread = new Unseen('damaged', 'nothing behind the boot sector could be read');
  const items = fatFaults.map(
    ({ text, at }): FactRecord => ({
      kind: 'boot-sector',
      text: `the boot sector looks like that of FAT, but ${text}`,
      path: new Absent('it touches no single file'),
      at: startByte + at,
      touchesUpdateFile: unread,
    }),
  );
  store.set('damage.list', new FactList(items, unread));
}

const nameText = (fileSystem: FileSystemName): string =>
  fileSystem === 'empty' ? 'blank' : fileSystem === 'not recognised' ? 'of no known kind' : fileSystem;

/** Sets `volume.residues` from what was found on the medium. */
export function collectResidues(store: FactStore, found: readonly Residue[]): void {
  store.set('volume.residues', new FactList(found.map(({ what, at }) => ({ what, at }))));
}
