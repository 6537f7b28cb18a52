import { releaseNumbering } from '../board/check.js';
import type { Companion, Profile, Range, ResolvedProfile } from '../board/profile.js';
import { compareValues, valueProblem } from '../board/ranges.js';
import type { Digests } from '../bytes/digests.js';
import { limits } from '../bytes/limits.js';
import { sizeText } from '../bytes/size-text.js';
import { grammarFaults, lineEndsOf, readTextFile } from '../card/text-file.js';
import { Absent, FactList, type FactRecord, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import type { FileTree, TreeEntry } from './file-tree.js';
import { foldCase, isIn, isNamed, matchesGlob, nameCaseOf, splitPath } from './update-file-name.js';

/**
 * Sets `companions`: one record for each file that the profile wants beside the update file on this machine. A
 * profile that names none, or says that any will do, gives an empty list that is complete. `whole` is the profile
 * before it was resolved; it tells how releases are compared. Called after the release of the update file was set.
 */
export function collectCompanions(
  store: FactStore,
  tree: FileTree | Unseen,
  profile: ResolvedProfile | null,
  digests: Digests,
  whole: Profile | null = null,
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
  const release = store.value('image.release');
  store.set(
    'companions',
    new FactList(
      wanted.flatMap((companion) => {
        const fromHere = isFromHere(companion, release, whole);
        if (fromHere === false) return [];
        const record = companionRecord(companion, tree, profile, updateSha256, digests);
        // Whether a file that some releases want is needed depends on the release of the update file.
        return fromHere instanceof Unseen && companion.required
          ? [{ ...record, required: fromHere }]
          : [record];
      }),
    ),
  );
}

/** Whether the release of the update file is one that wants this companion: the one in `from`, or a later one. */
function isFromHere({ from }: Companion, release: FactValue, whole: Profile | null): boolean | Unseen {
  if (from === undefined || whole === null) return true;
  const numbering = releaseNumbering(whole);
  if (typeof release === 'string' && valueProblem(release, numbering) === undefined)
    return compareValues(release, from, numbering) >= 0;
  return release instanceof Unseen
    ? release
    : new Unseen(
        'not-visible',
        `releases from ${from} on want this file, and nobody knows which one this is`,
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
    title: companion.title ?? new Absent('the profile gives it no name'),
    role: companion.role,
    required: companion.required,
    bytesWanted: bytesWanted(companion.bytes),
    contentWanted: contentWanted(companion.content),
    afterSuccess: companion.afterSuccess ?? new Absent('the profile does not say'),
    ...textWanted(companion.text),
  };
  const without = (marker: Unseen | Absent): FactRecord => ({
    ...fixed,
    bytes: marker,
    bytesFit: marker,
    contentFits: marker,
    whole: marker,
    foundAt: marker,
    readOnly: marker,
    ...textFound(companion, marker),
  });
  if (tree instanceof Unseen) return { ...without(tree), found: tree, elsewhere: tree };
  const files = tree.entries.filter((entry) => !entry.isFolder);
  const entry = files.find((file) => isCompanion(file, companion, profile));
  if (entry === undefined) {
    if (tree.incomplete)
      return { ...without(tree.incomplete), found: tree.incomplete, elsewhere: tree.incomplete };
    const name = splitPath(path).name;
    const twin =
      companion.path === undefined ? undefined : files.find((file) => isNearly(file, name, profile));
    return {
      ...without(new Absent(`no ${path} on the card`)),
      found: false,
      elsewhere: twin ? twin.path : new Absent(`no file called ${name} anywhere on the card`),
    };
  }
  const content = readCompanion(entry, tree, digests, companion.text !== undefined);
  return {
    ...fixed,
    found: true,
    elsewhere: new Absent('it lies where it should'),
    bytes: entry.bytes,
    bytesFit: bytesFit(companion.bytes, entry.bytes),
    whole: content instanceof Unseen ? content : true,
    contentFits: contentFits(
      companion.content,
      content instanceof Unseen ? content : content.sha256,
      updateSha256,
    ),
    foundAt: entry.path,
    readOnly: entry.readOnly,
    ...textFound(companion, content instanceof Unseen ? content : content.bytes),
  };
}

/** True when a file has the name that a companion must have, at least for a computer, which ignores case. */
const isNearly = (file: TreeEntry, name: string, profile: ResolvedProfile): boolean =>
  isNamed(file, name, profile) || foldCase(file.name) === foldCase(name);

/** True for a file that the loader takes for this companion. */
export function isCompanion(entry: TreeEntry, companion: Companion, profile: ResolvedProfile): boolean {
  const { folder, name } = splitPath(companion.path ?? companion.glob ?? '');
  const nameCase = nameCaseOf(profile);
  if (!isIn(entry, folder, profile)) return false;
  return companion.path === undefined
    ? matchesGlob(entry.name, name, nameCase)
    : isNamed(entry, name, profile);
}

interface CompanionContent {
  readonly sha256: string;
  /** All bytes, when they were asked for; else none. */
  readonly bytes: Uint8Array;
}

/** A companion's bytes and their SHA-256, or why they could not be had. */
function readCompanion(
  entry: TreeEntry,
  tree: FileTree,
  digests: Digests,
  keep: boolean,
): CompanionContent | Unseen {
  if (entry.bytes > limits.companionBytes)
    return new Unseen('over-limit', `${entry.path} is larger than flashworthy reads for a companion file`);
  const sha = digests.sha256();
  const bytes = new Uint8Array(keep ? entry.bytes : 0);
  let at = 0;
  const outcome = tree.read(entry, (piece) => {
    sha.update(piece);
    if (at + piece.length > bytes.length) return;
    bytes.set(piece, at);
    at += piece.length;
  });
  if (outcome.whole) return { sha256: sha.hex(), bytes };
  return outcome.missing ?? new Unseen('damaged', `${entry.path} could not be read to its end`);
}

/** What the profile asks of a companion's text, as facts. */
function textWanted(text: Companion['text']): FactRecord {
  const silent = new Absent(
    text === undefined ? 'the profile does not want text in it' : 'the profile does not say',
  );
  const { encoding, bom, lineEnds, grammar } = text ?? {};
  return {
    encodingWanted: encoding ?? silent,
    markAllowed: bom ?? silent,
    lineEndsWanted: lineEnds === undefined || lineEnds === 'any' ? silent : lineEnds,
    grammarWanted: grammar ?? silent,
  };
}

/** What its text is, as facts; a marker in place of the bytes stands for all of them. */
function textFound({ text }: Companion, bytes: Uint8Array | Unseen | Absent): FactRecord {
  const noText = text === undefined ? new Absent('the profile does not want text in it') : null;
  const missing = noText ?? (bytes instanceof Uint8Array ? null : bytes);
  if (missing !== null || !(bytes instanceof Uint8Array)) {
    const marker = missing ?? new Absent('it was not read');
    return { encoding: marker, mark: marker, zeroBytes: marker, lineEnds: marker, grammarFaults: marker };
  }
  const found = readTextFile(bytes);
  const faults = text?.grammar === undefined ? null : grammarFaults(bytes, text.grammar);
  return {
    encoding: found.encoding,
    mark: found.mark,
    zeroBytes: found.zeroBytes,
    lineEnds: lineEndsOf(found),
    grammarFaults:
      faults === null
        ? new Absent('the profile does not say how its lines are built')
        : new FactList(faults.map(({ line, text: fault }) => `line ${line}: ${fault}`)),
  };
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
