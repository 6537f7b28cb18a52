import type { Companion, Range, ResolvedProfile } from '../board/profile.js';
import type { Digests } from '../bytes/digests.js';
import { limits } from '../bytes/limits.js';
import { sizeText } from '../rules/functions.js';
import { Absent, FactList, type FactRecord, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import type { FileTree, TreeEntry } from './file-tree.js';
import { isNamed, matchesGlob, nameCaseOf, splitPath } from './update-file-name.js';

/**
 * Sets `companions`: one record for each file that the profile wants beside the update file on this machine. A
 * profile that names none, or says that any will do, gives an empty list that is complete.
 */
export function collectCompanions(
  store: FactStore,
  tree: FileTree | Unseen,
  profile: ResolvedProfile | null,
  digests: Digests,
): void {
  if (profile === null) {
    store.set(
      'companions',
      new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE'),
    );
    return;
  }
  const open = profile.open.companions;
  if (open) {
    store.set('companions', new Unseen('not-told', open.text, open.settle));
    return;
  }
  const wanted = profile.companions === undefined || profile.companions === 'any' ? [] : profile.companions;
  const updateSha256 = store.value('updateFile.sha256');
  store.set(
    'companions',
    new FactList(wanted.map((companion) => companionRecord(companion, tree, profile, updateSha256, digests))),
  );
}

function companionRecord(
  companion: Companion,
  tree: FileTree | Unseen,
  profile: ResolvedProfile,
  updateSha256: FactValue,
  digests: Digests,
): FactRecord {
  const path = companion.path ?? companion.glob ?? '';
  const fixed = {
    path,
    role: companion.role,
    required: companion.required,
    bytesWanted: bytesWanted(companion.bytes),
    contentWanted: contentWanted(companion.content),
  };
  const without = (marker: Unseen | Absent): FactRecord => ({
    ...fixed,
    bytes: marker,
    bytesFit: marker,
    contentFits: marker,
    whole: marker,
  });
  if (tree instanceof Unseen) return { ...without(tree), found: tree, elsewhere: tree };
  const files = tree.entries.filter((entry) => !entry.isFolder);
  const entry = files.find((file) => isCompanion(file, companion, profile));
  if (entry === undefined) {
    if (tree.incomplete)
      return { ...without(tree.incomplete), found: tree.incomplete, elsewhere: tree.incomplete };
    const name = splitPath(path).name;
    const twin =
      companion.path === undefined ? undefined : files.find((file) => isNamed(file, name, profile));
    return {
      ...without(new Absent(`no ${path} on the card`)),
      found: false,
      elsewhere: twin ? twin.path : new Absent(`no file called ${name} anywhere on the card`),
    };
  }
  const content = readCompanion(entry, tree, digests);
  return {
    ...fixed,
    found: true,
    elsewhere: new Absent('it lies where it should'),
    bytes: entry.bytes,
    bytesFit: bytesFit(companion.bytes, entry.bytes),
    whole: content instanceof Unseen ? content : true,
    contentFits: contentFits(companion.content, content, updateSha256),
  };
}

function isCompanion(entry: TreeEntry, companion: Companion, profile: ResolvedProfile): boolean {
  const { folder, name } = splitPath(companion.path ?? companion.glob ?? '');
  const nameCase = nameCaseOf(profile);
  if (nameCase === 'exact' ? entry.folder !== folder : entry.folder.toUpperCase() !== folder.toUpperCase())
    return false;
  return companion.path === undefined
    ? matchesGlob(entry.name, name, nameCase)
    : isNamed(entry, name, profile);
}

/** SHA-256 of a companion's bytes, or why they could not be had. */
function readCompanion(entry: TreeEntry, tree: FileTree, digests: Digests): string | Unseen {
  if (entry.bytes > limits.companionBytes)
    return new Unseen('over-limit', `${entry.path} is larger than flashworthy reads for a companion file`);
  const sha = digests.sha256();
  const outcome = tree.read(entry, (piece) => sha.update(piece));
  if (outcome.whole) return sha.hex();
  return outcome.missing ?? new Unseen('damaged', `${entry.path} could not be read to its end`);
}

function bytesWanted(said: Companion['bytes']): string | Absent {
  if (said === undefined || said === 'any') return new Absent('the profile takes any size');
  if (typeof said === 'number') return said === 0 ? 'empty (0 bytes)' : sizeText(said);
  if (said.min !== undefined && said.max !== undefined)
    return `${sizeText(said.min)} to ${sizeText(said.max)}`;
  return said.min !== undefined ? `${sizeText(said.min)} or more` : `${sizeText(said.max ?? 0)} or less`;
}

function bytesFit(said: number | Range | 'any' | undefined, bytes: number): boolean | Absent {
  if (said === undefined || said === 'any') return new Absent('the profile takes any size');
  if (typeof said === 'number') return bytes === said;
  return bytes >= (said.min ?? 0) && bytes <= (said.max ?? Number.POSITIVE_INFINITY);
}

function contentWanted(said: Companion['content']): string | Absent {
  if (said === undefined || said === 'any') return new Absent('the profile takes any content');
  return said === 'same-as-update'
    ? 'the same bytes as the update file'
    : `the published file (SHA-256 ${said})`;
}

function contentFits(
  said: Companion['content'],
  sha256: string | Unseen,
  updateSha256: FactValue,
): boolean | Absent | Unseen {
  if (said === undefined || said === 'any') return new Absent('the profile takes any content');
  if (sha256 instanceof Unseen) return sha256;
  if (said !== 'same-as-update') return sha256 === said.toLowerCase();
  if (typeof updateSha256 === 'string') return sha256 === updateSha256;
  return updateSha256 instanceof Unseen
    ? updateSha256
    : new Absent('there is no update file to compare it with');
}
