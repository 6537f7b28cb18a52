import { nameFault, type StoredName, slotsOf, storedNames } from './names.js';

/** A file that goes onto a card. */
export interface NewFile {
  /** Path on the card, with `/` between names. */
  readonly path: string;
  readonly bytes: Uint8Array;
}

/** A file or folder of a new card, in the order in which it is stored. */
export type NewEntry = NewFileEntry | NewFolder;
export interface NewFileEntry {
  readonly isFolder: false;
  readonly stored: StoredName;
  readonly file: NewFile;
}
export interface NewFolder {
  readonly isFolder: true;
  readonly stored: StoredName;
  readonly entries: readonly NewEntry[];
  /** Entries of 32 bytes that it holds. */
  readonly slots: number;
}

/** Files that cannot stand on a card as they are named. The message is a plain sentence. */
export class NameProblem extends Error {
  override readonly name = 'NameProblem';
}

interface Branch {
  readonly name: string;
  readonly file: NewFile | null;
  readonly inside: Branch[];
}

/**
 * The root folder of a card with these files, each folder where its first file comes in their order. Throws
 * `NameProblem` for names that a card cannot hold, or that it cannot hold beside each other.
 */
export function treeOf(files: readonly NewFile[], keepCase: boolean): NewFolder {
  const root: Branch = { name: '', file: null, inside: [] };
  for (const file of files) {
    let folder = root;
    const names = file.path.split('/');
    for (const [at, name] of names.entries()) {
      const fault = nameFault(name);
      if (fault !== null) throw new NameProblem(`The name ${file.path} cannot stand on a card: ${fault}.`);
      const isLast = at === names.length - 1;
      const twin = folder.inside.find((other) => other.name.toUpperCase() === name.toUpperCase());
      if (twin !== undefined && (isLast || twin.file !== null))
        throw new NameProblem(`Two things of the name ${file.path} cannot stand on one card.`);
      const branch = twin ?? { name, file: isLast ? file : null, inside: [] };
      if (twin === undefined) folder.inside.push(branch);
      folder = branch;
    }
  }
  return folderOf(root, { raw: '', long: null }, 0, keepCase);
}

/** @param own entries that the folder holds about itself: `.` and `..`, which the root folder has not */
function folderOf({ inside }: Branch, stored: StoredName, own: number, keepCase: boolean): NewFolder {
  const names = storedNames(
    inside.map(({ name }) => name),
    keepCase,
  );
  const entries = inside.map((branch, at): NewEntry => {
    const name = names[at] as StoredName;
    return branch.file === null
      ? folderOf(branch, name, 2, keepCase)
      : { isFolder: false, stored: name, file: branch.file };
  });
  const slots = names.reduce((sum, name) => sum + slotsOf(name), own);
  return { isFolder: true, stored, entries, slots };
}

/** Sizes of all files and of the folders inside the root folder, for the layout. */
export function lengthsIn({ entries }: NewFolder): number[] {
  return entries.flatMap((entry) =>
    entry.isFolder ? [entry.slots * 32, ...lengthsIn(entry)] : [entry.file.bytes.length],
  );
}
