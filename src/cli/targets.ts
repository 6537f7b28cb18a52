import { cardPath } from '../node/target-kind.js';
import { usageProblem } from './exit.js';
import type { Given } from './given.js';
import { readInput, statOrNull } from './inputs.js';

/** What a run is to check. */
export interface Targets {
  /** Paths in the order in which they are checked. One that is not there is told when its turn comes. */
  readonly paths: readonly string[];
  /** True when the report is one about several, even if a pattern or a list came to one card only. */
  readonly several: boolean;
  /** Those of the paths that are patterns which match nothing. */
  readonly unmatched: ReadonlySet<string>;
}

/**
 * The targets that a command line names: paths, patterns where no file has that very name, and the lines of the file
 * of `--cards-from`. Not every shell makes files of a pattern.
 */
export async function targetsOf(given: Given): Promise<Targets> {
  const paths: string[] = [];
  const named = new Set<string>();
  const add = (path: string): void => {
    paths.push(path);
    named.add(path);
  };
  const unmatched = new Set<string>();
  let several = false;
  for (const text of given.texts('target')) {
    const path = cardPath(text);
    const found = isPattern(path) && statOrNull(path) === null ? await matches(path) : null;
    if (found === null) add(path);
    else {
      several = true;
      if (found.length === 0) {
        unmatched.add(path);
        add(path);
      }
      // A card that two patterns match is checked once.
      for (const each of found) if (!named.has(each)) add(each);
    }
  }
  const list = given.text('cards-from');
  if (list !== undefined) {
    several = true;
    const lines = readInput('list of cards', list).text.split(/\r?\n/);
    for (const line of lines) if (line !== '') add(cardPath(line));
    if (paths.length === 0)
      throw usageProblem(`${list} names no card: it is a list with one path in each line`);
  }
  return { paths, several: several || paths.length > 1, unmatched };
}

const isPattern = (path: string): boolean => /[*?]|\[[^\]]+\]|\{[^}]*,[^}]*\}/.test(path);

/** What a pattern stands for, sorted by code points, as a shell would: files and folders, hidden ones only when asked. */
async function matches(pattern: string): Promise<string[]> {
  const { glob } = await import('tinyglobby');
  const [base, rest] = parted(process.platform === 'win32' ? pattern.replaceAll('\\', '/') : pattern);
  const found = await glob(rest, {
    cwd: base === '' ? '.' : base,
    onlyFiles: false,
    expandDirectories: false,
    followSymbolicLinks: false,
  });
  return found
    .map((path) => base + path.replace(/\/$/, ''))
    .filter((path) => path !== base)
    .sort();
}

/** The folders in front, which have no pattern in their names or are there under that very name, and the pattern. */
function parted(pattern: string): [base: string, rest: string] {
  const parts = pattern.split('/');
  let base = '';
  while (parts.length > 1) {
    const next = `${base}${parts[0]}/`;
    if (isPattern(parts[0]!) && statOrNull(next) === null) break;
    base = next;
    parts.shift();
  }
  return [base, parts.join('/')];
}
