import { u16At, u32At } from '../../bytes/cursor.js';
import { clusterStart, type FatGeometry } from './boot-sector.js';
import { LongNameCollector } from './long-name.js';
import { hashOf, hashOfRaw, NameIndex } from './name-index.js';
import { byteTraits, illegalByte, isBadLabel, isBadShortName, shortNameText } from './short-name.js';

/** Bytes of one directory entry. */
export const slotBytes = 32;

/** Bits of DIR_Attr (FAT specification, section 6). */
export const attribute = {
  readOnly: 0x01,
  hidden: 0x02,
  system: 0x04,
  label: 0x08,
  folder: 0x10,
  archive: 0x20,
} as const;

/** A chain as the FAT describes it. Offsets count from the start of the volume. */
export interface ChainSummary {
  readonly clusters: number;
  /** Unbroken stretches; 0 for a file without clusters. */
  readonly fragments: number;
  /** First byte of the first cluster; 0 without clusters. */
  readonly startByte: number;
  /** Byte after the cluster that lies furthest in; 0 without clusters. */
  readonly endByte: number;
  /** True when the chain uses the last cluster of the volume. */
  readonly usesLastCluster: boolean;
  /** True when the chain ends properly and is exactly as long as the size asks (a folder: ends properly). */
  readonly whole: boolean;
}

/** A file, folder or label entry of a FAT volume, with its raw fields. */
export class FatEntry {
  // Plain numbers, and the summary made of them when it is asked for: a card holds tens of thousands of entries.
  private geometry: FatGeometry | undefined;
  private clusters = 0;
  private fragments = 0;
  private highest = 0;
  private whole = false;

  constructor(
    /** Number of this entry in the volume's cluster-owner map, from 2; 1 is the root folder. */
    readonly id: number,
    /** The folder that it lies in; null for the root. */
    readonly folder: FatEntry | null,
    /** Path from the root, `/` between names, none in front. */
    readonly path: string,
    /** The long name, or the short one in its stored case. */
    readonly name: string,
    /** The eleven stored bytes of the short name, one character U+0000 to U+00FF each. */
    readonly rawShortName: string,
    /** True when valid long-name entries are stored for it. */
    readonly hasLongName: boolean,
    /** DIR_Attr. */
    readonly attributes: number,
    /** DIR_NTRes. */
    readonly caseByte: number,
    /** DIR_FileSize. */
    readonly bytes: number,
    readonly firstCluster: number,
    /** DIR_WrtDate as stored: day, month and years since 1980 in 5, 4 and 7 bits. */
    readonly writeDate: number,
    /** DIR_WrtTime as stored: half seconds, minutes and hours in 5, 6 and 5 bits. */
    readonly writeTime: number,
    /** 32-byte slot of its short entry in its folder, from 0, all counted. */
    readonly entryIndex: number,
    /** First byte of its short entry, from the start of the volume. */
    readonly entryAt: number,
    /** Slots before its short entry in its folder that are marked deleted. */
    readonly freeBefore: number,
  ) {}

  /** The short name as text: `UPDATE.BIN`. */
  get shortName(): string {
    return shortNameText(this.rawShortName);
  }
  /** What its chain looks like; undefined when the FAT could not be read. */
  get chain(): ChainSummary | undefined {
    const { geometry, clusters, highest } = this;
    if (geometry === undefined) return undefined;
    return {
      clusters,
      fragments: this.fragments,
      startByte: clusters === 0 ? 0 : clusterStart(geometry, this.firstCluster),
      endByte: clusters === 0 ? 0 : clusterStart(geometry, highest + 1),
      usesLastCluster: clusters > 0 && highest === geometry.clusterCount + 1,
      whole: this.whole,
    };
  }
  /** Notes what the chain was found to be: its clusters, unbroken stretches, highest cluster, and whether it is whole. */
  setChain(
    geometry: FatGeometry,
    clusters: number,
    fragments: number,
    highest: number,
    whole: boolean,
  ): void {
    this.geometry = geometry;
    this.clusters = clusters;
    this.fragments = fragments;
    this.highest = highest;
    this.whole = whole;
  }
  /** Clusters of its chain that are its own. */
  get ownClusters(): number {
    return this.clusters;
  }
  get isFolder(): boolean {
    return (this.attributes & attribute.folder) !== 0;
  }
  /** Path of its folder; empty for the root. */
  get folderPath(): string {
    return this.folder === null ? '' : this.folder.path;
  }
  /** The eleven stored bytes of the short name. */
  get shortNameBytes(): Uint8Array {
    return Uint8Array.from(this.rawShortName, (character) => character.charCodeAt(0));
  }
}

/** A directory entry marked deleted whose short name, but for its first character, can still be read. */
export interface DeletedEntry {
  /** The short name with `?` in place of its first character. */
  readonly shortName: string;
  /** The ten stored bytes that are left of the short name, one character each. */
  readonly rawRest: string;
  /** Path of its folder; empty for the root. */
  readonly folderPath: string;
  readonly entryIndex: number;
  readonly entryAt: number;
  readonly bytes: number;
}

/** Kinds of damage in directory entries. */
export type SlotProblemKind =
  | 'bad-entry'
  | 'bad-folder'
  | 'duplicate-name'
  | 'orphan-long-name'
  | 'long-name-checksum';

/** Where a folder's contents are put. Offsets count from the start of the volume. */
export interface FolderSink {
  /** A file or folder, in the order of the slots. */
  entry(entry: FatEntry): void;
  /** A label entry, or one that is label and folder at once. */
  label(entry: FatEntry): void;
  deleted(entry: DeletedEntry): void;
  problem(kind: SlotProblemKind, at: number, text: string, entry?: FatEntry, other?: FatEntry): void;
  oddity(code: string, at: number, text: string): void;
  /** A number for the next entry; 0 when the limit of entries is reached. */
  nextId(): number;
}

/** What a folder's own entries `.` and `..` must point to. */
export interface DotTargets {
  readonly own: number;
  readonly parent: number;
}

/**
 * Reads the slots of one folder after the other (FAT specification, sections 6 and 7): `begin`, then `slots` for
 * each stretch of bytes in order, then `end`.
 */
export class FolderReader {
  private readonly longName = new LongNameCollector();
  private folder: FatEntry | null = null;
  private prefix = '';
  private dots: DotTargets | null = null;
  private isRoot = true;
  private slot = 0;
  private freed = 0;
  private ended = false;
  private leftovers = 0;
  private leftoverAt = 0;
  private longNameAt = 0;
  private readonly names = new NameIndex<FatEntry>();
  /** False once `nextId` gave no more numbers. */
  complete = true;

  constructor(
    private readonly sink: FolderSink,
    /** True when DIR_FstClusHI counts: on FAT32. */
    private readonly hasHighCluster: boolean,
  ) {}

  /** Slots of the folder being read, up to its end mark. */
  get slotsUsed(): number {
    return this.slot;
  }

  /** Starts on a folder; null for the root, which has no `.` and `..`. */
  begin(folder: FatEntry | null, dots: DotTargets | null): void {
    this.folder = folder;
    this.prefix = folder === null ? '' : `${folder.path}/`;
    this.dots = dots;
    this.isRoot = folder === null;
    this.slot = 0;
    this.freed = 0;
    this.ended = false;
    this.leftovers = 0;
    this.longName.reset();
    this.names.clear();
  }

  /** Reads the next stretch; `at` is its first byte on the volume. Its length is a multiple of 32. */
  slots(bytes: Uint8Array, at: number): void {
    const length = bytes.length - (bytes.length % slotBytes);
    let offset = 0;
    if (!this.ended) {
      for (; offset < length; offset += slotBytes) {
        const first = bytes[offset]!;
        if (first === 0) {
          this.endMark(at + offset);
          break;
        }
        if (!this.isRoot && this.slot < 2) this.dot(bytes, offset, at + offset);
        else if (first === 0xe5) this.free(bytes, offset, at + offset);
        else if ((bytes[offset + 11]! & 0x3f) === 0x0f) this.piece(bytes, offset, at + offset);
        else this.entry(bytes, offset, at + offset);
        this.slot++;
        if (!this.complete) return;
      }
    }
    // Behind the end mark nothing may stand, yet some drivers go on reading there.
    for (; offset < length; offset += slotBytes) {
      const first = bytes[offset]!;
      if (first === 0 || first === 0xe5) continue;
      if (this.leftovers === 0) this.leftoverAt = at + offset;
      this.leftovers++;
    }
  }

  /** Finishes the folder. */
  end(at: number): void {
    if (!this.complete) return;
    if (!this.ended) this.endMark(at);
    if (this.leftovers > 0)
      this.sink.problem(
        'bad-folder',
        this.leftoverAt,
        `${this.shownFolder()} holds ${this.leftovers} entries behind its end mark, which some drivers take for files`,
        this.folder ?? undefined,
      );
  }

  private shownFolder(): string {
    return this.folder === null ? 'the root folder' : `folder ${this.folder.path}`;
  }

  private endMark(at: number): void {
    this.ended = true;
    this.dropLongName();
    if (!this.isRoot && this.slot < 2)
      this.sink.problem(
        'bad-folder',
        at,
        `folder ${this.folder?.path} does not start with the entries . and ..`,
        this.folder ?? undefined,
      );
  }

  private dropLongName(): void {
    if (!this.longName.isOpen) return;
    this.longName.reset();
    this.orphan(this.longNameAt);
  }

  private orphan(at: number): void {
    this.sink.problem(
      'orphan-long-name',
      at,
      `${this.shownFolder()} holds long-name entries that belong to no file`,
      this.folder ?? undefined,
    );
  }

  private dot(bytes: Uint8Array, offset: number, at: number): void {
    const name = this.slot === 0 ? '.          ' : '..         ';
    const wanted = this.slot === 0 ? this.dots?.own : this.dots?.parent;
    let sameName = true;
    for (let i = 0; i < 11; i++) if (bytes[offset + i] !== name.charCodeAt(i)) sameName = false;
    const isFolder = (bytes[offset + 11]! & attribute.folder) !== 0;
    if (sameName && isFolder && this.clusterOf(bytes, offset) === wanted) {
      this.caseBits(bytes[offset + 12]!, at);
      return;
    }
    const what = sameName ? 'points to the wrong cluster or is no folder' : 'is missing';
    this.sink.problem(
      'bad-folder',
      at,
      `in folder ${this.folder?.path} the entry ${name.trim()} ${what}`,
      this.folder ?? undefined,
    );
    // Another entry in this slot is still one that drivers list.
    if (sameName) return;
    const first = bytes[offset]!;
    if (first === 0xe5) this.free(bytes, offset, at);
    else if ((bytes[offset + 11]! & 0x3f) === 0x0f) this.piece(bytes, offset, at);
    else this.entry(bytes, offset, at);
  }

  private free(bytes: Uint8Array, offset: number, at: number): void {
    this.dropLongName();
    this.freed++;
    const attributes = bytes[offset + 11]!;
    if ((attributes & attribute.label) !== 0) return;
    const raw = rawName(bytes, offset);
    // What is left of a deleted entry is told only when it still looks like a name.
    const rest = raw.slice(1);
    if (isBadShortName(`X${rest}`)) return;
    this.sink.deleted({
      shortName: `?${shortNameText(`X${rest}`).slice(1)}`,
      rawRest: rest,
      folderPath: this.folder === null ? '' : this.folder.path,
      entryIndex: this.slot,
      entryAt: at,
      bytes: u32At(bytes, offset + 28),
    });
  }

  private piece(bytes: Uint8Array, offset: number, at: number): void {
    if (bytes[offset + 11] !== 0x0f)
      this.sink.problem('bad-entry', at, 'a long-name entry has reserved attribute bits set');
    if (bytes[offset + 12] !== 0 || u16At(bytes, offset + 26) !== 0)
      this.sink.problem(
        'bad-entry',
        at,
        'a long-name entry holds something where zeros must stand',
        this.folder ?? undefined,
      );
    const name = this.longName;
    // A complete name waits for its short entry: one more piece leaves it an orphan.
    const before = name.isOpen ? this.longNameAt : at;
    const problem = name.add(bytes, offset, this.slot);
    if (name.isOpen && name.firstSlot === this.slot) this.longNameAt = at;
    if (problem === null) return;
    if (problem === 'wrong-checksum')
      this.sink.problem(
        'long-name-checksum',
        at,
        'the pieces of a long name carry different checksums',
        this.folder ?? undefined,
      );
    else this.orphan(before);
  }

  private clusterOf(bytes: Uint8Array, offset: number): number {
    const low = u16At(bytes, offset + 26);
    return this.hasHighCluster ? u16At(bytes, offset + 20) * 0x10000 + low : low;
  }

  private caseBits(caseByte: number, at: number): void {
    if ((caseByte & ~0x18) === 0) return;
    this.sink.oddity('case-bits', at, 'the case byte of a directory entry has odd bits set');
  }

  private entry(bytes: Uint8Array, offset: number, at: number): void {
    const raw = rawName(bytes, offset);
    const attributes = bytes[offset + 11]!;
    const caseByte = bytes[offset + 12]!;
    let checksum = 0;
    let traits = 0;
    for (let i = offset; i < offset + 11; i++) {
      const byte = bytes[i]!;
      checksum = (((checksum & 1) << 7) + (checksum >> 1) + byte) & 0xff;
      traits |= byteTraits[byte]!;
    }
    let longName: string | null = null;
    let longNameProblem: 'unfinished' | 'wrong-checksum' | 'bad' | null = null;
    if (this.longName.isOpen) {
      const closed = this.longName.close(checksum);
      if (closed === 'unfinished') this.orphan(this.longNameAt);
      else if (closed === 'wrong-checksum') longNameProblem = closed;
      else if (this.longName.isBad) longNameProblem = 'bad';
      else longName = this.longName.name;
    }
    const id = this.sink.nextId();
    if (id === 0) {
      this.complete = false;
      return;
    }
    const name = longName ?? shortNameText(raw, caseByte);
    const entry = new FatEntry(
      id,
      this.folder,
      this.prefix + name,
      name,
      raw,
      longName !== null,
      attributes,
      caseByte,
      u32At(bytes, offset + 28),
      this.clusterOf(bytes, offset),
      u16At(bytes, offset + 24),
      u16At(bytes, offset + 22),
      this.slot,
      at,
      this.freed,
    );
    if (longNameProblem === 'wrong-checksum')
      this.sink.problem(
        'long-name-checksum',
        at,
        `the long name stored before ${entry.path} carries the checksum of another short name`,
        entry,
      );
    else if (longNameProblem === 'bad')
      this.sink.problem('bad-entry', at, `the long name of ${entry.path} is not one that may exist`, entry);
    this.caseBits(caseByte, at);
    if ((attributes & attribute.label) !== 0) {
      if ((attributes & attribute.folder) !== 0)
        this.sink.problem('bad-entry', at, `${entry.path} is a folder and a label at once`, entry);
      else if (this.isRoot && isBadLabel(raw))
        this.sink.problem('bad-entry', at, 'the volume label holds characters that it may not hold', entry);
      if (!this.isRoot)
        this.sink.oddity('label-in-folder', at, 'a volume label stands outside the root folder');
      this.sink.label(entry);
      return;
    }
    if (((traits & illegalByte) !== 0 || bytes[offset] === 0x20) && isBadShortName(raw))
      this.sink.problem('bad-entry', at, `the short name of ${entry.path} is not one that may exist`, entry);
    if ((attributes & 0xc0) !== 0)
      this.sink.oddity('attribute-bits', at, `${entry.path} has reserved attribute bits set`);
    if (entry.isFolder && entry.bytes !== 0)
      this.sink.problem('bad-entry', at, `folder ${entry.path} carries a size, which must be 0`, entry);
    const twin = this.names.twinOf(
      entry,
      hashOfRaw(bytes, offset),
      longName === null ? hashOf(name) : this.longName.hash,
    );
    if (twin !== null)
      this.sink.problem(
        'duplicate-name',
        at,
        `the name ${entry.path} stands twice in its folder`,
        entry,
        twin,
      );
    this.sink.entry(entry);
  }
}

/** The eleven bytes of a short name, one character each. */
function rawName(bytes: Uint8Array, at: number): string {
  return String.fromCharCode(
    bytes[at]!,
    bytes[at + 1]!,
    bytes[at + 2]!,
    bytes[at + 3]!,
    bytes[at + 4]!,
    bytes[at + 5]!,
    bytes[at + 6]!,
    bytes[at + 7]!,
    bytes[at + 8]!,
    bytes[at + 9]!,
    bytes[at + 10]!,
  );
}
