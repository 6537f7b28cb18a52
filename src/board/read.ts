import { isScalar, LineCounter } from 'yaml';
import { limits } from '../bytes/limits.js';
import { visible } from '../rules/visible.js';
import { profileProblems } from './check.js';
import { type GroupName, groupNames, keysOfGroup } from './keys.js';
import type { Profile } from './profile.js';
import { boardSchema } from './schema/validators.js';
import { normalise, type Path, shapeProblems } from './validate.js';
import { byPlace, offsetOf, type ProfileProblem, parseMap, pathText, YamlError } from './yaml-document.js';

export type { ProfileProblem } from './yaml-document.js';

/** A board profile that is wrong: every problem found, in the order of the file. */
export class ProfileError extends Error {
  override readonly name = 'ProfileError';
  constructor(readonly problems: readonly ProfileProblem[]) {
    super(problems.map((one) => `${one.file}:${one.line}:${one.column}: ${one.message}`).join('\n'));
  }
}

/** A profile as read, and where each of its keys stands in the file. */
export interface ReadProfile {
  readonly profile: Profile;
  /** Line and column of the value at a path such as `['loader', 'fileSystems', 0]`, or of what holds it. */
  readonly locate: (path: Path) => { readonly line: number; readonly column: number };
}

/**
 * Reads a board profile (`flashworthy-board/1`, YAML 1.2). Any warning of the YAML parser is an error, since YAML
 * drops what it does not like without a word. Throws `ProfileError` with every problem found.
 * @param fileName how messages name the file
 */
export function readProfile(text: string, fileName: string): ReadProfile {
  const lines = new LineCounter();
  const at = (offset: number, message: string, expected = ''): ProfileProblem => {
    const { line, col } = lines.linePos(offset);
    return {
      file: fileName,
      line: Math.max(line, 1),
      column: Math.max(col, 1),
      message: visible(message),
      expected,
    };
  };
  if (text.length > limits.textFileBytes)
    throw new ProfileError([at(0, `the file is larger than ${limits.textFileBytes} characters`)]);
  const { document, value } = parsed(text, lines, at);
  const version = schemaVersion(value);
  const place = (path: Path, key: 'key' | 'value') => offsetOf(document, path, key);
  if (version !== undefined && version > 1)
    throw new ProfileError([
      at(
        place(['schema'], 'value'),
        `schema: this profile is flashworthy-board/${version}; this version of flashworthy reads flashworthy-board/1. Get a newer flashworthy.`,
        'flashworthy-board/1',
      ),
    ]);

  const sourceOf = (path: Path): string | undefined => {
    const node = document.getIn(path, true);
    return isScalar(node) ? node.source : undefined;
  };
  const context = { root: boardSchema, sourceOf };
  const shape = shapeProblems(value, boardSchema, context);
  if (shape.length > 0)
    throw new ProfileError(
      shape
        .map((problem) =>
          at(
            place(problem.path, problem.at),
            `${pathText(problem.path)}${problem.message}`,
            problem.expected,
          ),
        )
        .sort(byPlace)
        .slice(0, limits.problems),
    );

  const problems: ProfileProblem[] = [];
  const complain = (path: Path, message: string, expected = '', key: 'key' | 'value' = 'value'): void => {
    problems.push(at(place(path, key), `${pathText(path)}${message}`, expected));
  };
  const plain = normalise(value, boardSchema, { ...context, complain });
  if (problems.length === 0) {
    const profile = completed(plain as Partial<Profile>);
    profileProblems(profile, complain);
    if (problems.length === 0)
      return {
        profile,
        locate: (path) => {
          const { line, column } = at(place(path, 'value'), '');
          return { line, column };
        },
      };
  }
  throw new ProfileError(problems.sort(byPlace).slice(0, limits.problems));
}

function parsed(
  text: string,
  lines: LineCounter,
  at: (offset: number, message: string, expected?: string) => ProfileProblem,
): ReturnType<typeof parseMap> {
  try {
    return parseMap(text, lines, at, boardMap);
  } catch (error) {
    if (error instanceof YamlError) throw new ProfileError(error.problems);
    throw error;
  }
}

const boardMap = 'a board profile: a map of keys, the first of them schema: flashworthy-board/1';

function schemaVersion(value: unknown): number | undefined {
  if (typeof value !== 'object' || value === null || !('schema' in value)) return undefined;
  const version =
    typeof value.schema === 'string' ? /^flashworthy-board\/([0-9]{1,9})$/.exec(value.schema) : null;
  return version ? Number(version[1]) : undefined;
}

/** Fills in the maps that were left out, and spreads `any` over the keys of a map. */
function completed(written: Partial<Profile>): Profile {
  const group = (name: GroupName): object => {
    const said: unknown = written[name];
    if (said === 'any') return Object.fromEntries(keysOfGroup(name).map((key) => [key, 'any']));
    return typeof said === 'object' && said !== null ? said : {};
  };
  return {
    ...written,
    ...Object.fromEntries(groupNames.map((name) => [name, group(name)])),
    axes: written.axes ?? [],
    loaders: written.loaders ?? {},
    waive: written.waive ?? [],
    whenUnsure: listOfOne(written.whenUnsure),
  } as Profile;
}

/** A single word stands for a list of one; `any` and silence stay. */
function listOfOne(said: unknown): unknown {
  return typeof said === 'string' && said !== 'any' ? [said] : said;
}
