import { ReadProblem } from '../bytes/byte-source.js';
import { attribute, type FatEntry } from '../card/fat/directory.js';
import { type FatVolume, readFile, sameChainInEveryFat } from '../card/fat/volume.js';
import { incompleteFiles } from './collect-fat.js';
import { Unseen } from './fact.js';
import type { FileTree, ReadOutcome, TreeEntry } from './file-tree.js';
import { unseenFrom } from './unseen-from.js';

/** The files of a FAT volume, in the order of their slots, folder by folder. */
export class FatTree implements FileTree {
  readonly entries: readonly FatTreeEntry[];
  readonly incomplete: Unseen | null;
  readonly fatCopies: number;

  constructor(
    private readonly volume: FatVolume,
    /** First byte of the volume on the medium. */
    private readonly volumeStart: number,
  ) {
    const above = new Map<FatEntry | null, readonly FatEntry[]>([[null, []]]);
    // Folders stand before what is in them, so that the folders above one are known when its entries come.
    this.entries = volume.entries.map((entry) => {
      const folders = above.get(entry.folder) ?? [];
      if (entry.isFolder) above.set(entry, [...folders, entry]);
      return new FatTreeEntry(entry, volumeStart, folders);
    });
    this.incomplete = incompleteFiles(volume, volumeStart) ?? null;
    this.fatCopies = 1 + volume.otherTables.length;
  }

  /** The entry of the volume behind one of this tree. */
  fatEntry(entry: TreeEntry): FatEntry {
    if (!(entry instanceof FatTreeEntry)) throw new Error(`${entry.path} is not an entry of this tree`);
    return entry.fat;
  }

  read(entry: TreeEntry, visit: (piece: Uint8Array) => void, fatCopy = 0): ReadOutcome {
    const got = readFile(this.volume, this.fatEntry(entry), visit, fatCopy);
    if (got instanceof ReadProblem)
      return { whole: false, missing: unseenFrom(onMedium(got, this.volumeStart)) };
    return { whole: got };
  }

  sameChainInEveryFat(entry: TreeEntry): boolean | Unseen {
    const { fatCopiesMatch } = this.volume;
    if (fatCopiesMatch instanceof ReadProblem) return unseenFrom(onMedium(fatCopiesMatch, this.volumeStart));
    return fatCopiesMatch || sameChainInEveryFat(this.volume, this.fatEntry(entry));
  }
}

const onMedium = ({ at, length, cause, detail }: ReadProblem, start: number): ReadProblem =>
  new ReadProblem(start + at, length, cause, detail);

const unreadTable = new Unseen('damaged', 'the file allocation table could not be read');

/** One entry of a FAT volume as the collectors see it. There can be many, so everything is worked out when asked for. */
export class FatTreeEntry implements TreeEntry {
  constructor(
    readonly fat: FatEntry,
    private readonly volumeStart: number,
    readonly above: readonly FatEntry[],
  ) {}

  get path(): string {
    return this.fat.path;
  }
  get name(): string {
    return this.fat.name;
  }
  get folder(): string {
    return this.fat.folderPath;
  }
  get isFolder(): boolean {
    return this.fat.isFolder;
  }
  get bytes(): number {
    return this.fat.bytes;
  }
  get readOnly(): boolean {
    return (this.fat.attributes & attribute.readOnly) !== 0;
  }
  get hidden(): boolean {
    return (this.fat.attributes & attribute.hidden) !== 0;
  }
  get system(): boolean {
    return (this.fat.attributes & attribute.system) !== 0;
  }
  get shortName(): string {
    return this.fat.shortName;
  }
  get hasLongName(): boolean {
    return this.fat.hasLongName;
  }
  get entryIndex(): number {
    return this.fat.entryIndex;
  }
  get fragments(): number | Unseen {
    return this.fat.chain?.fragments ?? unreadTable;
  }
  get usesLastCluster(): boolean | Unseen {
    return this.fat.chain?.usesLastCluster ?? unreadTable;
  }
  get startByte(): number | Unseen {
    return this.fat.chain ? this.volumeStart + this.fat.chain.startByte : unreadTable;
  }
  get endByte(): number | Unseen {
    return this.fat.chain ? this.volumeStart + this.fat.chain.endByte : unreadTable;
  }
  /** Day, month and year above, half seconds, minutes and hours below: together they grow with time. */
  get modified(): number | null {
    return this.fat.writeDate === 0 ? null : this.fat.writeDate * 0x10000 + this.fat.writeTime;
  }
}
