import { Unseen } from '../facts/fact.js';
import type { TreeEntry } from '../facts/file-tree.js';
import { FolderTree } from './folder-tree.js';
import type { StagedEntry, StagingFolder } from './staging-folder.js';

const noCard = new Unseen('not-visible', 'a folder that is not on a card does not show this');

/** The files of a staging folder as the collectors of facts take them. */
export class StagingTree extends FolderTree {
  readonly incomplete: Unseen | null;

  constructor(folder: StagingFolder) {
    super(folder, treeEntry, noCard);
    this.incomplete = whatIsMissing(folder);
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

/** Folders that could not be read may hold anything, and so may a link: the computer would copy what it points to. */
function whatIsMissing({ skipped, overLimit }: StagingFolder): Unseen | null {
  if (overLimit !== undefined) return new Unseen('over-limit', overLimit);
  const closed = skipped.find(({ why }) => why === 'no-permission' || why === 'read-error');
  if (closed) return new Unseen(closed.why === 'no-permission' ? 'no-permission' : 'damaged', closed.text);
  const link = skipped.find(({ why }) => why === 'link');
  return link ? new Unseen('not-visible', link.text, 'put the file itself in place of the link') : null;
}
