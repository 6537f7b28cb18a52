import { litterOf } from '../card/litter.js';
import { FactList, type FactRecord } from './fact.js';
import type { FactStore } from './fact-store.js';
import type { FileTree, TreeEntry } from './file-tree.js';

/** Sets `files` and `filesTotal` from a tree of files that lies on no volume of its own. */
export function collectTree(store: FactStore, tree: FileTree): void {
  store.set('files', new FactList(tree.entries.map(fileRecord), tree.incomplete ?? undefined));
  store.set('filesTotal', tree.incomplete ?? tree.entries.length);
}

function fileRecord(entry: TreeEntry): FactRecord {
  const { path, name, folder, isFolder, bytes, readOnly, shortName, hasLongName, entryIndex, fragments } =
    entry;
  return {
    path,
    name,
    folder,
    isFolder,
    bytes,
    readOnly,
    shortName,
    hasLongName,
    entryIndex,
    fragments,
    depth: folder === '' ? 0 : folder.split('/').length,
    hidden: entry.hidden,
    system: entry.system,
    litter: litterOf(name),
  };
}
