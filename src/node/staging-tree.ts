import { ReadProblem } from '../bytes/byte-source.js';
import { Unseen } from '../facts/fact.js';
import type { FileTree, ReadOutcome, TreeEntry } from '../facts/file-tree.js';
import { readStagedFile, type StagedEntry, type StagingFolder } from './staging-folder.js';

/** Bytes handed out at a time. */
const pieceBytes = 256 * 1024;

const noCard = new Unseen('not-visible', 'a folder that is not on a card does not show this');

/** The files of a staging folder as the collectors of facts take them. */
export class StagingTree implements FileTree {
  readonly entries: readonly TreeEntry[];
  readonly incomplete: Unseen | null;
  readonly fatCopies = 0;
  private readonly staged: ReadonlyMap<string, StagedEntry>;

  constructor(private readonly folder: StagingFolder) {
    this.staged = new Map(folder.entries.map((entry) => [entry.path, entry]));
    this.entries = folder.entries.map(treeEntry);
    this.incomplete = whatIsMissing(folder);
  }

  read(entry: TreeEntry, visit: (piece: Uint8Array) => void): ReadOutcome {
    const staged = this.staged.get(entry.path);
    if (!staged) throw new Error(`${entry.path} is no file of this folder`);
    const source = readStagedFile(this.folder, staged);
    try {
      if (source.size !== staged.bytes)
        return { whole: false, missing: new Unseen('damaged', `${entry.path} changed while it was read`) };
      for (let at = 0; at < source.size; at += pieceBytes) {
        const piece = source.read(at, Math.min(pieceBytes, source.size - at));
        if (piece instanceof ReadProblem) return { whole: false, missing: unreadable(entry.path, piece) };
        visit(piece);
      }
      // A file that could not be opened and has no bytes would otherwise pass for read.
      const end = source.read(source.size, 0);
      return end instanceof ReadProblem
        ? { whole: false, missing: unreadable(entry.path, end) }
        : { whole: true };
    } finally {
      source.close();
    }
  }

  sameChainInEveryFat(): Unseen {
    return noCard;
  }
}

function treeEntry({
  path,
  name,
  folder,
  isFolder,
  bytes,
  readOnly,
  hidden,
  modified,
}: StagedEntry): TreeEntry {
  return {
    path,
    name,
    folder,
    isFolder,
    bytes,
    readOnly,
    hidden,
    system: noCard,
    shortName: noCard,
    hasLongName: noCard,
    entryIndex: noCard,
    fragments: noCard,
    usesLastCluster: noCard,
    startByte: noCard,
    endByte: noCard,
    modified,
  };
}

function unreadable(path: string, { cause, detail }: ReadProblem): Unseen {
  const text = `${path} could not be read${detail ? `: ${detail}` : ''}`;
  return cause === 'no-permission'
    ? new Unseen('no-permission', text, 'run flashworthy as somebody who may read the file')
    : new Unseen('damaged', text);
}

/** Folders that could not be read may hold anything, and so may a link: the computer would copy what it points to. */
function whatIsMissing({ skipped, overLimit }: StagingFolder): Unseen | null {
  if (overLimit !== undefined) return new Unseen('over-limit', overLimit);
  const closed = skipped.find(({ why }) => why === 'no-permission' || why === 'read-error');
  if (closed) return new Unseen(closed.why === 'no-permission' ? 'no-permission' : 'damaged', closed.text);
  const link = skipped.find(({ why }) => why === 'link');
  return link ? new Unseen('not-visible', link.text, 'put the file itself in place of the link') : null;
}
