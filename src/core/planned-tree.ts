import type { NewFile } from '../card/writer/tree.js';
import { Unseen } from '../facts/fact.js';
import type { FileTree, ReadOutcome, TreeEntry } from '../facts/file-tree.js';
import { splitPath } from '../facts/update-file-name.js';

const noCard = new Unseen('not-visible', 'files that are not on a card do not show this');

/** Files that are about to be copied, as the collectors of facts take them. */
export class PlannedTree implements FileTree {
  readonly entries: readonly TreeEntry[];
  readonly incomplete = null;
  readonly fatCopies = 0;
  private readonly contents: ReadonlyMap<string, Uint8Array>;

  constructor(files: readonly NewFile[]) {
    this.contents = new Map(files.map(({ path, bytes }) => [path, bytes]));
    const folders = new Set(files.flatMap(({ path }) => foldersAbove(path)));
    this.entries = [
      ...[...folders].map((path) => treeEntry(path, true, 0)),
      ...files.map(({ path, bytes }) => treeEntry(path, false, bytes.length)),
    ];
  }

  read(entry: TreeEntry, visit: (piece: Uint8Array) => void): ReadOutcome {
    const bytes = this.contents.get(entry.path);
    if (bytes === undefined) throw new Error(`${entry.path} is none of these files`);
    visit(bytes);
    return { whole: true };
  }

  sameChainInEveryFat(): Unseen {
    return noCard;
  }
}

/** The folders in which a path lies, the outermost first. */
export function foldersAbove(path: string): string[] {
  const names = path.split('/').slice(0, -1);
  return names.map((_, at) => names.slice(0, at + 1).join('/'));
}

function treeEntry(path: string, isFolder: boolean, bytes: number): TreeEntry {
  const { folder, name } = splitPath(path);
  return {
    path,
    name,
    folder,
    isFolder,
    bytes,
    readOnly: false,
    hidden: false,
    system: noCard,
    shortName: noCard,
    hasLongName: noCard,
    entryIndex: noCard,
    fragments: noCard,
    usesLastCluster: noCard,
    startByte: noCard,
    endByte: noCard,
    modified: null,
  };
}
