import { ReadProblem } from '../bytes/byte-source.js';
import { attribute, type FatEntry } from '../card/fat/directory.js';
import { type FatVolume, readFile, sameChainInEveryFat } from '../card/fat/volume.js';
import { Unseen } from './fact.js';
import type { FileTree, ReadOutcome, TreeEntry } from './file-tree.js';
import { unseenFrom } from './unseen-from.js';

/** The files of a FAT volume, in the order of their slots, folder by folder. */
export class FatTree implements FileTree {
  readonly entries: readonly TreeEntry[];
  readonly incomplete: Unseen | null;
  readonly fatCopies: number;
  private readonly own = new Map<TreeEntry, FatEntry>();

  constructor(
    private readonly volume: FatVolume,
    /** First byte of the volume on the medium. */
    private readonly volumeStart: number,
  ) {
    this.entries = volume.entries.map((entry) => {
      const shown = treeEntry(entry, volumeStart);
      this.own.set(shown, entry);
      return shown;
    });
    this.incomplete =
      volume.incomplete === null ? null : unseenFrom(onMedium(volume.incomplete, volumeStart));
    this.fatCopies = 1 + volume.otherTables.length;
  }

  /** The entry of the volume behind one of this tree. */
  fatEntry(entry: TreeEntry): FatEntry {
    const found = this.own.get(entry);
    if (!found) throw new Error(`${entry.path} is not an entry of this tree`);
    return found;
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

function treeEntry(entry: FatEntry, volumeStart: number): TreeEntry {
  const { chain, attributes } = entry;
  const unread = new Unseen('damaged', 'the file allocation table could not be read');
  const has = (bit: number): boolean => (attributes & bit) !== 0;
  return {
    path: entry.path,
    name: entry.name,
    folder: entry.folderPath,
    isFolder: entry.isFolder,
    bytes: entry.bytes,
    readOnly: has(attribute.readOnly),
    hidden: has(attribute.hidden),
    system: has(attribute.system),
    shortName: entry.shortName,
    hasLongName: entry.hasLongName,
    entryIndex: entry.entryIndex,
    fragments: chain?.fragments ?? unread,
    usesLastCluster: chain?.usesLastCluster ?? unread,
    startByte: chain ? volumeStart + chain.startByte : unread,
    endByte: chain ? volumeStart + chain.endByte : unread,
    // Day, month and year above, half seconds, minutes and hours below: together they grow with time.
    modified: entry.writeDate === 0 ? null : entry.writeDate * 0x10000 + entry.writeTime,
  };
}
