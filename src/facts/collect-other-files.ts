import type { ResolvedProfile } from '../board/profile.js';
import { litterOf } from '../card/litter.js';
import { isCompanion } from './collect-companions.js';
import { Absent, FactList, type FactRecord, isRecord, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import type { FileTree, TreeEntry } from './file-tree.js';
import { patternTakes, wantedFile } from './update-file-name.js';

/** Facts whose files have a rule of their own, so that they are not "other" files. */
const explainedBy = [
  'updateFile.candidates',
  'updateFile.elsewhere',
  'updateFile.doneMarkers',
  'updateFile.misnamed',
  'updateFile.hidden',
  'updateFile.onOtherMachines',
  'updateFile.stages',
] as const;

/**
 * Sets `otherFiles.*` and `settingsFile.found`: what lies on the card besides the update and its companions. Called
 * after the facts of the update file, the companions and the board were set.
 */
export function collectOtherFiles(
  store: FactStore,
  tree: FileTree | Unseen,
  profile: ResolvedProfile | null,
): void {
  const missing =
    profile === null
      ? new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE')
      : tree instanceof Unseen
        ? tree
        : openQuestion(profile);
  if (profile === null || tree instanceof Unseen || missing !== null) {
    const marker = missing ?? new Unseen('not-visible', 'the files were not read');
    store.setGroup('otherFiles', marker);
    store.setGroup('settingsFile', marker);
    return;
  }
  const ownPaths = explainedPaths(store);
  const settingsFile = store.value('board.settings.file');
  const isSettings = ({ path }: TreeEntry): boolean =>
    typeof settingsFile === 'string' && path.toUpperCase() === settingsFile.replace(/^\/+/, '').toUpperCase();
  const files = tree.entries.filter((entry) => !entry.isFolder);
  const companions = companionsOf(profile);
  const isOwn = (entry: TreeEntry): boolean =>
    ownPaths.has(entry.path) ||
    isSettings(entry) ||
    companions.some((companion) => isCompanion(entry, companion, profile));

  const forOthers = othersFiles(store, files, profile, companions);
  for (const { path } of forOthers) ownPaths.add(path as string);
  const list = (items: readonly FactRecord[]): FactList => new FactList(items, tree.incomplete ?? undefined);
  store.set('otherFiles.forOtherLoaders', list(forOthers));
  store.set('otherFiles.list', list(others(tree.entries, files.filter(isOwn), foldersOf(profile))));
  store.set(
    'settingsFile.found',
    typeof settingsFile !== 'string'
      ? settingsFile instanceof Unseen
        ? settingsFile
        : new Absent('the profile names no file of settings')
      : files.some(isSettings) || (tree.incomplete ?? false),
  );
}

/** Without the place of the update file or the companions, nobody can say what is another file. */
function openQuestion(profile: ResolvedProfile): Unseen | null {
  for (const key of ['update.path', 'update.names', 'update.match', 'companions']) {
    const open = profile.open[key];
    if (open) return new Unseen('not-told', open.text, open.settle);
  }
  return null;
}

const companionsOf = ({ companions }: ResolvedProfile) =>
  companions === undefined || companions === 'any' ? [] : companions;

/** Folders that may lie on the card even when they are empty: those in which the loader looks. */
function foldersOf(profile: ResolvedProfile): string[] {
  const wanted = wantedFile(profile);
  return wanted === null ? [] : [wanted.folder, ...wanted.places.map(({ folder }) => folder)];
}

function explainedPaths(store: FactStore): Set<string> {
  const paths = new Set<string>();
  for (const fact of explainedBy) {
    const value = store.value(fact);
    if (!(value instanceof FactList)) continue;
    for (const item of value.items) {
      const path = isRecord(item) ? item.path : item;
      if (typeof path === 'string') paths.add(path);
    }
  }
  return paths;
}

/** Everything but these files and the folders above them; a folder stands for what is in it. */
function others(
  entries: readonly TreeEntry[],
  own: readonly TreeEntry[],
  folders: readonly string[],
): FactRecord[] {
  const kept = new Set(own.map(({ path }) => path.toUpperCase()));
  for (const folder of [...own.map((entry) => entry.folder), ...folders])
    for (let at = folder.toUpperCase(); at !== ''; at = at.slice(0, Math.max(at.lastIndexOf('/'), 0)))
      kept.add(at);
  const found: FactRecord[] = [];
  const reported = new Set<string>();
  for (const { path, name, folder, isFolder } of entries) {
    if (kept.has(path.toUpperCase())) continue;
    // Folders come before what is in them, so that the folder above was seen already.
    if (isFolder) reported.add(path);
    if (!reported.has(folder)) found.push({ path, isFolder, litter: litterOf(name) });
  }
  return found;
}

/**
 * Files in the top folder that a second loader would take. A file whose name the profile itself asks for is none: the
 * author knows what the other loader does with it.
 */
function othersFiles(
  store: FactStore,
  files: readonly TreeEntry[],
  profile: ResolvedProfile,
  companions: ReturnType<typeof companionsOf>,
): FactRecord[] {
  const loaders = store.value('board.others');
  if (!(loaders instanceof FactList)) return [];
  const asked = new Set((wantedFile(profile)?.places ?? []).map(({ name }) => name.toUpperCase()));
  return files.flatMap((entry) => {
    if (entry.folder !== '' || asked.has(entry.name.toUpperCase())) return [];
    if (companions.some((companion) => isCompanion(entry, companion, profile))) return [];
    for (const loader of loaders.items) {
      if (!isRecord(loader)) continue;
      const { title, glob, contains } = loader;
      const pattern = {
        ...(typeof glob === 'string' ? { glob } : {}),
        ...(typeof contains === 'string' ? { contains } : {}),
      };
      const names = [entry.name, ...(typeof entry.shortName === 'string' ? [entry.shortName] : [])];
      if (Object.keys(pattern).length > 0 && names.some((name) => patternTakes(name, pattern, 'ignored')))
        return [{ path: entry.path, loader: title ?? new Absent('the profile does not name it') }];
    }
    return [];
  });
}
