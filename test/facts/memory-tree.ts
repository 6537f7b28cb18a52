import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Unseen } from '../../src/facts/fact.js';
import type { FileTree, TreeEntry } from '../../src/facts/file-tree.js';

/** A file of a tree in memory: its path, and what differs from a plain, empty one. A path that ends with / is a folder. */
export interface MemoryFile extends Partial<Omit<TreeEntry, 'path' | 'bytes'>> {
  readonly path: string;
  readonly content?: string | Uint8Array;
}

const noMedium = new Unseen('not-visible', 'files in memory lie on no medium');

/** A tree of files in memory, in the given order. Short names are those given, else unseen. */
export function memoryTree(files: readonly MemoryFile[], incomplete: Unseen | null = null): FileTree {
  const contents = new Map<TreeEntry, Uint8Array>();
  const entries = files.map(({ content = '', ...file }): TreeEntry => {
    const bytes = typeof content === 'string' ? new TextEncoder().encode(content) : content;
    const path = file.path.replace(/\/$/, '');
    const cut = path.lastIndexOf('/');
    const entry: TreeEntry = {
      name: path.slice(cut + 1),
      folder: path.slice(0, Math.max(cut, 0)),
      isFolder: file.path.endsWith('/'),
      bytes: bytes.length,
      readOnly: false,
      hidden: false,
      system: false,
      shortName: noMedium,
      hasLongName: noMedium,
      entryIndex: noMedium,
      fragments: noMedium,
      usesLastCluster: noMedium,
      startByte: noMedium,
      endByte: noMedium,
      modified: null,
      ...file,
      path,
    };
    contents.set(entry, bytes);
    return entry;
  });
  return {
    entries,
    incomplete,
    fatCopies: 1,
    sameChainInEveryFat: () => noMedium,
    read(entry, visit) {
      const bytes = contents.get(entry);
      if (bytes === undefined) throw new Error(`${entry.path} is not an entry of this tree`);
      visit(bytes);
      return { whole: true };
    },
  };
}

/** The text of a sample board. */
export const sampleBoard = (id: string): string =>
  readFileSync(join(import.meta.dirname, '../../samples/boards', `${id}.yaml`), 'utf8');
