import type { ResolvedProfile, UpdateMatch } from '../board/profile.js';
import type { TreeEntry } from './file-tree.js';

/** How a loader compares names: FAT itself ignores case, some loaders do not. */
export type NameCase = 'ignored' | 'exact' | 'upper-only';

/** What a loader looks for: a folder, and in it one of some names or a pattern. */
export interface WantedFile {
  /** Folder path; empty for the root. */
  readonly folder: string;
  /** Names in order of search; empty when a pattern decides. */
  readonly names: readonly string[];
  readonly pattern: UpdateMatch | null;
  /** In words, for messages. */
  readonly text: string;
}

/** What the profile makes the loader look for, or null when it does not say. */
export function wantedFile(profile: ResolvedProfile): WantedFile | null {
  const { path, names, match } = profile.update;
  if (path !== undefined && path !== 'any') {
    const { folder, name } = splitPath(path);
    return { folder, names: [name], pattern: null, text: path };
  }
  if (names !== undefined && names !== 'any' && names.length > 0) {
    const { folder } = splitPath(names[0] as string);
    return {
      folder,
      names: names.map((name) => splitPath(name).name),
      pattern: null,
      text: names.join(' or '),
    };
  }
  if (match !== undefined && match !== 'any') {
    const folder = match.folder ?? '';
    const what = match.glob ?? `a name with "${match.contains ?? ''}" in it`;
    return { folder, names: [], pattern: match, text: folder === '' ? what : `${folder}/${what}` };
  }
  return null;
}

/** True when the loader takes this entry for one called `wanted`. */
export function isNamed(entry: TreeEntry, wanted: string, profile: ResolvedProfile): boolean {
  return namesSeenByLoader(entry, profile).some((name) => sameName(name, wanted, nameCaseOf(profile)));
}

/** True when a pattern of the profile takes this entry. */
export function matchesPattern(entry: TreeEntry, pattern: UpdateMatch, profile: ResolvedProfile): boolean {
  const nameCase = nameCaseOf(profile);
  return namesSeenByLoader(entry, profile).some((name) => {
    if (pattern.glob !== undefined) return matchesGlob(name, pattern.glob, nameCase);
    const part = pattern.contains ?? '';
    return nameCase === 'ignored' ? name.toUpperCase().includes(part.toUpperCase()) : name.includes(part);
  });
}

/**
 * The names under which a loader meets an entry. One without long names sees the 8.3 name alone; one with them
 * compares both, as the FAT specification (section 7) makes both names of one file.
 */
function namesSeenByLoader(entry: TreeEntry, profile: ResolvedProfile): string[] {
  const short = typeof entry.shortName === 'string' ? entry.shortName : null;
  if (profile.loader.longNames === false) return short === null ? [entry.name] : [short];
  return short === null || short.toUpperCase() === entry.name.toUpperCase()
    ? [entry.name]
    : [entry.name, short];
}

export function nameCaseOf(profile: ResolvedProfile): NameCase {
  const said = profile.loader.nameCase;
  return said === undefined || said === 'any' ? 'ignored' : said;
}

function sameName(name: string, wanted: string, nameCase: NameCase): boolean {
  if (nameCase === 'ignored') return name.toUpperCase() === wanted.toUpperCase();
  if (nameCase === 'exact') return name === wanted;
  return name === wanted.toUpperCase();
}

/**
 * Matches a whole name against a pattern with `*` (any run) and `?` (one character). Walks back to the last star
 * only, so the work is at most name length times pattern length.
 */
export function matchesGlob(name: string, glob: string, nameCase: NameCase): boolean {
  const text = nameCase === 'ignored' ? name.toUpperCase() : name;
  const wanted = nameCase === 'exact' ? glob : glob.toUpperCase();
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
  | 'other-case'
  | 'other-extension'
  | 'with-spaces'
  | 'short-alias';

/** In what way a name is nearly the wanted one, or null when it is not. Row 3.2, 3.3, 3.4, 3.7 and 3.20 of the usual mistakes. */
export function misnaming(name: string, wanted: string, nameCase: NameCase): Misnaming | null {
  const found = name.toUpperCase();
  const goal = wanted.toUpperCase();
  if (found === goal) return nameCase === 'ignored' ? null : 'other-case';
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

export function splitName(name: string): { stem: string; extension: string } {
  const dot = name.lastIndexOf('.');
  return dot <= 0
    ? { stem: name, extension: '' }
    : { stem: name.slice(0, dot), extension: name.slice(dot + 1) };
}

/** Folder (empty for the root) and name of a path with `/` between names; a leading `/` is dropped. */
export function splitPath(path: string): { folder: string; name: string } {
  const clean = path.replace(/^\/+/, '');
  const cut = clean.lastIndexOf('/');
  return { folder: clean.slice(0, Math.max(cut, 0)), name: clean.slice(cut + 1) };
}
