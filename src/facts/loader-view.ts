import type { ResolvedProfile } from '../board/profile.js';
import { isCompanion } from './collect-companions.js';
import { chooseUpdateFile } from './collect-update-file.js';
import { Unseen } from './fact.js';
import type { FileTree, FolderNames, TreeEntry } from './file-tree.js';
import type { ClosedPlace, MountedTree } from './mounted-tree.js';
import { foldCase, likelyShortName, splitPath, wantedFile } from './update-file-name.js';

/** Folders that the loader looks into, the root as an empty text; without a profile the root alone. */
export function lookedInto(profile: ResolvedProfile | null): string[] {
  const folders = new Set<string>();
  const wanted = profile === null ? null : wantedFile(profile);
  if (wanted === null) folders.add('');
  else if (wanted.pattern === null) for (const { folder } of wanted.places) folders.add(folder);
  else folders.add(wanted.folder);
  const companions = profile?.companions;
  if (Array.isArray(companions))
    for (const { path, glob } of companions) folders.add(splitPath(path ?? glob ?? '').folder);
  return [...folders];
}

/**
 * The files as far as this loader can tell them apart. A place that could not be looked at, and into which the loader
 * looks, leaves the list incomplete; others do not. So does a file that the loader would know by a short name which
 * the computer does not show, and one that it may know by such a name.
 */
export function asLoaderSees(tree: MountedTree, profile: ResolvedProfile | null): FileTree {
  const folders = lookedInto(profile);
  const closed = tree.closed.find((place) => matters(place, folders));
  const shown = profile === null ? tree : withShortNames(tree, profile);
  return closed === undefined || shown.incomplete !== null
    ? shown
    : narrowed(shown, shown.entries, closed.why);
}

const narrowed = (tree: FileTree, entries: readonly TreeEntry[], incomplete: Unseen | null): FileTree => ({
  entries,
  incomplete,
  ...(tree.unordered ? { unordered: tree.unordered } : {}),
  fatCopies: tree.fatCopies,
  read: (entry, visit, fatCopy) => tree.read(entry, visit, fatCopy),
  sameChainInEveryFat: (entry) => tree.sameChainInEveryFat(entry),
});

function matters({ path, isFolder }: ClosedPlace, folders: readonly string[]): boolean {
  const here = foldCase(path);
  return folders.some((each) => {
    const folder = foldCase(each);
    if (folder === here || folder.startsWith(`${here}/`)) return true;
    return !isFolder && foldCase(splitPath(path).folder) === folder;
  });
}

function withShortNames(tree: MountedTree, profile: ResolvedProfile): FileTree {
  const unclear = tree.entries.find((entry) => !entry.isFolder && restsOnGuess(entry, profile, tree));
  if (unclear)
    return narrowed(
      tree,
      tree.entries.filter((entry) => entry !== unclear),
      tree.incomplete ??
        new Unseen(
          'not-visible',
          `this loader knows files by their short names, and a mounted folder does not show the one of "${unclear.path}"`,
          `rename it, so that its name is all in capital letters: ${likelyShortName(unclear.name)}`,
        ),
    );
  return profile.loader.longNames === false ? tree : namedByShortName(tree, profile);
}

/** True when the loader would take the entry by a short name that is only the likely one. */
function restsOnGuess(entry: TreeEntry, profile: ResolvedProfile, tree: FileTree): boolean {
  if (profile.loader.longNames !== false) return false;
  const names = [entry, ...(entry.above ?? [])];
  if (names.every(({ shortName }) => typeof shortName === 'string')) return false;
  const alone = narrowed(tree, [entry], null);
  if (chooseUpdateFile(alone, profile) !== null) return true;
  const { companions } = profile;
  return Array.isArray(companions) && companions.some((each) => isCompanion(entry, each, profile));
}

/**
 * A loader that reads both names may find a wanted file by a short one that is not shown, its own or that of a folder
 * above it: the driver is asked whether it opens anything under that path.
 */
function namedByShortName(tree: MountedTree, profile: ResolvedProfile): FileTree {
  const { companions } = profile;
  const paths = [
    ...(wantedFile(profile)?.places ?? []).map(({ folder, name }) => `${folder}/${name}`),
    ...(Array.isArray(companions) ? companions.map(({ path }) => path ?? '') : []),
  ].map((path) => path.replace(/^\/+/, ''));
  let view: FileTree = tree;
  for (const path of paths) {
    const parts = path.split('/');
    const { entries, incomplete } = view;
    const perhaps = entries.filter((entry) => mayLieUnder(entry, parts));
    if (perhaps.length === 0 || entries.some((entry) => foldCase(entry.path) === foldCase(path))) continue;
    const found = tree.find(path);
    if (found instanceof Unseen)
      view = narrowed(
        view,
        entries.filter((entry) => !perhaps.includes(entry)),
        incomplete ?? found,
      );
    else if (found !== null)
      view = narrowed(
        view,
        entries.map((entry) => (entry.path === found ? opened(entry, parts) : entry)),
        incomplete,
      );
  }
  return view;
}

/** True when a file may lie under a path, because each name on the way is the wanted one or has a short one not shown. */
function mayLieUnder(entry: TreeEntry, parts: readonly string[]): boolean {
  const names: FolderNames[] = [...(entry.above ?? []), entry];
  return (
    !entry.isFolder &&
    names.length === parts.length &&
    names.every(
      ({ name, shortName }, at) =>
        typeof shortName !== 'string' || foldCase(name) === foldCase(parts[at] as string),
    )
  );
}

/** An entry that was opened under another path than its own: names that differ are its short ones. */
function opened(entry: TreeEntry, parts: readonly string[]): TreeEntry {
  const named = <T extends FolderNames>(names: T, at: number): T => {
    const part = foldCase(parts[at] as string);
    return foldCase(names.name) === part ? names : { ...names, shortName: part };
  };
  const above = (entry.above ?? []).map(named);
  return { ...named(entry, above.length), above };
}
