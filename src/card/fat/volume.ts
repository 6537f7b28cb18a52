import { type ByteSource, ReadProblem } from '../../bytes/byte-source.js';
import { latin1 } from '../../bytes/cursor.js';
import { limits } from '../../bytes/limits.js';
import {
  clusterStart,
  type FatBootSector,
  type FatGeometry,
  type FieldProblem,
  readBootSector,
} from './boot-sector.js';
import { type Damage, type DamageKind, DamageList } from './damage.js';
import {
  attribute,
  type DeletedEntry,
  type FatEntry,
  FolderReader,
  type FolderSink,
  slotBytes,
} from './directory.js';
import { type FsInfo, fsInfoOddities, readFsInfo } from './fs-info.js';
import { ClusterOwners } from './owners.js';
import { isFreeStretch } from './read-file.js';
import { isBadLabel } from './short-name.js';
import {
  compareTables,
  type FatTable,
  fatMarks,
  finishTable,
  isSameCopy,
  nextOf,
  type RawTable,
  readTable,
} from './table.js';

export type { Damage, DamageKind } from './damage.js';
export { chainOf, fragmentsOf, readFile, runs, sameChainInEveryFat } from './read-file.js';

/**
 * A FAT volume as it stands: raw fields, every file, and what is wrong, in one pass over its metadata. Offsets count
 * from the start of the volume. A read problem in place of a value says why the value could not be had.
 */
export interface FatVolume {
  readonly source: ByteSource;
  readonly boot: FatBootSector;
  /** Null when the boot sector describes no volume. */
  readonly geometry: FatGeometry | null;
  /** Null when the volume has none, or it could not be read. */
  readonly fsInfo: FsInfo | null;
  /** The copy of the FAT that is in force; the next one that could be read in its place; null when none could. */
  readonly table: FatTable | null;
  /** The other copies, only those that differ from the one in force. */
  readonly otherTables: readonly FatTable[];
  /** Files and folders: each folder's in the order of its slots, outer folders before inner ones. */
  readonly entries: readonly FatEntry[];
  /** Label entries, which no driver lists as files. */
  readonly labels: readonly FatEntry[];
  readonly deleted: readonly DeletedEntry[];
  /** Why `entries` may lack some: a folder or the FAT could not be read, a chain is broken, or a limit was met. */
  readonly incomplete: ReadProblem | null;
  /** The same in words, when it is not the reading itself that failed. */
  readonly incompleteText: string | null;
  /** Why the entries of the root folder may lack some. */
  readonly rootIncomplete: ReadProblem | null;
  /** The first `limits.problems` of them. */
  readonly damage: readonly Damage[];
  /** Damage of each kind, all counted. */
  readonly damageCounts: Readonly<Record<DamageKind, number>>;
  /** Numbers of the entries that any damage touches, also damage that is no longer in `damage`. */
  readonly touched: ReadonlySet<number>;
  /** Harmless differences. */
  readonly oddities: readonly FieldProblem[];
  /** True when all copies of the FAT hold the same entries for all clusters. */
  readonly fatCopiesMatch: boolean | ReadProblem;
  /** True when bytes 11 to 63 of the backup equal those of the boot sector; null when there is no backup. */
  readonly bootBackupMatches: boolean | ReadProblem | null;
  /** False when any of the dirty marks is set: BS_Reserved1 bit 0, or FAT[1] in any copy. */
  readonly cleanShutdown: boolean | ReadProblem;
  /** True when any of the marks of read errors is set: BS_Reserved1 bit 1, or FAT[1] in any copy. */
  readonly hardErrorsNoted: boolean | ReadProblem;
  readonly freeClusters: number | ReadProblem;
  /** Clusters that belong to two files. */
  readonly sharedClusters: number;
  /** Clusters in use that belong to no file. */
  readonly lostClusters: number | ReadProblem;
  /** Slots of the root folder up to its end mark. */
  readonly rootSlotsUsed: number;
  /** Files and folders in the root folder. */
  readonly rootEntries: number;
  /** True when nothing of the live file system lies in the stretch. */
  readonly isFree: (at: number, length: number) => boolean;
}

/** Number of the root folder in the cluster-owner map; entries have theirs from 2. */
const rootOwner = 1;
/** Most bytes in one read of a folder. */
const folderReadBytes = 1024 * 1024;

/**
 * Reads a FAT volume whole: boot sector, FSInfo, every copy of the FAT, all folders, and every chain through one map
 * of cluster owners. The source's byte 0 is the volume's. Never throws for what stands on the medium; a problem only
 * when the boot sector itself cannot be read.
 */
export function readFatVolume(source: ByteSource): FatVolume | ReadProblem {
  const sector = source.read(0, 512);
  if (sector instanceof ReadProblem) return sector;
  return new VolumeReader(source, readBootSector(sector.slice())).read();
}

/** What was found in the copies of the FAT. */
interface Fats {
  readonly table: FatTable | null;
  readonly others: readonly FatTable[];
  readonly match: boolean | ReadProblem;
  readonly clean: boolean | ReadProblem;
  readonly hardErrors: boolean | ReadProblem;
  /** Why a copy could not be read. */
  readonly unread: ReadProblem | null;
}

class VolumeReader implements FolderSink {
  private readonly entries: FatEntry[] = [];
  private readonly labels: FatEntry[] = [];
  private readonly deletedEntries: DeletedEntry[] = [];
  private readonly damage = new DamageList();
  private readonly oddities: FieldProblem[];
  private incomplete: ReadProblem | null = null;
  private incompleteText: string | null = null;
  private rootIncomplete: ReadProblem | null = null;
  /** Set when folders or their chains were left out unread: what they own is not known then. */
  private unreadFolder: ReadProblem | null = null;
  private lastId = rootOwner;
  private folder: FatEntry | null = null;
  /** Entries of the folder being read, labels too: their chains are walked when it is done. */
  private pending: FatEntry[] = [];
  private folderBytesRead = 0;
  private rootSlots = 0;
  private rootEntries = 0;

  constructor(
    private readonly source: ByteSource,
    private readonly boot: FatBootSector,
  ) {
    this.oddities = [...boot.oddities];
  }

  read(): FatVolume {
    const { boot, source } = this;
    for (const { code, text, at } of boot.problems)
      this.note(code === 'fat-too-short' ? 'fat-size' : 'boot-sector', at, text);
    const { geometry } = boot;
    const fsInfo = readFsInfo(source, boot);
    const backup = this.backupMatches();
    if (geometry === null) {
      const nothing = new ReadProblem(0, 512, 'damaged');
      this.giveUp(nothing, 'the boot sector describes no volume');
      return this.result(geometry, fsInfo, backup, noFats(nothing), null);
    }
    if (geometry.volumeBytes > source.size)
      this.note(
        'boot-sector',
        boot.totalSectors16 === 0 ? 32 : 19,
        `the volume claims ${geometry.volumeBytes} bytes, its partition or medium has ${source.size}`,
      );
    if (geometry.clusterCount > limits.clusters) {
      const tooMuch = new ReadProblem(geometry.fatStart, geometry.fatBytes, 'over-limit');
      this.giveUp(tooMuch, `${geometry.clusterCount} clusters are more than are looked at`);
      return this.result(geometry, fsInfo, backup, noFats(tooMuch), null);
    }
    const fats = this.readFats(geometry);
    const owners = fats.table === null ? null : new ClusterOwners(fats.table);
    this.walkFolders(geometry, fats, owners);
    this.compareLabels();
    return this.result(geometry, fsInfo, backup, fats, owners);
  }

  private result(
    geometry: FatGeometry | null,
    fsInfo: FsInfo | ReadProblem | null,
    backup: boolean | ReadProblem | null,
    fats: Fats,
    owners: ClusterOwners | null,
  ): FatVolume {
    const { boot, source } = this;
    const unread = this.incomplete ?? fats.unread ?? new ReadProblem(0, 512, 'damaged');
    const census = owners?.census() ?? null;
    const lost = this.unreadFolder ?? census?.lost ?? unread;
    if (typeof lost === 'number' && lost > 0 && census !== null && geometry !== null)
      this.note(
        'lost-clusters',
        clusterStart(geometry, census.firstLost),
        lost === 1
          ? '1 cluster is marked as used but belongs to no file'
          : `${lost} clusters are marked as used but belong to no file`,
      );
    if (geometry !== null && !(fsInfo instanceof ReadProblem))
      this.oddities.push(...fsInfoOddities(boot, fsInfo, census?.free ?? null));
    const { table } = fats;
    return {
      source,
      boot,
      geometry,
      fsInfo: fsInfo instanceof ReadProblem ? null : fsInfo,
      table,
      otherTables: fats.others,
      entries: this.entries,
      labels: this.labels,
      deleted: this.deletedEntries,
      incomplete: this.incomplete,
      incompleteText: this.incompleteText,
      rootIncomplete: this.rootIncomplete,
      damage: this.damage.list,
      damageCounts: this.damage.counts,
      touched: this.damage.touched,
      oddities: this.oddities,
      fatCopiesMatch: fats.match,
      bootBackupMatches: backup,
      cleanShutdown: fats.clean,
      hardErrorsNoted: fats.hardErrors,
      freeClusters: census?.free ?? unread,
      sharedClusters: owners?.shared ?? 0,
      lostClusters: lost,
      rootSlotsUsed: this.rootSlots,
      rootEntries: this.rootEntries,
      isFree: (at, length) =>
        geometry !== null && table !== null && isFreeStretch(boot, geometry, table, at, length),
    };
  }

  // ---- before the folders ---------------------------------------------------------------------------------

  /** Compares the geometry alone: writers refresh label, serial number and dirty mark in the first copy only. */
  private backupMatches(): boolean | ReadProblem | null {
    const { backupBootSector: sector, reservedSectors, bytesPerSector, bytes, isFat32Form } = this.boot;
    if (!isFat32Form) return null;
    if (sector === 0) {
      // fsck.fat makes one wherever there is room for it.
      if (reservedSectors >= 3) this.note('boot-backup-differs', 50, 'there is no backup of the boot sector');
      return null;
    }
    if (sector >= reservedSectors) {
      const text = `the backup of the boot sector is said to be in sector ${sector}, outside the reserved ones`;
      this.oddity('backup-outside', 50, text);
      return null;
    }
    const start = sector * bytesPerSector;
    const backup = this.source.read(start, 512);
    if (backup instanceof ReadProblem) return backup;
    for (let at = 11; at < 64; at++)
      if (bytes[at] !== backup[at]) {
        this.note(
          'boot-backup-differs',
          start + at,
          `the backup boot sector describes another volume: byte ${at} differs`,
        );
        return false;
      }
    return true;
  }

  /** Reads all copies of the FAT and compares each with the one in force (FAT specification, BPB_ExtFlags). */
  private readFats(geometry: FatGeometry): Fats {
    const { boot } = this;
    const mirrored = (boot.extendedFlags & 0x80) === 0;
    let active = mirrored ? 0 : boot.extendedFlags & 0x0f;
    if (active >= geometry.fatCount) {
      this.note('boot-sector', 40, `copy ${active} of the FAT is said to be in force, and there is none`);
      active = 0;
    }
    const { cleanBit, noErrorBit, mask } = fatMarks(geometry.entryBits);
    let isDirty = (boot.state & 1) !== 0;
    let hasErrors = (boot.state & 2) !== 0;
    let unread: ReadProblem | null = null;
    let inForce: RawTable | null = null;
    let differs = false;
    const others: RawTable[] = [];
    const copies = Array.from({ length: Math.min(geometry.fatCount, mostCopies) }, (_, index) => index);
    for (const index of [active, ...copies.filter((copy) => copy !== active)]) {
      if (inForce !== null && isSameCopy(this.source, geometry, index, inForce) === true) continue;
      const raw = readTable(this.source, geometry, index);
      if (raw instanceof ReadProblem) {
        unread ??= raw;
        continue;
      }
      this.checkStart(geometry, raw, index);
      const flags = raw.values[1] ?? mask;
      if ((flags & cleanBit) !== cleanBit) isDirty = true;
      if ((flags & noErrorBit) !== noErrorBit) hasErrors = true;
      if (inForce === null) inForce = raw;
      else if (this.compareCopies(geometry, inForce, raw, index)) {
        differs = true;
        others.push(raw);
      }
    }
    return {
      table: inForce === null ? null : finishTable(inForce),
      others: others.map(finishTable),
      match: differs ? false : (unread ?? true),
      // A mark that was seen is set; one in a copy that was not read may be.
      clean: isDirty ? false : (unread ?? true),
      hardErrors: hasErrors ? true : (unread ?? false),
      unread,
    };
  }

  /** True when a copy differs from the FAT in force in any cluster. */
  private compareCopies(geometry: FatGeometry, inForce: RawTable, raw: RawTable, index: number): boolean {
    const { clusters, firstCluster, start, unused, dirtyMark } = compareTables(inForce, raw);
    const at = geometry.fatStart + index * geometry.fatBytes;
    if (clusters > 0) {
      const entries = clusters === 1 ? '1 entry' : `${clusters} entries`;
      this.note(
        'fat-copies-differ',
        at + Math.floor((firstCluster * geometry.entryBits) / 8),
        `the copies of the FAT differ in ${entries}, first in that of cluster ${firstCluster}`,
      );
      return true;
    }
    if (start) this.note('fat-copies-differ', at, 'the copies of the FAT begin with different marks');
    else if (unused)
      this.note('fat-copies-differ', at, 'the copies of the FAT differ in bits that are not in use');
    else if (dirtyMark)
      this.oddity('dirty-mark-in-one-fat', at, 'only one copy of the FAT is marked as not ejected');
    return false;
  }

  /** FAT[0] and FAT[1] (FAT specification, section 4). fsck.fat gives a FAT up whose first entry is not all ones. */
  private checkStart(geometry: FatGeometry, raw: RawTable, index: number): void {
    const { mask, cleanBit, noErrorBit, endMark } = fatMarks(geometry.entryBits);
    const at = geometry.fatStart + index * geometry.fatBytes;
    const first = ((raw.values[0] ?? 0) & mask) >>> 0;
    if (((first | 0x0f) & mask) !== mask)
      this.note('fat-start', at, `copy ${index + 1} of the FAT does not begin as a FAT does`);
    else if ((first & 0xff) !== this.boot.media)
      this.oddity('media-bytes-differ', at, 'the FAT does not repeat the media byte of the boot sector');
    const second = (((raw.values[1] ?? 0) | cleanBit | noErrorBit) & mask) >>> 0;
    if (second < endMark) this.oddity('fat-start', at, 'the second entry of the FAT is not an end mark');
  }

  // ---- folders and chains ---------------------------------------------------------------------------------

  /** Reads every folder, outer ones first, and walks every chain through the owner map. */
  private walkFolders(geometry: FatGeometry, fats: Fats, owners: ClusterOwners | null): void {
    const { boot } = this;
    const reader = new FolderReader(this, geometry.entryBits === 32);
    reader.begin(null, null);
    let level: FatEntry[] = [];
    const { table } = fats;
    if (!boot.isFat32Form && geometry.rootBytes > 0) {
      const bytes = this.source.read(geometry.rootStart, geometry.rootBytes);
      if (bytes instanceof ReadProblem) this.unread(bytes);
      else {
        reader.slots(bytes, geometry.rootStart);
        reader.end(geometry.rootStart + geometry.rootBytes - slotBytes);
      }
    } else if (boot.isFat32Form && owners !== null && table !== null) {
      owners.walk(boot.rootCluster, rootOwner);
      const { clusters } = owners;
      if (owners.end !== 'end') {
        this.chainDamage(geometry, owners, null, 'the root folder');
        this.giveUp(broken(geometry.dataStart), 'the chain of the root folder is broken');
      }
      this.readFolder(reader, geometry, table, boot.rootCluster, clusters);
    }
    this.rootSlots = reader.slotsUsed;
    this.rootEntries = this.entries.length;
    this.rootIncomplete = this.incomplete ?? (boot.isFat32Form && table === null ? fats.unread : null);
    if (owners === null || table === null) {
      this.unread(fats.unread ?? new ReadProblem(geometry.fatStart, geometry.fatBytes, 'damaged'));
      return;
    }
    level = this.walkPending(geometry, owners);
    for (let depth = 1; level.length > 0 && reader.complete; depth++) {
      if (depth > limits.folderDepth) {
        this.overLimit(level[0]!.entryAt, `folders lie more than ${limits.folderDepth} deep`);
        return;
      }
      const next: FatEntry[] = [];
      for (const folder of level) {
        this.folder = folder;
        reader.begin(folder, { own: folder.firstCluster, parent: folder.folder?.firstCluster ?? 0 });
        this.readFolder(reader, geometry, table, folder.firstCluster, folder.ownClusters);
        for (const inner of this.walkPending(geometry, owners)) next.push(inner);
        if (!reader.complete) break;
      }
      level = next;
    }
    if (!reader.complete)
      this.overLimit(geometry.dataStart, `there are more than ${limits.files} files and folders`);
  }

  /** Reads the slots of a folder along its chain, which was walked before: one read for each unbroken stretch. */
  private readFolder(
    reader: FolderReader,
    geometry: FatGeometry,
    table: FatTable,
    start: number,
    clusters: number,
  ): void {
    const { clusterBytes } = geometry;
    const most = Math.max(1, Math.floor(limits.folderBytes / clusterBytes));
    let left = Math.min(clusters, most);
    let cluster = start;
    let last = 0;
    while (left > 0) {
      let run = 1;
      while (
        run < left &&
        nextOf(table, cluster + run - 1) === cluster + run &&
        (run + 1) * clusterBytes <= folderReadBytes
      )
        run++;
      const length = run * clusterBytes;
      const at = clusterStart(geometry, cluster);
      this.folderBytesRead += length;
      if (this.folderBytesRead > limits.allFolderBytes) {
        this.overLimit(at, 'the folders are too long in all');
        return;
      }
      const bytes = this.source.read(at, length);
      if (bytes instanceof ReadProblem) {
        this.unread(bytes);
        return;
      }
      reader.slots(bytes, at);
      last = at + length - slotBytes;
      left -= run;
      cluster = nextOf(table, cluster + run - 1);
    }
    reader.end(last);
    if (clusters > most) this.overLimit(last, 'a folder is longer than drivers read it');
  }

  /** Walks the chains of the entries just read; returns the folders among them that can be read themselves. */
  private walkPending(geometry: FatGeometry, owners: ClusterOwners): FatEntry[] {
    const { pending } = this;
    this.pending = [];
    const folders: FatEntry[] = [];
    for (const entry of pending)
      if (!entry.isFolder) this.walkFileChain(geometry, owners, entry);
      else if (this.walkFolderChain(geometry, owners, entry)) folders.push(entry);
    return folders;
  }

  /** True when the folder has clusters that are its own and holds files, not a label. */
  private walkFolderChain(geometry: FatGeometry, owners: ClusterOwners, entry: FatEntry): boolean {
    if (entry.firstCluster === 0) {
      entry.setChain(geometry, 0, 0, 0, false);
      this.note('bad-folder', entry.entryAt, `folder ${entry.path} has no cluster`, entry);
      this.giveUp(broken(entry.entryAt), `folder ${entry.path} has no cluster`);
      return false;
    }
    owners.walk(entry.firstCluster, entry.id);
    const isWhole = owners.end === 'end';
    entry.setChain(geometry, owners.clusters, owners.fragments, owners.highest, isWhole);
    if (!isWhole) {
      this.chainDamage(geometry, owners, entry, `folder ${entry.path}`);
      this.giveUp(broken(entry.entryAt), `the chain of folder ${entry.path} is broken`);
    }
    // A folder that is its own ancestor, or begins in another one's cluster, was read under its owner's name.
    return owners.clusters > 0 && (entry.attributes & attribute.label) === 0;
  }

  private walkFileChain(geometry: FatGeometry, owners: ClusterOwners, entry: FatEntry): void {
    const wanted = Math.ceil(entry.bytes / geometry.clusterBytes);
    if (entry.firstCluster === 0) {
      entry.setChain(geometry, 0, 0, 0, wanted === 0);
      if (wanted > 0)
        this.note(
          'short-chain',
          entry.entryAt,
          `${entry.path} claims ${entry.bytes} bytes and has no cluster`,
          entry,
        );
      return;
    }
    owners.walk(entry.firstCluster, entry.id);
    const { clusters, end } = owners;
    entry.setChain(
      geometry,
      clusters,
      owners.fragments,
      owners.highest,
      end === 'end' && clusters === wanted,
    );
    if (end !== 'end') this.chainDamage(geometry, owners, entry, entry.path);
    else if (clusters !== wanted)
      this.note(
        clusters < wanted ? 'short-chain' : 'long-chain',
        entry.entryAt,
        `${entry.path} claims ${entry.bytes} bytes, which takes ${wanted} clusters, and its chain has ${clusters}`,
        entry,
      );
  }

  private chainDamage(
    geometry: FatGeometry,
    owners: ClusterOwners,
    entry: FatEntry | null,
    what: string,
  ): void {
    const { endCluster, otherOwner } = owners;
    const isPlace = endCluster >= 2 && endCluster <= geometry.clusterCount + 1;
    const at = isPlace ? clusterStart(geometry, endCluster) : (entry?.entryAt ?? null);
    const note = (kind: DamageKind, text: string, other: FatEntry | null = null): void =>
      this.note(kind, at, `the chain of ${what} ${text}`, entry, other);
    if (owners.end === 'free') note('into-free', `runs into cluster ${endCluster}, which is marked free`);
    else if (owners.end === 'bad') note('into-bad', `runs into cluster ${endCluster}, which is marked bad`);
    else if (owners.end === 'loop') note('loop', `runs in a circle at cluster ${endCluster}`);
    else if (owners.end === 'out-of-range')
      note('out-of-range', `leads to cluster ${endCluster}, which does not exist`);
    else {
      const other = this.entryById(otherOwner);
      const name = otherOwner === rootOwner ? 'the root folder' : (other?.path ?? 'another entry');
      note('cross-link', `runs into cluster ${endCluster}, which belongs to ${name}`, other);
    }
  }

  /** The file or folder with this number: they stand in the order of their numbers. */
  private entryById(id: number): FatEntry | null {
    let low = 0;
    let high = this.entries.length - 1;
    while (low <= high) {
      const middle = (low + high) >>> 1;
      const entry = this.entries[middle]!;
      if (entry.id === id) return entry;
      if (entry.id < id) low = middle + 1;
      else high = middle - 1;
    }
    return null;
  }

  /** The label stands twice: as an entry of the root folder and in the boot sector. One of the two may be missing. */
  private compareLabels(): void {
    const { boot } = this;
    const [root, second] = this.labels.filter((label) => label.folder === null);
    if (second) this.oddity('two-labels', second.entryAt, 'the root folder holds two volume labels');
    const none = 'NO NAME    ';
    if (boot.extendedSignature !== 0x29) return;
    const inBoot = latin1(boot.labelBytes);
    if (root === undefined) {
      if (inBoot === none) return;
      if (isBadLabel(inBoot))
        this.note('boot-sector', boot.labelAt, 'the label in the boot sector is not one that may exist');
      else
        this.oddity(
          'label-in-one-place',
          boot.labelAt,
          `the boot sector gives the label ${inBoot.trimEnd()}, the root folder gives none`,
        );
      return;
    }
    const inRoot = root.rawShortName.replace(/^\x05/, '\xe5');
    if (/[\x80-\xff]/.test(inRoot))
      this.oddity(
        'label-not-ascii',
        root.entryAt,
        'the label has letters that look different on other computers',
      );
    if (inBoot === inRoot) return;
    if (inBoot === none)
      this.oddity(
        'label-in-one-place',
        root.entryAt,
        `the root folder gives the label ${inRoot.trimEnd()}, the boot sector gives none`,
      );
    // Windows renames a volume in its root folder alone (fatlabel(8), "Compatibility and bugs"), so a renamed card is
    // like this for good. fsck.fat would copy one over the other; no driver minds.
    else
      this.oddity(
        'label-differs',
        boot.labelAt,
        'the boot sector and the root folder give different volume labels',
      );
  }

  // ---- FolderSink -----------------------------------------------------------------------------------------

  nextId(): number {
    return this.lastId - rootOwner >= limits.files ? 0 : ++this.lastId;
  }
  entry(entry: FatEntry): void {
    this.entries.push(entry);
    this.pending.push(entry);
  }
  label(entry: FatEntry): void {
    this.labels.push(entry);
    this.pending.push(entry);
  }
  deleted(entry: DeletedEntry): void {
    if (this.deletedEntries.length < limits.files) this.deletedEntries.push(entry);
  }
  problem(kind: DamageKind, at: number, text: string, entry?: FatEntry, other?: FatEntry): void {
    this.damage.add({ kind, at, text, entry: entry ?? null, other: other ?? null, folder: this.folder });
  }
  oddity(code: string, at: number, text: string): void {
    if (this.oddities.length < limits.problems) this.oddities.push({ code, text, at });
  }

  private note(
    kind: DamageKind,
    at: number | null,
    text: string,
    entry: FatEntry | null = null,
    other: FatEntry | null = null,
  ): void {
    this.damage.add({ kind, at, text, entry, other });
  }

  private giveUp(problem: ReadProblem, text: string | null): void {
    if (this.incomplete !== null) return;
    this.incomplete = problem;
    this.incompleteText = text;
  }

  private unread(problem: ReadProblem): void {
    this.giveUp(problem, null);
    this.unreadFolder ??= problem;
  }

  private overLimit(at: number, text: string): void {
    const problem = new ReadProblem(at, slotBytes, 'over-limit');
    this.giveUp(problem, text);
    this.unreadFolder ??= problem;
  }
}

const broken = (at: number): ReadProblem => new ReadProblem(at, slotBytes, 'damaged');

/** Copies of the FAT that are read. Drivers take 1 or 2; the field can say 255. */
const mostCopies = 4;

const noFats = (problem: ReadProblem): Fats => ({
  table: null,
  others: [],
  match: problem,
  clean: problem,
  hardErrors: problem,
  unread: problem,
});
