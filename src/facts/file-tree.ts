import type { Unseen } from './fact.js';

/**
 * One file or folder as the collectors of facts need it, whatever it lies on. What this kind of target does not
 * show is an `Unseen` in its place.
 */
/** The two names of a folder; the short one is an `Unseen` where the target does not show it. */
export interface FolderNames {
  readonly name: string;
  readonly shortName: string | Unseen;
}

export interface TreeEntry {
  /** The folders above it, outermost first; left out where they have no other names than those in `folder`. */
  readonly above?: readonly FolderNames[];
  /** Path from the root with `/` between names, no leading `/`. */
  readonly path: string;
  /** Long name, or the short one in its stored case. */
  readonly name: string;
  /** Path of its folder; empty for the root. */
  readonly folder: string;
  readonly isFolder: boolean;
  readonly bytes: number;
  readonly readOnly: boolean | Unseen;
  readonly hidden: boolean | Unseen;
  readonly system: boolean | Unseen;
  /** 8.3 name as stored, with its dot. */
  readonly shortName: string | Unseen;
  readonly hasLongName: boolean | Unseen;
  /** 32-byte slot of its entry in its folder, from 0. */
  readonly entryIndex: number | Unseen;
  readonly fragments: number | Unseen;
  readonly usesLastCluster: boolean | Unseen;
  /** First byte of its first cluster on the medium, and the byte after its last one. */
  readonly startByte: number | Unseen;
  readonly endByte: number | Unseen;
  /** Last change, as one number that grows with time; null when the entry has none. */
  readonly modified: number | null;
}

export interface ReadOutcome {
  /** Every byte of the file was delivered. */
  readonly whole: boolean;
  /** Why not, in the words of a fact. */
  readonly missing?: Unseen;
}

/** All files of a volume or folder, in the order in which a loader meets them, and their bytes. */
export interface FileTree {
  readonly entries: readonly TreeEntry[];
  /** Set when folders could not be read whole: what is not listed may still be there. */
  readonly incomplete: Unseen | null;
  /** Set when the entries of a folder do not come in the order in which they stand on the card: why. */
  readonly unordered?: Unseen;
  /**
   * Hands out the bytes of a file in order, in pieces that may be views of a buffer in use. `fatCopy` chooses the
   * copy of the FAT whose chain is followed, where there is one.
   */
  read(entry: TreeEntry, visit: (piece: Uint8Array) => void, fatCopy?: number): ReadOutcome;
  /**
   * True when every copy of the FAT gives this file the same chain of clusters, so that its bytes cannot differ;
   * Unseen where the target shows no FAT.
   */
  sameChainInEveryFat(entry: TreeEntry): boolean | Unseen;
  readonly fatCopies: number;
}
