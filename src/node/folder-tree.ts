import { ReadProblem } from '../bytes/byte-source.js';
import { Unseen } from '../facts/fact.js';
import type { FileTree, ReadOutcome, TreeEntry } from '../facts/file-tree.js';
import { readStagedFile, type StagedEntry, type StagingFolder } from './staging-folder.js';

/** Bytes handed out at a time. */
const pieceBytes = 256 * 1024;

/** The files of a folder as the collectors of facts take them. What they are called and what is seen of them differs. */
export abstract class FolderTree implements FileTree {
  readonly entries: readonly TreeEntry[];
  abstract readonly incomplete: Unseen | null;
  readonly fatCopies = 0;
  private readonly staged = new Map<string, StagedEntry>();

  constructor(
    protected readonly folder: StagingFolder,
    entryOf: (entry: StagedEntry) => TreeEntry,
    /** What stands for everything that has to do with the FAT. */
    private readonly noFat: Unseen,
  ) {
    this.entries = folder.entries.map((entry) => {
      const shown = entryOf(entry);
      this.staged.set(shown.path, entry);
      return shown;
    });
  }

  read(entry: TreeEntry, visit: (piece: Uint8Array) => void): ReadOutcome {
    const staged = this.staged.get(entry.path);
    if (!staged) throw new Error(`${entry.path} is no file of this folder`);
    const source = readStagedFile(this.folder, staged);
    const failed = (problem: ReadProblem): ReadOutcome => {
      this.noteProblem(entry.path, problem);
      return { whole: false, missing: unreadable(entry.path, problem) };
    };
    try {
      if (source.size !== staged.bytes)
        return { whole: false, missing: new Unseen('damaged', `${entry.path} changed while it was read`) };
      for (let at = 0; at < source.size; at += pieceBytes) {
        const piece = source.read(at, Math.min(pieceBytes, source.size - at));
        if (piece instanceof ReadProblem) return failed(piece);
        visit(piece);
      }
      // A file that could not be opened and has no bytes would otherwise pass for read.
      const end = source.read(source.size, 0);
      return end instanceof ReadProblem ? failed(end) : { whole: true };
    } finally {
      source.close();
    }
  }

  sameChainInEveryFat(): Unseen {
    return this.noFat;
  }

  /** Told of every file that could not be read. */
  protected noteProblem(_path: string, _problem: ReadProblem): void {}
}

function unreadable(path: string, { cause, detail }: ReadProblem): Unseen {
  const text = `${path} could not be read${detail ? `: ${detail}` : ''}`;
  return cause === 'no-permission'
    ? new Unseen('no-permission', text, 'run flashworthy as somebody who may read the file')
    : new Unseen('damaged', text);
}
