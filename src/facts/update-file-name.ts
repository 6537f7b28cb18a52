import type { For, Profile, ResolvedProfile, UpdateMatch } from '../board/profile.js';
import { Unseen } from './fact.js';
import type { FolderNames, TreeEntry } from './file-tree.js';

/** How a loader compares names: FAT itself ignores case, some loaders do not. */
export type NameCase = 'ignored' | 'exact' | 'upper-only';

/** A folder (empty for the root) and a file name in it. */
export interface Place {
  readonly folder: string;
  readonly name: string;
}

/** What a loader looks for: one place after the other, or what a pattern takes in one folder. */
export interface WantedFile {
  /** The folder in which the loader looks (first); empty for the root. */
  readonly folder: string;
  /** In the order of search; empty when a pattern decides. */
  readonly places: readonly Place[];
  readonly pattern: UpdateMatch | null;
  /** In words, for messages. */
  readonly text: string;
}

/** What the profile makes the loader look for, or null when it does not say. */
export function wantedFile(profile: ResolvedProfile): WantedFile | null {
  const { path, names, match } = profile.update;
  if (path !== undefined && path !== 'any') return wantedPlaces([path]);
  if (names !== undefined && names !== 'any' && names.length > 0) return wantedPlaces(names);
  if (match !== undefined && match !== 'any') return wantedPattern(match);
  return null;
}

function wantedPlaces(paths: readonly string[]): WantedFile {
  const places = paths.map(splitPath);
  return { folder: places[0]?.folder ?? '', places, pattern: null, text: paths.join(' or ') };
}

function wantedPattern(match: UpdateMatch): WantedFile {
  const folder = splitPath(`${match.folder ?? ''}/-`).folder;
  const what = match.glob ?? `a name with "${match.contains ?? ''}" in it`;
  return { folder, places: [], pattern: match, text: folder === '' ? what : `${folder}/${what}` };
}

/** What the loaders of other machines with this board look for, where that differs from what this one looks for. */
export function wantedElsewhere(
  profile: Profile,
  own: WantedFile,
): { readonly wanted: WantedFile; readonly machines: string }[] {
  const found = new Map<string, { wanted: WantedFile; machines: string }>();
  const add = (wanted: WantedFile, machines: For | undefined): void => {
    if (wanted.text !== own.text && !found.has(wanted.text))
      found.set(wanted.text, { wanted, machines: machinesText(machines) });
  };
  const { path, names, match } = profile.update;
  if (Array.isArray(path))
    for (const entry of path) if (entry.path !== undefined) add(wantedPlaces([entry.path]), entry.for);
  if (Array.isArray(names))
    for (const entry of names)
      if (typeof entry === 'object' && entry.names !== undefined) add(wantedPlaces(entry.names), entry.for);
  if (Array.isArray(match))
    for (const entry of match) if (entry.match !== undefined) add(wantedPattern(entry.match), entry.for);
  return [...found.values()];
}

function machinesText(machines: For | undefined): string {
  const parts = Object.entries(machines ?? {}).map(
    ([axis, range]) => `${axis} ${typeof range === 'string' ? range : range.join(' or ')}`,
  );
  return parts.length === 0 ? 'other machines' : `machines with ${parts.join(' and ')}`;
}

/**
 * Letters a to z as capitals, all others as they are: a letter outside ASCII, such as a dotless i, is never taken for
 * one of them, though other ways of changing case would make it one.
 */
export const foldCase = (text: string): string => text.replace(/[a-z]+/g, (letters) => letters.toUpperCase());

/**
 * True when an entry lies in the folder that is wanted: each folder above it by a name under which the loader meets
 * it, as for files. `any` compares both names without case instead, as computers do.
 */
export function isIn(
  entry: TreeEntry,
  wanted: string,
  profile: ResolvedProfile,
  how: NameCase | 'any' = nameCaseOf(profile),
): boolean {
  if (wanted === '') return entry.folder === '';
  const names = wanted.split('/');
  const above = entry.above ?? entry.folder.split('/').map((name) => ({ name, shortName: notShown }));
  if (entry.folder === '' || above.length !== names.length) return false;
  return above.every((folder, at) => {
    const seen = how === 'any' ? bothNames(folder) : namesSeenByLoader(folder, profile);
    return seen.some((name) => sameName(name, names[at] as string, how === 'any' ? 'ignored' : how));
  });
}

const notShown = new Unseen('not-visible', 'this target shows no short names');

/** True when the loader takes this entry for one called `wanted`. */
export function isNamed(entry: TreeEntry, wanted: string, profile: ResolvedProfile): boolean {
  const nameCase = nameCaseOf(profile);
  const { length } = wanted;
  const { name, shortName } = entry;
  if (name.length !== length && typeof shortName === 'string' && shortName.length !== length) return false;
  return namesSeenByLoader(entry, profile).some((seen) => sameName(seen, wanted, nameCase));
}

/**
 * True when a pattern of the profile takes this entry: the name under which the loader lists it is not too long for
 * it and holds no character that it does not take, and one of the names under which it meets it matches.
 */
export function matchesPattern(entry: TreeEntry, pattern: UpdateMatch, profile: ResolvedProfile): boolean {
  const names = namesSeenByLoader(entry, profile);
  if (nameFault(names[0] as string, profile) !== null) return false;
  const nameCase = nameCaseOf(profile);
  return names.some((name) => patternTakes(name, pattern, nameCase));
}

/** True when a pattern takes a name. */
export function patternTakes(
  name: string,
  { glob, contains = '' }: { readonly glob?: string; readonly contains?: string },
  nameCase: NameCase,
): boolean {
  if (glob !== undefined) return matchesGlob(name, glob, nameCase);
  return nameCase === 'ignored' ? foldCase(name).includes(foldCase(contains)) : name.includes(contains);
}

/** Why a loader does not see a file that other computers take for the wanted one. */
export type Hidden = 'long-name' | 'case' | 'too-long' | 'characters';

/**
 * Why the loader does not take an entry that any driver without its limits would: one that reads long names of every
 * length and compares them without case, as the FAT specification (section 7) asks. Null when it does take it, or
 * when no driver would.
 */
export function hiddenBecause(entry: TreeEntry, wanted: WantedFile, profile: ResolvedProfile): Hidden | null {
  const nameCase = nameCaseOf(profile);
  const takes = (names: readonly string[], how: NameCase, folders: NameCase | 'any' = how): boolean =>
    wanted.pattern === null
      ? wanted.places.some(
          (place) =>
            isIn(entry, place.folder, profile, folders) &&
            names.some((name) => sameName(name, place.name, how)),
        )
      : isIn(entry, wanted.folder, profile, folders) &&
        names.some((name) => patternTakes(name, wanted.pattern as UpdateMatch, how));
  const inPlace = (place: string): boolean => isIn(entry, place, profile, 'any');
  if (!(wanted.pattern ? inPlace(wanted.folder) : wanted.places.some(({ folder }) => inPlace(folder))))
    return null;
  if (!takes(bothNames(entry), 'ignored', 'any')) return null;
  const seen = namesSeenByLoader(entry, profile);
  if (!takes(seen, 'ignored')) return 'long-name';
  if (!takes(seen, nameCase)) return 'case';
  return wanted.pattern === null ? null : nameFault(seen[0] as string, profile);
}

/** What keeps a loader from listing a file of this name at all, or null. */
function nameFault(name: string, profile: ResolvedProfile): 'too-long' | 'characters' | null {
  const { nameLength, nameCharacters } = profile.loader;
  if (typeof nameLength === 'number' && [...name].length > nameLength) return 'too-long';
  if (nameCharacters === undefined || nameCharacters === 'any') return null;
  const set = characterSet(nameCharacters);
  const { stem, extension } = splitName(nameCaseOf(profile) === 'ignored' ? foldCase(name) : name);
  return [...stem, ...extension].every((character) => set(character)) ? null : 'characters';
}

/** `A-Z0-9_-` as a test of one character: ranges and single characters, `-` by itself at either end. */
function characterSet(said: string): (character: string) => boolean {
  const characters = [...said];
  const single = new Set<string>();
  const ranges: [string, string][] = [];
  for (let i = 0; i < characters.length; i++) {
    const from = characters[i] as string;
    const to = characters[i + 2];
    if (characters[i + 1] === '-' && to !== undefined) {
      ranges.push([from, to]);
      i += 2;
    } else single.add(from);
  }
  return (character) =>
    single.has(character) || ranges.some(([from, to]) => from <= character && character <= to);
}

/**
 * The names under which a loader meets an entry, the one that it lists first. One without long names sees the 8.3
 * name alone; one with them compares both, as the FAT specification (section 7) makes both names of one file.
 */
function namesSeenByLoader(entry: FolderNames, profile: ResolvedProfile): string[] {
  if (profile.loader.longNames !== false) return bothNames(entry);
  return [typeof entry.shortName === 'string' ? entry.shortName : likelyShortName(entry.name)];
}

function bothNames({ name, shortName }: FolderNames): string[] {
  return typeof shortName !== 'string' || foldCase(shortName) === foldCase(name) ? [name] : [name, shortName];
}

/**
 * The 8.3 name of a file whose own name is one already, in capitals or in small letters throughout: drivers store no
 * other for it (FAT specification, sections 6.1 and 7.4). Null for every other name.
 */
export function ownShortName(name: string): string | null {
  const isLegal = /^[A-Z0-9!#$%&'()@^_`{}~-]{1,8}(\.[A-Z0-9!#$%&'()@^_`{}~-]{1,3})?$/.test(foldCase(name));
  const isOneCase = !(/[a-z]/.test(name) && /[A-Z]/.test(name));
  return isLegal && isOneCase ? foldCase(name) : null;
}

/**
 * The 8.3 name that a file gets when it is copied to a card on which no other has it (FAT specification, section
 * 7.4, the basis name with the first number).
 */
export function likelyShortName(name: string): string {
  const clean = (text: string): string => foldCase(text).replace(/[+,;=[\]]|[^\x21-\x7e]/g, '_');
  const bare = name.replace(/ /g, '').replace(/^\.+/, '');
  const { stem, extension } = splitName(bare);
  const base = clean(stem.replace(/\./g, ''));
  const short = `${base}${extension === '' ? '' : `.${clean(extension)}`}`;
  if (short === foldCase(name) && base.length <= 8 && extension.length <= 3) return short;
  const end = extension === '' ? '' : `.${clean(extension).slice(0, 3)}`;
  return `${base.slice(0, 6)}~1${end}`;
}

export function nameCaseOf(profile: ResolvedProfile): NameCase {
  const said = profile.loader.nameCase;
  return said === undefined || said === 'any' ? 'ignored' : said;
}

function sameName(name: string, wanted: string, nameCase: NameCase): boolean {
  // Asked of every file on a card that may hold thousands: most differ in length.
  if (name.length !== wanted.length) return false;
  if (nameCase === 'ignored') return foldCase(name) === foldCase(wanted);
  if (nameCase === 'exact') return name === wanted;
  return name === foldCase(wanted);
}

/**
 * Matches a whole name against a pattern with `*` (any run) and `?` (one character). Walks back to the last star
 * only, so the work is at most name length times pattern length.
 */
export function matchesGlob(name: string, glob: string, nameCase: NameCase): boolean {
  const text = nameCase === 'ignored' ? foldCase(name) : name;
  const wanted = nameCase === 'exact' ? glob : foldCase(glob);
  let at = 0;
  let seek = 0;
  let star = -1;
  let resume = 0;
  while (at < text.length) {
    if (wanted[seek] === '*') {
      star = seek++;
      resume = at;
    } else if (seek < wanted.length && (wanted[seek] === '?' || wanted[seek] === text[at])) {
      seek++;
      at++;
    } else if (star >= 0) {
      seek = star + 1;
      at = ++resume;
    } else return false;
  }
  while (wanted[seek] === '*') seek++;
  return seek === wanted.length;
}

export type Misnaming =
  | 'double-extension'
  | 'copy-number'
  | 'odd-characters'
  | 'other-extension'
  | 'with-spaces'
  | 'short-alias';

/**
 * In what way a name is nearly the wanted one, or null when it is the same but for case, or another one. Rows 3.2,
 * 3.3, 3.4 and 3.20 of the usual mistakes.
 */
export function misnaming(name: string, wanted: string): Misnaming | null {
  const found = foldCase(name);
  const goal = foldCase(wanted);
  if (found === goal) return null;
  if (isLookAlike(found, goal)) return 'odd-characters';
  const { stem, extension } = splitName(goal);
  const own = splitName(found);
  if (found.startsWith(`${goal}.`)) return 'double-extension';
  if (extension !== '' && own.extension === extension && own.stem === `${stem}.${extension}`)
    return 'double-extension';
  // "NAME.BIN" saved as "NAME.TXT.BIN" by a renaming that hid the last suffix.
  if (extension !== '' && own.extension === extension && own.stem.startsWith(`${stem}.`))
    return 'double-extension';
  const bare = (text: string): string => text.replace(/[\s_-]+/g, '');
  if (extension === own.extension) {
    const rest = own.stem.startsWith(stem) ? own.stem.slice(stem.length).trim() : null;
    if (
      rest !== null &&
      (/^\(\d{1,3}\)$/.test(rest) || /^-? ?(COPY|KOPIE|COPIE|COPIA)( ?\(\d{1,3}\))?$/.test(rest))
    )
      return 'copy-number';
    if (/^COPY (\(\d{1,3}\) )?OF /.test(own.stem) && own.stem.endsWith(stem)) return 'copy-number';
    if (/^[^~]{1,6}~\d$/.test(own.stem) && stem.startsWith(own.stem.slice(0, own.stem.indexOf('~'))))
      return 'short-alias';
    if (bare(own.stem) === bare(stem)) return 'with-spaces';
  }
  if (own.stem === stem) return 'other-extension';
  return null;
}

/** Stands for one character that was put in, and looks like nothing: zero-width ones, marks of direction, soft hyphens. */
const invisible = /[\u00ad\u061c\u200b-\u200f\u202a-\u202e\u2060-\u2064\u2066-\u2069\ufeff]/g;

/** True when a name is the other one but for characters that look alike, such as a Cyrillic letter, or like nothing. */
function isLookAlike(found: string, goal: string): boolean {
  const bare = found.replace(invisible, '').normalize('NFKC').toUpperCase();
  if (bare === goal) return true;
  const ends = (text: string): string => text.replace(/^[ .]+|[ .]+$/g, '');
  if (ends(bare) === ends(goal)) return true;
  const [one, other] = [[...bare], [...goal]];
  return (
    one.length === other.length &&
    one.every((character, at) => character === other[at] || (character as string) > '\u007f') &&
    one.some((character, at) => character === other[at] && character !== '.')
  );
}

/** What stands in front of the last dot and behind it; a name without one, or with one in front only, has no extension. */
export function splitName(name: string): { stem: string; extension: string } {
  const dot = name.lastIndexOf('.');
  return dot <= 0
    ? { stem: name, extension: '' }
    : { stem: name.slice(0, dot), extension: name.slice(dot + 1) };
}

/** Folder (empty for the root) and name of a path with `/` between names; a leading `/` is dropped. */
export function splitPath(path: string): { folder: string; name: string } {
  const clean = path.startsWith('/') ? path.replace(/^\/+/, '') : path;
  const cut = clean.lastIndexOf('/');
  return { folder: clean.slice(0, Math.max(cut, 0)), name: clean.slice(cut + 1) };
}
