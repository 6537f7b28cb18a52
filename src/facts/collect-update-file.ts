import type { Profile, ResolvedProfile } from '../board/profile.js';
import type { Digests } from '../bytes/digests.js';
import { limits } from '../bytes/limits.js';
import { litterOf } from '../card/litter.js';
import { Absent, FactList, type FactRecord, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import type { FileTree, TreeEntry } from './file-tree.js';
import {
  hiddenBecause,
  isIn,
  isNamed,
  likelyShortName,
  matchesPattern,
  misnaming,
  splitName,
  type WantedFile,
  wantedElsewhere,
  wantedFile,
} from './update-file-name.js';

/** The update file with its bytes, for whoever decodes them. */
export interface UpdateFile {
  readonly entry: TreeEntry;
  /** All bytes when they came whole and are within `limits.updateFileBytes`; else null. */
  readonly bytes: Uint8Array | null;
}

/** Facts that exist only when the update file does. */
const ofTheFile = [
  'path',
  'name',
  'shortName',
  'hasLongName',
  'bytes',
  'readOnly',
  'entryIndex',
  'fragments',
  'startByte',
  'endByte',
  'usesLastCluster',
  'whole',
  'sameThroughEachFat',
  'crc32',
  'sha256',
  'nameUsedBefore',
] as const;

/** Which entry this loader would take, before its bytes are read. Null when it takes none or the profile does not say. */
export function chooseUpdateFile(tree: FileTree, profile: ResolvedProfile): TreeEntry | null {
  const wanted = wantedFile(profile);
  return wanted === null ? null : (candidatesOf(tree, wanted, profile)[0] ?? null);
}

/**
 * Sets every `updateFile.*` fact from the files of a volume or folder. `tree` is Unseen when the volume could not be
 * read; the facts are then unseen for that reason. `whole` is the profile before it was resolved for this machine; it
 * tells where other machines look.
 */
export function collectUpdateFile(
  store: FactStore,
  tree: FileTree | Unseen,
  profile: ResolvedProfile | null,
  digests: Digests,
  whole: Profile | null = null,
): UpdateFile | null {
  const silent = openOrSilent(profile);
  if (profile === null || silent !== null) {
    store.setGroup('updateFile', silent ?? noProfile);
    return null;
  }
  const wanted = wantedFile(profile) as WantedFile;
  store.set('updateFile.wanted', wanted.text, { origin: 'profile' });
  store.set('updateFile.wantedFolder', wanted.folder, { origin: 'profile' });
  store.set(
    'updateFile.wantedName',
    wanted.places.length === 1
      ? (wanted.places[0]?.name as string)
      : new Absent('this loader does not look for one fixed name'),
    { origin: 'profile' },
  );
  if (tree instanceof Unseen) {
    store.setGroup('updateFile', tree);
    return null;
  }
  const list = (items: readonly FactValue[]): FactList => new FactList(items, tree.incomplete ?? undefined);
  const files = tree.entries.filter((entry) => !entry.isFolder);
  const candidates = candidatesOf(tree, wanted, profile);
  const taken = new Set(candidates);
  const others = files.filter((entry) => !taken.has(entry));
  const hidden = others.flatMap((entry) => {
    const how = hiddenBecause(entry, wanted, profile);
    return how === null ? [] : [{ entry, how }];
  });
  const marks = others.filter((entry) => isDoneMarker(entry, wanted, profile));
  const stages = stagesAmong(others, wanted, profile);
  store.set('updateFile.folderTwins', list(folderTwins(tree, wanted, profile)));
  store.set('updateFile.candidates', list(candidates.map((entry) => entry.path)));
  store.set(
    'updateFile.hidden',
    list(
      hidden.map(({ entry: { path, name, shortName }, how }) => ({
        path,
        shortName: typeof shortName === 'string' ? shortName : likelyShortName(name),
        how,
      })),
    ),
  );
  const explained = new Set([...hidden, ...stages].map(({ entry }) => entry));
  for (const entry of marks) explained.add(entry);
  const rest = others.filter((entry) => !explained.has(entry));
  store.set('updateFile.elsewhere', list(elsewhere(rest, wanted, profile)));
  store.set('updateFile.misnamed', list(misnamed(rest, wanted, profile)));
  store.set(
    'updateFile.onOtherMachines',
    whole === null ? list([]) : list(forOtherMachines(tree, wanted, profile, whole)),
  );
  store.set(
    'updateFile.doneMarkers',
    said(profile.update.doneMarker) === null
      ? new Absent('the profile names no done-marker')
      : list(marks.map((entry) => entry.path)),
  );
  store.set(
    'updateFile.stages',
    said(profile.update.stageNames) === null
      ? new Absent('the profile names no stages')
      : list(stages.map(({ entry: { path }, means }) => ({ path, means }))),
  );
  const forks = new Set(candidates.filter((entry) => isStrayFork(entry, wanted)));
  store.set('updateFile.resourceForks', list([...forks].map((entry) => entry.path)));
  store.set(
    'updateFile.greedy',
    wanted.pattern?.contains === undefined
      ? new Absent('this loader does not go by a part of the name')
      : list(candidates.filter((entry) => !forks.has(entry)).map((entry) => entry.path)),
  );
  store.set('updateFile.entryLimit', entryLimit(store, profile, wanted.folder));
  store.set('updateFile.labelTaken', labelTaken(store, wanted, profile), { origin: 'derived' });

  const chosen = candidates[0];
  if (chosen === undefined) {
    const none = tree.incomplete ?? new Absent(`no ${wanted.text} on the card`);
    for (const name of ofTheFile) store.set(`updateFile.${name}`, none);
    return null;
  }
  if (tree.unordered && candidates.length > 1 && goesByOrder(wanted)) {
    for (const name of ofTheFile) store.set(`updateFile.${name}`, tree.unordered);
    return null;
  }
  store.set('updateFile.nameUsedBefore', nameUsedBefore(store, chosen, profile), { origin: 'derived' });
  return collectChosen(store, tree, chosen, digests);
}

/** Whether the name is one that is known to have been flashed on this board. Loaders that remember names ignore case. */
function nameUsedBefore(
  store: FactStore,
  { name, shortName }: TreeEntry,
  { update }: ResolvedProfile,
): string {
  const isThis = (other: string | null | undefined): boolean =>
    [name, shortName].some((own) => typeof own === 'string' && other?.toUpperCase() === own.toUpperCase());
  if (isThis(store.text('machine.lastFileName'))) return 'last';
  return isThis(said(update.factoryName)) ? 'factory' : 'not-known';
}

function collectChosen(store: FactStore, tree: FileTree, entry: TreeEntry, digests: Digests): UpdateFile {
  const where = {
    path: entry.path,
    ...(typeof entry.startByte === 'number' ? { offset: entry.startByte, length: entry.bytes } : {}),
  };
  for (const name of ofTheFile.slice(0, 11)) {
    const value = entry[name as keyof TreeEntry];
    store.set(`updateFile.${name}`, value as string, { where });
  }
  const first = readThrough(tree, entry, digests, undefined);
  store.set('updateFile.whole', first.outcome.missing ?? first.outcome.whole, { where });
  const missing =
    first.outcome.missing ??
    (first.outcome.whole ? null : new Unseen('damaged', 'the update file could not be read to its end'));
  store.set('updateFile.crc32', missing ?? first.crc32, { where, origin: 'derived' });
  store.set('updateFile.sha256', missing ?? first.sha256, { where, origin: 'derived' });
  store.set('updateFile.sameThroughEachFat', sameThroughEachFat(tree, entry, digests, first.sha256), {
    where,
  });
  return { entry, bytes: missing === null ? first.bytes : null };
}

function readThrough(tree: FileTree, entry: TreeEntry, digests: Digests, fatCopy: number | undefined) {
  const crc = digests.crc32();
  const sha = digests.sha256();
  // A size in a directory entry is a claim: space for it is taken only as bytes arrive.
  const pieces: Uint8Array[] = [];
  let length = 0;
  const keep = fatCopy === undefined && entry.bytes <= limits.updateFileBytes;
  const outcome = tree.read(
    entry,
    (piece) => {
      crc.update(piece);
      sha.update(piece);
      if (keep) pieces.push(piece.slice());
      length += piece.length;
    },
    fatCopy,
  );
  let bytes: Uint8Array | null = null;
  if (keep) {
    bytes = new Uint8Array(length);
    let at = 0;
    for (const piece of pieces) {
      bytes.set(piece, at);
      at += piece.length;
    }
  }
  return { outcome, crc32: crc.hex(), sha256: sha.hex(), bytes };
}

function sameThroughEachFat(
  tree: FileTree,
  entry: TreeEntry,
  digests: Digests,
  sha256: string,
): boolean | Unseen {
  const same = tree.sameChainInEveryFat(entry);
  if (same !== false) return same;
  // Different chains may still lead to equal bytes; only the bytes decide.
  for (let copy = 0; copy < tree.fatCopies; copy++) {
    const through = readThrough(tree, entry, digests, copy);
    if (!through.outcome.whole || through.sha256 !== sha256) return false;
  }
  return true;
}

const noProfile = new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE');

/** Why the profile cannot say what this loader looks for, or null when it does say. */
function openOrSilent(profile: ResolvedProfile | null): Unseen | null {
  if (profile === null) return noProfile;
  for (const key of ['update.path', 'update.names', 'update.match']) {
    const open = profile.open[key];
    if (open) return new Unseen('not-told', open.text, open.settle);
  }
  if (wantedFile(profile) !== null) return null;
  return new Unseen(
    'profile-silent',
    'the board profile does not say which file this loader looks for',
    'ask the author of the profile for update.path or update.match',
  );
}

/** What this loader could take, in its own order: the first one is what it takes. */
function candidatesOf(tree: FileTree, wanted: WantedFile, profile: ResolvedProfile): TreeEntry[] {
  const inFolder = (folder: string): TreeEntry[] =>
    tree.entries.filter((entry) => !entry.isFolder && isIn(entry, folder, profile));
  const { pattern } = wanted;
  if (pattern === null)
    return wanted.places.flatMap(({ folder, name }) =>
      inFolder(folder).filter((entry) => isNamed(entry, name, profile)),
    );
  const matching = inFolder(wanted.folder).filter((entry) => matchesPattern(entry, pattern, profile));
  const byName = (a: TreeEntry, b: TreeEntry): number =>
    a.name.toUpperCase() < b.name.toUpperCase() ? 1 : -1;
  if (pattern.takes === 'last-entry') return matching.reverse();
  if (pattern.takes === 'newest-name') return matching.sort(byName);
  if (pattern.takes === 'newest-date') return matching.sort((a, b) => (b.modified ?? 0) - (a.modified ?? 0));
  return matching;
}

/** True when the place of an entry in its folder decides which of several the loader takes. */
const goesByOrder = ({ pattern }: WantedFile): boolean =>
  pattern !== null && (pattern.takes === undefined || /-entry$/.test(pattern.takes));

/** What a key of the profile says, or null when it says nothing or that it does not matter. */
function said<T>(value: T | 'any' | undefined): T | null {
  return value === undefined || value === 'any' ? null : value;
}

/** True when a loader that takes the label entry of the root folder for a file would take it for the update file. */
function labelTaken(store: FactStore, wanted: WantedFile, profile: ResolvedProfile): boolean | Unseen {
  const name = store.value('volume.labelEntryName');
  if (name instanceof Unseen) return name;
  if (typeof name !== 'string') return false;
  const label: TreeEntry = {
    path: name,
    name,
    folder: '',
    isFolder: false,
    bytes: 0,
    readOnly: false,
    hidden: false,
    system: false,
    shortName: name,
    hasLongName: false,
    entryIndex: 0,
    fragments: 0,
    usesLastCluster: false,
    startByte: 0,
    endByte: 0,
    modified: null,
  };
  const { pattern, places } = wanted;
  return pattern === null
    ? places.some((place) => place.folder === '' && isNamed(label, place.name, profile))
    : wanted.folder === '' && matchesPattern(label, pattern, profile);
}

/**
 * Folders that the loader could take for one and the same on its way to the update file: a volume where one folder's
 * short name is another's long name. Empty when there is one for each step, or none.
 */
function folderTwins(tree: FileTree, wanted: WantedFile, profile: ResolvedProfile): string[] {
  const folders = tree.entries.filter((entry) => entry.isFolder);
  const wantedFolders = wanted.pattern === null ? wanted.places.map(({ folder }) => folder) : [wanted.folder];
  const twins = new Set<string>();
  for (const folder of new Set(wantedFolders)) {
    const steps = folder === '' ? [] : folder.split('/');
    for (const [at, name] of steps.entries()) {
      const outer = steps.slice(0, at).join('/');
      const found = folders.filter((entry) => isIn(entry, outer, profile) && isNamed(entry, name, profile));
      if (found.length > 1) for (const { path } of found) twins.add(path);
    }
  }
  return [...twins];
}

/** Paths of files with the wanted name in folders into which the loader does not look. */
function elsewhere(files: readonly TreeEntry[], wanted: WantedFile, profile: ResolvedProfile): string[] {
  const { pattern, places } = wanted;
  return files
    .filter((entry) =>
      pattern === null
        ? places.some(({ name }) => isNamed(entry, name, profile))
        : litterOf(entry.name) === 'none' &&
          !isInFolder(entry, wanted, profile) &&
          matchesPattern(entry, pattern, profile),
    )
    .map((entry) => entry.path);
}

/** Files in a folder of the loader whose names are nearly the wanted one; by-products of the computer never are. */
function misnamed(files: readonly TreeEntry[], wanted: WantedFile, profile: ResolvedProfile): FactRecord[] {
  return files.flatMap((entry) => {
    for (const { folder, name } of wanted.places) {
      if (!isIn(entry, folder, profile)) continue;
      const how = litterOf(entry.name) === 'none' ? misnaming(entry.name, name) : null;
      if (how !== null) return [{ path: entry.path, how }];
    }
    return [];
  });
}

/** Files that the loader of another machine with this board would take, and this one does not. */
function forOtherMachines(
  tree: FileTree,
  wanted: WantedFile,
  profile: ResolvedProfile,
  whole: Profile,
): FactRecord[] {
  const own = new Set(candidatesOf(tree, wanted, profile));
  const found = new Map<TreeEntry, FactRecord>();
  for (const other of wantedElsewhere(whole, wanted))
    for (const entry of candidatesOf(tree, other.wanted, profile))
      if (!own.has(entry) && !found.has(entry))
        found.set(entry, { path: entry.path, looksFor: other.wanted.text, machines: other.machines });
  return [...found.values()];
}

const isInFolder = (entry: TreeEntry, wanted: WantedFile, profile: ResolvedProfile): boolean =>
  (wanted.pattern === null ? wanted.places.map(({ folder }) => folder) : [wanted.folder]).some((folder) =>
    isIn(entry, folder, profile),
  );

function isDoneMarker(entry: TreeEntry, wanted: WantedFile, profile: ResolvedProfile): boolean {
  const marker = said(profile.update.doneMarker);
  return marker !== null && isInFolder(entry, wanted, profile) && isNamed(entry, marker, profile);
}

/**
 * Files whose names record where an earlier flash stopped: the end of the profile in place of the extension, or behind
 * the whole name or the part before the extension.
 */
function stagesAmong(
  files: readonly TreeEntry[],
  wanted: WantedFile,
  profile: ResolvedProfile,
): { entry: TreeEntry; means: string }[] {
  const stages = said<{ suffix: string; means: string }[]>(profile.update.stageNames) ?? [];
  if (stages.length === 0) return [];
  return files.flatMap((entry) => {
    if (!isInFolder(entry, wanted, profile)) return [];
    const name = entry.name.toUpperCase();
    for (const { suffix, means } of stages) {
      const end = suffix.toUpperCase();
      const { stem, extension } = splitName(name);
      const rest = name.endsWith(end)
        ? name.slice(0, name.length - end.length)
        : stem.endsWith(end)
          ? `${stem.slice(0, stem.length - end.length)}.${extension}`
          : null;
      if (rest !== null && isOfUpdate(rest, wanted)) return [{ entry, means }];
    }
    return [];
  });
}

/** True when the rest of a stage's name is that of the update file; by a pattern, nobody can tell. */
const isOfUpdate = (rest: string, { places, pattern }: WantedFile): boolean =>
  pattern !== null ||
  places.some(({ name }) => [name.toUpperCase(), splitName(name.toUpperCase()).stem].includes(rest));

/**
 * True for what macOS writes beside a file on a card without room for its attributes (`._NAME`), when a pattern takes
 * it by accident: a pattern that itself begins so means it.
 */
const isStrayFork = ({ name }: TreeEntry, { pattern }: WantedFile): boolean =>
  pattern !== null && litterOf(name) === 'resource-fork' && !(pattern.glob ?? '').startsWith('.');

/**
 * Slots of the folder that the loader looks at. `first-cluster` means as many as one cluster holds: a loader that
 * reads a FAT16 root folder as if it were one cluster long (Texas Instruments errata SPRZ455F and SPRZ452I).
 */
function entryLimit(store: FactStore, profile: ResolvedProfile, folder: string): number | Absent | Unseen {
  const open = profile.open['loader.rootEntries'];
  if (open) return new Unseen('not-told', open.text, open.settle);
  const nothing = new Absent('the profile names no limit of directory entries');
  let said = profile.loader.rootEntries;
  if (said === undefined || said === 'any' || folder !== '') return nothing;
  if (typeof said === 'object') {
    const fileSystem = store.value('volume.fileSystem');
    if (fileSystem instanceof Unseen) return fileSystem;
    said = typeof fileSystem === 'string' ? said[fileSystem] : undefined;
    if (said === undefined || said === 'any') return nothing;
  }
  if (said !== 'first-cluster') return said as number;
  const clusterBytes = store.value('volume.clusterBytes');
  if (typeof clusterBytes === 'number') return clusterBytes / 32;
  return clusterBytes instanceof Unseen ? clusterBytes : nothing;
}
