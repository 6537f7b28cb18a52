import { type ByteSource, ReadProblem } from '../../bytes/byte-source.js';
import { latin1 } from '../../bytes/cursor.js';
import { limits } from '../../bytes/limits.js';
import { clusterStart, type FatBootSector, type FatGeometry, type FieldProblem, readBootSector } from './boot-sector.js';
import { type DeletedEntry, FatEntry, FolderReader, type FolderSink, type SlotProblemKind } from './directory.js';
import { type FsInfo, fsInfoOddities, readFsInfo } from './fs-info.js';
import { type ChainEnd, ClusterOwners } from './owners.js';
import { compareTables, type FatTable, fatMarks, finishTable, type RawTable, readTable } from './table.js';

/** What is wrong with a volume's structures: what `fsck.fat` would repair. */
export interface Damage {
  readonly kind:
    | SlotProblemKind
    | 'boot-sector'
    | 'fat-copies-differ'
    | 'boot-backup-differs'
    | 'loop'
    | 'cross-link'
    | 'lost-clusters'
    | 'short-chain'
    | 'long-chain'
    | 'into-free'
    | 'into-bad'
    | 'out-of-range'
    | 'fat-start';
  readonly text: string;
  /** From the start of the volume; null when it is not one place. */
  readonly at: number | null;
  /** The file or folder that it touches, and a second one; null when it touches the volume as a whole. */
  readonly entry: FatEntry | null;
  readonly other: FatEntry | null;
  /** The folder whose slots it was found in; undefined when it was not found in a folder. */
  readonly folder?: FatEntry | null;
}

/** A FAT volume as it stands: raw fields, every file, and what is wrong, in one pass over its metadata. */
export interface FatVolume {
  readonly source: ByteSource;
  readonly boot: FatBootSector;
  readonly geometry: FatGeometry | null;
  readonly fsInfo: FsInfo | null;
  /** The first FAT copy that is in force; null when it could not be read. */
  readonly table: FatTable | null;
  /** The other copies, only where they differ from the first. */
  readonly otherTables: readonly FatTable[];
  /** Files and folders: each folder's in the order of its slots, outer folders before inner ones. */
  readonly entries: readonly FatEntry[];
  readonly labels: readonly FatEntry[];
  readonly deleted: readonly DeletedEntry[];
  /** Why `entries` may lack some: a folder or the FAT could not be read, or a limit was met. */
  readonly incomplete: ReadProblem | null;
  /** The first `limits.problems` of them. */
  readonly damage: readonly Damage[];
  readonly damageCounts: Readonly<Record<string, number>>;
  readonly oddities: readonly FieldProblem[];
  readonly fatCopiesMatch: boolean | ReadProblem;
  readonly bootBackupMatches: boolean | ReadProblem | null;
  readonly cleanShutdown: boolean | ReadProblem;
  readonly hardErrorsNoted: boolean | ReadProblem;
  readonly freeClusters: number | ReadProblem;
  readonly lostClusters: number | ReadProblem;
  /** Slots of the root folder up to its end mark. */
  readonly rootSlotsUsed: number;
  readonly rootEntries: number;
  /** True when nothing of the live file system lies in the stretch, which counts from the start of the volume. */
  readonly isFree: (at: number, length: number) => boolean;
}

/** Number of the root folder in the cluster-owner map. */
const rootId = 1;

/** Reads a FAT volume whose byte 0 is the source's byte 0. Never throws; what cannot be read is told in its place. */
export function readFatVolume(source: ByteSource): FatVolume | ReadProblem {
  const sector = source.read(0, 512);
  if (sector instanceof ReadProblem) return sector;
  return new VolumeReader(source, readBootSector(sector.slice())).read();
}

class VolumeReader {
  private readonly entries: FatEntry[] = [];
  private readonly labels: FatEntry[] = [];
  private readonly deleted: DeletedEntry[] = [];
  private readonly damage: Damage[] = [];
  private readonly counts: Record<string, number> = {};
  private readonly oddities: FieldProblem[];
  private incomplete: ReadProblem | null = null;
  private nextId = rootId;
  private readonly byId: (FatEntry | null)[] = [null, null];

  constructor(
    private readonly source: ByteSource,
    private readonly boot: FatBootSector,
  ) {
    this.oddities = [...boot.oddities];
  }

  read(): FatVolume {
    const { boot, source } = this;
    for (const { text, at } of boot.problems) this.note({ kind: 'boot-sector', text, at, entry: null, other: null });
    const { geometry } = boot;
    const fsInfo = readFsInfo(source, boot);
    const backup = this.backupMatches();
    const tables = geometry === null ? new ReadProblem(0, 512, 'damaged') : this.readTables(geometry);
    if (geometry === null || tables instanceof ReadProblem) {
      const problem = tables instanceof ReadProblem ? tables : new ReadProblem(0, 512, 'damaged');
      return this.result(geometry, fsInfo, null, [], problem, backup);
    }
    const owners = new ClusterOwners(tables.first);
    const rootSlots = this.walk(geometry, tables.first, owners);
    const census = owners.census();
    const lost = this.incomplete ?? census.lost;
    if (typeof lost === 'number' && lost > 0)
      this.note({
        kind: 'lost-clusters',
        text:
          lost === 1
            ? '1 cluster is marked as used but belongs to no file'
            : `${lost} clusters are marked as used but belong to no file`,
        at: clusterStart(geometry, census.firstLost),
        entry: null,
        other: null,
      });
    if (!(fsInfo instanceof ReadProblem)) this.oddities.push(...fsInfoOddities(boot, fsInfo, census.free));
    this.labelOddities();
    return {
      ...this.result(geometry, fsInfo, tables, rootSlots, null, backup),
      freeClusters: census.free,
      lostClusters: lost,
      isFree: (at, length) => isFreeStretch(boot, geometry, tables.first, at, length),
    };
  }

  private note(damage: Damage): void {
    this.counts[damage.kind] = (this.counts[damage.kind] ?? 0) + 1;
    if (this.damage.length < limits.problems) this.damage.push(damage);
  }

  /** The FAT in force and those that differ from it (FAT specification, section 3.3: BPB_ExtFlags). */
  private readTables(geometry: FatGeometry): Tables | ReadProblem {
    if (geometry.clusterCount > limits.clusters)
      return new ReadProblem(geometry.fatStart, geometry.fatBytes, 'over-limit');
    const { extendedFlags, media } = this.boot;
    const mirrored = (extendedFlags & 0x80) === 0;
    const active = mirrored ? 0 : Math.min(extendedFlags & 0x0f, geometry.fatCount - 1);
    const first = readTable(this.source, geometry, active);
    if (first instanceof ReadProblem) return first;
    let match: boolean | ReadProblem = true;
    const others: RawTable[] = [];
    for (let copy = 0; copy < Math.min(geometry.fatCount, 4); copy++) {
      if (copy === active) continue;
      const other = readTable(this.source, geometry, copy);
      if (other instanceof ReadProblem) {
        match = match === true ? other : match;
        continue;
      }
      const difference = compareTables(first, other);
      if (difference.clusters === 0 && !difference.start) continue;
      match = false;
      others.push(other);
      // Without mirroring the other copies are out of date by design; a loader that reads the first one is not.
      if (!mirrored) continue;
      this.note({
        kind: 'fat-copies-differ',
        text: difference.start
          ? 'the copies of the FAT begin with different marks'
          : `the copies of the FAT differ in ${difference.clusters === 1 ? '1 entry' : `${difference.clusters} entries`}, first in that of cluster ${difference.firstCluster}`,
        at: geometry.fatStart + Math.floor((difference.firstCluster * geometry.entryBits) / 8),
        entry: null,
        other: null,
      });
    }
    const table = finishTable(first);
    // FAT specification, section 4: the low byte of FAT[0] repeats the media byte.
    if (((table.entries[0] ?? 0) & 0xff) !== media)
      this.note({
        kind: 'fat-start',
        text: 'the first entry of the FAT does not repeat the media byte of the boot sector',
        at: geometry.fatStart,
        entry: null,
        other: null,
      });
    return { first: table, others: others.map(finishTable), match };
  }

  private backupMatches(): boolean | ReadProblem | null {
    const { backupBootSector: sector, reservedSectors, bytesPerSector, bytes, isFat32Form } = this.boot;
    if (!isFat32Form || sector === 0 || sector === 0xffff || sector >= reservedSectors) return null;
    const backup = this.source.read(sector * bytesPerSector, 512);
    if (backup instanceof ReadProblem) return backup;
    // Writers refresh label, serial number and dirty mark in the first copy alone: only the geometry is compared.
    for (let at = 11; at < 64; at++)
      if (bytes[at] !== backup[at]) {
        this.note({
          kind: 'boot-backup-differs',
          text: `the backup boot sector describes another volume: byte ${at} differs`,
          at: sector * bytesPerSector + at,
          entry: null,
          other: null,
        });
        return false;
      }
    return true;
  }

  /** Reads every folder, outer ones first, and walks every chain through the owner map. Returns what the root uses. */
  private walk(geometry: FatGeometry, table: FatTable, owners: ClusterOwners): RootUse {
    const reader = new FolderReader(this.sink(), geometry.entryBits === 32);
    const root = { slots: 0, entries: 0 };
    this.nextId = rootId + 1;
    this.folder = null;
    reader.begin(null, null);
    if (geometry.rootBytes > 0) {
      const bytes = this.source.read(geometry.rootStart, geometry.rootBytes);
      if (bytes instanceof ReadProblem) {
        this.giveUp(bytes);
        return root;
      }
      reader.slots(bytes, geometry.rootStart);
      reader.end(geometry.rootStart + geometry.rootBytes);
    } else {
      owners.walk(this.boot.rootCluster, rootId);
      this.folderChain(null, owners, geometry);
      this.readFolder(reader, geometry, table, this.boot.rootCluster, owners.clusters);
    }
    root.slots = reader.slotsUsed;
    root.entries = this.entries.length;
    for (let at = 0; at < this.entries.length; at++) {
      const entry = this.entries[at]!;
      if (!entry.isFolder) {
        this.fileChain(entry, owners, geometry);
        continue;
      }
      this.openFolder(entry, reader, owners, geometry, table);
      if (!reader.complete) {
        this.giveUp(new ReadProblem(0, 0, 'over-limit', `more than ${limits.files} files`));
        break;
      }
    }
    return root;
  }

  private folder: FatEntry | null = null;

  private sink(): FolderSink {
    return {
      entry: (entry) => {
        this.entries.push(entry);
        this.byId[entry.id] = entry;
      },
      label: (entry) => {
        this.labels.push(entry);
        this.byId[entry.id] = entry;
      },
      deleted: (entry) => {
        if (this.deleted.length < limits.files) this.deleted.push(entry);
      },
      problem: (kind, at, text, entry, other) =>
        this.note({ kind, text, at, entry: entry ?? null, other: other ?? null, folder: this.folder }),
      oddity: (code, at, text) => {
        if (this.oddities.length < limits.problems) this.oddities.push({ code, text, at });
      },
      nextId: () => (this.nextId - rootId > limits.files ? 0 : this.nextId++),
    };
  }

  private giveUp(problem: ReadProblem): void {
    this.incomplete ??= problem;
  }

  private openFolder(
    entry: FatEntry,
    reader: FolderReader,
    owners: ClusterOwners,
    geometry: FatGeometry,
    table: FatTable,
  ): void {
    this.folder = entry;
    if (entry.firstCluster === 0) {
      this.note({
        kind: 'bad-folder',
        text: `folder ${entry.path} has no cluster`,
        at: entry.entryAt,
        entry,
        other: null,
        folder: entry.folder,
      });
      this.giveUp(new ReadProblem(entry.entryAt, 32, 'damaged'));
      return;
    }
    owners.walk(entry.firstCluster, entry.id);
    this.folderChain(entry, owners, geometry);
    // A folder that is its own ancestor, or shares its first cluster, was read already under its owner's name.
    if (owners.clusters === 0) return;
    let depth = 0;
    for (let up: FatEntry | null = entry; up !== null; up = up.folder) depth++;
    if (depth > limits.folderDepth) {
      this.giveUp(new ReadProblem(entry.entryAt, 32, 'over-limit', `folders more than ${limits.folderDepth} deep`));
      return;
    }
    const parent = entry.folder?.firstCluster ?? 0;
    reader.begin(entry, { own: entry.firstCluster, parent });
    this.readFolder(reader, geometry, table, entry.firstCluster, owners.clusters);
  }

  /** Reads the slots of a folder along its chain, one read for each unbroken stretch of clusters. */
  private readFolder(
    reader: FolderReader,
    geometry: FatGeometry,
    table: FatTable,
    start: number,
    clusters: number,
  ): void {
    let left = limits.folderBytes;
    let last = 0;
    for (const run of runs(table, geometry, start, clusters)) {
      const length = Math.min(run.length, left);
      const bytes = this.source.read(run.at, length);
      if (bytes instanceof ReadProblem) {
        this.giveUp(bytes);
        return;
      }
      reader.slots(bytes, run.at);
      last = run.at + length;
      left -= length;
      if (left === 0) {
        if (length < run.length) this.giveUp(new ReadProblem(last, run.length - length, 'over-limit'));
        break;
      }
    }
    reader.end(last);
  }

  private folderChain(entry: FatEntry | null, owners: ClusterOwners, geometry: FatGeometry): void {
    const whole = owners.end === 'end';
    if (entry !== null) entry.chain = this.summary(owners, geometry, entry.firstCluster, whole);
    if (whole) return;
    this.chainDamage(owners, geometry, entry, entry === null ? 'the root folder' : `folder ${entry.path}`);
    this.giveUp(new ReadProblem(entry?.entryAt ?? geometry.dataStart, 32, 'damaged'));
  }

  private fileChain(entry: FatEntry, owners: ClusterOwners, geometry: FatGeometry): void {
    const wanted = Math.ceil(entry.bytes / geometry.clusterBytes);
    if (entry.firstCluster === 0) {
      entry.chain = { clusters: 0, fragments: 0, startByte: 0, endByte: 0, usesLastCluster: false, whole: entry.bytes === 0 };
      if (entry.bytes > 0)
        this.note({
          kind: 'short-chain',
          text: `${entry.path} claims ${entry.bytes} bytes and has no cluster`,
          at: entry.entryAt,
          entry,
          other: null,
        });
      return;
    }
    owners.walk(entry.firstCluster, entry.id);
    const whole = owners.end === 'end' && owners.clusters === wanted;
    entry.chain = this.summary(owners, geometry, entry.firstCluster, whole);
    if (whole) return;
    if (owners.end !== 'end') this.chainDamage(owners, geometry, entry, entry.path);
    else {
      const short = owners.clusters < wanted;
      this.note({
        kind: short ? 'short-chain' : 'long-chain',
        text: `${entry.path} claims ${entry.bytes} bytes, which takes ${wanted} clusters, and its chain has ${owners.clusters}`,
        at: entry.entryAt,
        entry,
        other: null,
      });
    }
  }

  private summary(owners: ClusterOwners, geometry: FatGeometry, first: number, whole: boolean) {
    const { clusters, fragments, highest } = owners;
    if (clusters === 0) return { clusters, fragments: 0, startByte: 0, endByte: 0, usesLastCluster: false, whole };
    return {
      clusters,
      fragments,
      startByte: clusterStart(geometry, first),
      endByte: clusterStart(geometry, highest) + geometry.clusterBytes,
      usesLastCluster: highest === geometry.clusterCount + 1,
      whole,
    };
  }

  private chainDamage(owners: ClusterOwners, geometry: FatGeometry, entry: FatEntry | null, what: string): void {
    const { end, endCluster } = owners;
    const other = end === 'cross-link' ? (this.byId[owners.otherOwner] ?? null) : null;
    const others = owners.otherOwner === rootId ? 'the root folder' : (other?.path ?? 'another file');
    const texts: Record<Exclude<ChainEnd, 'end'>, string> = {
      free: `the chain of ${what} runs into cluster ${endCluster}, which is marked free`,
      bad: `the chain of ${what} runs into cluster ${endCluster}, which is marked bad`,
      'out-of-range': `the chain of ${what} leads to cluster ${endCluster}, which does not exist`,
      loop: `the chain of ${what} runs in a circle`,
      'cross-link': `the chain of ${what} runs into cluster ${endCluster}, which belongs to ${others}`,
    };
    const kinds = { free: 'into-free', bad: 'into-bad', 'out-of-range': 'out-of-range', loop: 'loop', 'cross-link': 'cross-link' } as const;
    const ending = end as Exclude<ChainEnd, 'end'>;
    this.note({
      kind: kinds[ending],
      text: texts[ending],
      at: endCluster >= 2 && endCluster <= geometry.clusterCount + 1 ? clusterStart(geometry, endCluster) : (entry?.entryAt ?? null),
      entry,
      other,
    });
  }

  private labelOddities(): void {
    const inRoot = this.labels.filter((label) => label.folder === null && !label.isFolder);
    const stored = latin1(this.boot.labelBytes).trimEnd();
    const own = this.boot.extendedSignature === 0x29 && stored !== '' && stored !== 'NO NAME' ? stored : null;
    const [first, second] = inRoot;
    if (second) this.oddities.push({ code: 'two-labels', text: 'the root folder holds two volume labels', at: second.entryAt });
    const root = first ? first.rawShortName.trimEnd() : null;
    if (root === own) return;
    const text =
      root === null
        ? `the boot sector gives the label ${own}, the root folder gives none`
        : own === null
          ? `the root folder gives the label ${root}, the boot sector gives none`
          : `the root folder gives the label ${root}, the boot sector ${own}`;
    this.oddities.push({ code: 'label-differs', text, at: first?.entryAt ?? this.boot.labelAt });
  }

  private result(
    geometry: FatGeometry | null,
    fsInfo: FsInfo | ReadProblem | null,
    tables: Tables | null,
    root: RootUse | readonly never[],
    problem: ReadProblem | null,
    backup: boolean | ReadProblem | null,
  ): FatVolume {
    const unread = problem ?? new ReadProblem(0, 512, 'damaged');
    const marks = geometry && tables ? fatMarks(geometry.entryBits) : null;
    const second = tables?.first.entries[1] ?? 0;
    const used = 'slots' in root ? root : { slots: 0, entries: 0 };
    return {
      source: this.source,
      boot: this.boot,
      geometry,
      fsInfo: fsInfo instanceof ReadProblem ? null : fsInfo,
      table: tables?.first ?? null,
      otherTables: tables?.others ?? [],
      entries: this.entries,
      labels: this.labels,
      deleted: this.deleted,
      incomplete: problem ?? this.incomplete,
      damage: this.damage,
      damageCounts: this.counts,
      oddities: this.oddities,
      fatCopiesMatch: tables?.match ?? unread,
      bootBackupMatches: backup,
      // Two marks, either of which says "not ejected" (FAT specification, section 4.2, and BS_Reserved1 bit 0).
      cleanShutdown: marks ? (this.boot.state & 1) === 0 && (second & marks.cleanBit) === marks.cleanBit : unread,
      hardErrorsNoted: marks ? (this.boot.state & 2) !== 0 || (second & marks.noErrorBit) !== marks.noErrorBit : unread,
      freeClusters: unread,
      lostClusters: unread,
      rootSlotsUsed: used.slots,
      rootEntries: used.entries,
      isFree: () => false,
    };
  }
}

interface Tables {
  readonly first: FatTable;
  readonly others: readonly FatTable[];
  readonly match: boolean | ReadProblem;
}

interface RootUse {
  slots: number;
  entries: number;
}

/** An unbroken stretch of clusters: bytes from the start of the volume. */
export interface Run {
  readonly at: number;
  readonly length: number;
}

/** Unbroken stretches of the first `clusters` clusters of a chain. Ends early where the chain does. */
export function* runs(table: FatTable, geometry: FatGeometry, start: number, clusters: number): Iterable<Run> {
  const { entries } = table;
  let cluster = start;
  let first = start;
  let count = 0;
  for (let done = 0; done < clusters; done++) {
    if (cluster < 2 || cluster >= entries.length) break;
    if (count > 0 && cluster !== first + count) {
      yield { at: clusterStart(geometry, first), length: count * geometry.clusterBytes };
      count = 0;
    }
    if (count === 0) first = cluster;
    count++;
    cluster = entries[cluster]!;
  }
  if (count > 0) yield { at: clusterStart(geometry, first), length: count * geometry.clusterBytes };
}

/** Bytes in one read of a file. */
const pieceBytes = 1024 * 1024;

/**
 * Hands out a file's bytes in order, each piece a view that may change afterwards. True when all of them came along a
 * chain that is long enough; false when the chain ends early; a problem when a read failed.
 * @param copy 0 for the FAT in force, 1 and up for `otherTables`
 */
export function readFile(
  volume: FatVolume,
  entry: FatEntry,
  visit: (piece: Uint8Array) => void,
  copy = 0,
): boolean | ReadProblem {
  const { geometry } = volume;
  const table = copy === 0 ? volume.table : (volume.otherTables[copy - 1] ?? null);
  if (geometry === null || table === null) return new ReadProblem(entry.entryAt, 32, 'damaged');
  let left = entry.bytes;
  const clusters = Math.ceil(entry.bytes / geometry.clusterBytes);
  for (const run of runs(table, geometry, entry.firstCluster, clusters)) {
    const end = run.at + Math.min(run.length, left);
    for (let at = run.at; at < end; at += pieceBytes) {
      const piece = volume.source.read(at, Math.min(pieceBytes, end - at));
      if (piece instanceof ReadProblem) return piece;
      visit(piece);
      left -= piece.length;
    }
  }
  return left === 0;
}

/** True when every copy of the FAT gives a file the same chain. */
export function sameChainInEveryFat(volume: FatVolume, entry: FatEntry): boolean {
  const { table, geometry } = volume;
  if (table === null || geometry === null) return false;
  // As many steps as there are clusters: a circle ends the walk like everything else.
  const most = Math.min(entry.chain?.clusters ?? 0, geometry.clusterCount);
  return volume.otherTables.every((other) => {
    let cluster = entry.firstCluster;
    for (let step = 0; step < most && cluster >= 2 && cluster < table.entries.length; step++) {
      const next = table.entries[cluster]!;
      const otherNext = other.entries[cluster]!;
      const bothEnd = next >= table.endMark && otherNext >= other.endMark;
      if (next !== otherNext && !bothEnd) return false;
      cluster = next;
    }
    return true;
  });
}

/** True when a stretch holds neither boot sectors, FSInfo, FATs, the fixed root folder nor clusters in use. */
function isFreeStretch(
  boot: FatBootSector,
  geometry: FatGeometry,
  table: FatTable,
  at: number,
  length: number,
): boolean {
  const { bytesPerSector, dataStart, fatStart, clusterBytes, clusterCount } = geometry;
  const end = at + length;
  const dataEnd = dataStart + clusterCount * clusterBytes;
  if (at < fatStart) {
    const backup = boot.backupBootSector;
    const owned = boot.isFat32Form ? [0, boot.fsInfoSector, backup, backup + 1, backup + boot.fsInfoSector] : [0];
    if (owned.some((sector) => at < (sector + 1) * bytesPerSector && end > sector * bytesPerSector)) return false;
  }
  if (at < dataStart && end > fatStart) return false;
  if (end > dataStart && at < dataEnd) {
    const first = Math.max(2, 2 + Math.floor((at - dataStart) / clusterBytes));
    const last = Math.min(clusterCount + 1, 2 + Math.floor((end - 1 - dataStart) / clusterBytes));
    for (let cluster = first; cluster <= last; cluster++) if (table.entries[cluster] !== 0) return false;
  }
  return true;
}
