import type { ResolvedProfile } from '../board/profile.js';
import type { Digests } from '../bytes/digests.js';
import { limits } from '../bytes/limits.js';
import { Absent, FactList, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import type { FileTree, TreeEntry } from './file-tree.js';
import {
  isNamed,
  matchesPattern,
  misnaming,
  nameCaseOf,
  type WantedFile,
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
] as const;

/** Which entry this loader would take, before its bytes are read. Null when it takes none or the profile does not say. */
export function chooseUpdateFile(tree: FileTree, profile: ResolvedProfile): TreeEntry | null {
  const wanted = wantedFile(profile);
  return wanted === null ? null : (candidatesOf(tree, wanted, profile)[0] ?? null);
}

/**
 * Sets every `updateFile.*` fact from the files of a volume or folder. `tree` is null when the volume could not be
 * read; the facts are then unseen for the given reason.
 */
export function collectUpdateFile(
  store: FactStore,
  tree: FileTree | Unseen,
  profile: ResolvedProfile | null,
  digests: Digests,
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
    wanted.names.length === 1
      ? (wanted.names[0] as string)
      : new Absent('this loader does not look for one fixed name'),
    { origin: 'profile' },
  );
  if (tree instanceof Unseen) {
    store.setGroup('updateFile', tree);
    return null;
  }
  const list = (items: readonly string[]): FactList => new FactList(items, tree.incomplete ?? undefined);
  const inFolder = tree.entries.filter(
    (entry) => !entry.isFolder && sameFolder(entry.folder, wanted.folder, profile),
  );
  const candidates = candidatesOf(tree, wanted, profile);
  store.set('updateFile.candidates', list(candidates.map((entry) => entry.path)));
  store.set('updateFile.elsewhere', list(elsewhere(tree, wanted, profile)));
  store.set(
    'updateFile.misnamed',
    new FactList(misnamed(inFolder, candidates, wanted, profile), tree.incomplete ?? undefined),
  );
  const marker = profile.update.doneMarker;
  store.set(
    'updateFile.doneMarkers',
    marker === undefined || marker === 'any'
      ? new Absent('the profile names no done-marker')
      : list(inFolder.filter((entry) => isNamed(entry, marker, profile)).map((entry) => entry.path)),
  );
  store.set('updateFile.entryLimit', entryLimit(store, profile, wanted.folder));

  const chosen = candidates[0];
  if (chosen === undefined) {
    const none = tree.incomplete ?? new Absent(`no ${wanted.text} on the card`);
    for (const name of ofTheFile) store.set(`updateFile.${name}`, none);
    return null;
  }
  return collectChosen(store, tree, chosen, digests);
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

function sameFolder(folder: string, wanted: string, profile: ResolvedProfile): boolean {
  return nameCaseOf(profile) === 'exact' ? folder === wanted : folder.toUpperCase() === wanted.toUpperCase();
}

/** What this loader could take, in its own order: the first one is what it takes. */
function candidatesOf(tree: FileTree, wanted: WantedFile, profile: ResolvedProfile): TreeEntry[] {
  const inFolder = tree.entries.filter(
    (entry) => !entry.isFolder && sameFolder(entry.folder, wanted.folder, profile),
  );
  if (wanted.pattern === null) {
    return wanted.names.flatMap((name) => inFolder.filter((entry) => isNamed(entry, name, profile)));
  }
  const { pattern } = wanted;
  const matching = inFolder.filter((entry) => matchesPattern(entry, pattern, profile));
  const byName = (a: TreeEntry, b: TreeEntry): number =>
    a.name.toUpperCase() < b.name.toUpperCase() ? 1 : -1;
  if (pattern.takes === 'last-entry') return matching.reverse();
  if (pattern.takes === 'newest-name') return matching.sort(byName);
  if (pattern.takes === 'newest-date') return matching.sort((a, b) => (b.modified ?? 0) - (a.modified ?? 0));
  return matching;
}

function elsewhere(tree: FileTree, wanted: WantedFile, profile: ResolvedProfile): string[] {
  return tree.entries
    .filter((entry) => !entry.isFolder && !sameFolder(entry.folder, wanted.folder, profile))
    .filter((entry) => wanted.names.some((name) => isNamed(entry, name, profile)))
    .map((entry) => entry.path);
}

function misnamed(
  inFolder: TreeEntry[],
  candidates: TreeEntry[],
  wanted: WantedFile,
  profile: ResolvedProfile,
) {
  return inFolder.flatMap((entry) => {
    if (candidates.includes(entry)) return [];
    for (const name of wanted.names) {
      const how = misnaming(entry.name, name, nameCaseOf(profile));
      if (how !== null) return [{ path: entry.path, how }];
    }
    return [];
  });
}

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
