import {
  type Document,
  isAlias,
  isMap,
  isNode,
  isPair,
  isScalar,
  isSeq,
  LineCounter,
  type Node,
  parseDocument,
  visit,
} from 'yaml';
import { limits } from '../bytes/limits.js';
import { visible } from '../rules/visible.js';
import { profileProblems } from './check.js';
import { type GroupName, groupNames, keysOfGroup } from './keys.js';
import type { Profile } from './profile.js';
import { boardSchema } from './schema/validators.js';
import { normalise, type Path, shapeProblems } from './validate.js';

/** One thing that is wrong in a file, with its place: lines and columns count from 1. */
export interface ProfileProblem {
  readonly file: string;
  readonly line: number;
  readonly column: number;
  /** What is wrong, in plain words, with the key in front. */
  readonly message: string;
  /** What was expected; empty when there is nothing to choose from. */
  readonly expected: string;
}

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
  const { document, value } = parse(text, lines, at);
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

const byPlace = (a: ProfileProblem, b: ProfileProblem): number => a.line - b.line || a.column - b.column;

function parse(
  text: string,
  lines: LineCounter,
  at: (offset: number, message: string, expected?: string) => ProfileProblem,
): { document: Document; value: unknown } {
  const problems: ProfileProblem[] = [];
  try {
    const document: Document = parseDocument(text, {
      version: '1.2',
      schema: 'core',
      lineCounter: lines,
      prettyErrors: false,
    });
    for (const problem of [...document.errors, ...document.warnings])
      problems.push(at(problem.pos[0], yamlMessage(problem.message)));
    visit(document, {
      Alias: (_, node) => {
        problems.push(at(node.range?.[0] ?? 0, 'aliases (*name) are not read here: write the value out'));
        return visit.SKIP;
      },
      Pair: (_, pair) => {
        const key = pair.key;
        if (isScalar(key) && typeof key.value === 'string') return undefined;
        const source = isScalar(key) ? key.source : undefined;
        const start = isNode(key) ? (key.range?.[0] ?? 0) : 0;
        problems.push(
          at(
            start,
            source ? `the key ${source} is no text: put it in quotes: "${source}"` : 'a key must be a text',
            'a text',
          ),
        );
        return visit.SKIP;
      },
    });
    if (problems.length === 0 && !isMap(document.contents))
      problems.push(
        at(0, 'expected a board profile: a map of keys, the first of them schema: flashworthy-board/1'),
      );
    const directive = document.directives?.yaml;
    if (directive?.explicit && directive.version !== '1.2')
      problems.push(
        at(0, `expected YAML 1.2; found %YAML ${directive.version}`, '%YAML 1.2, or no such line'),
      );
    if (problems.length === 0) return { document, value: document.toJS({ maxAliasCount: 0 }) };
  } catch (error) {
    // The parser calls itself for each level; nobody writes a profile that deep.
    if (!(error instanceof RangeError)) throw error;
    throw new ProfileError([at(0, tooDeep)]);
  }
  throw new ProfileError(problems.sort(byPlace).slice(0, limits.problems));
}

const tooDeep = 'the file nests lists or maps too deeply';

/** The parser catches most of what goes too deep itself, and says so in the words of the machine. */
const yamlMessage = (message: string): string =>
  /call stack/i.test(message) ? tooDeep : (message.split('\n')[0] ?? 'this is no YAML');

function schemaVersion(value: unknown): number | undefined {
  if (typeof value !== 'object' || value === null || !('schema' in value)) return undefined;
  const version =
    typeof value.schema === 'string' ? /^flashworthy-board\/([0-9]{1,9})$/.exec(value.schema) : null;
  return version ? Number(version[1]) : undefined;
}

/** `loader.fileSystems[0]: `, nothing for the whole file. */
function pathText(path: Path): string {
  const text = path.map((step) => (typeof step === 'number' ? `[${step}]` : `.${step}`)).join('');
  return text === '' ? '' : `${text.replace(/^\./, '')}: `;
}

/** Offset of the key or the value at a path; of the closest thing around it when it is not in the file. */
function offsetOf(document: Document, path: Path, which: 'key' | 'value'): number {
  let node: unknown = document.contents;
  let offset = startOf(node);
  for (const [depth, step] of path.entries()) {
    if (isMap(node)) {
      const pair = node.items.find((one) => isPair(one) && isScalar(one.key) && one.key.value === step);
      if (!pair) return offset;
      node = pair.value;
      const keyOffset = startOf(pair.key);
      offset = depth === path.length - 1 && which === 'key' ? keyOffset : startOf(node, keyOffset);
    } else if (isSeq(node) && typeof step === 'number') {
      node = node.items[step];
      offset = startOf(node, offset);
    } else {
      return offset;
    }
  }
  return offset;
}

function startOf(node: unknown, otherwise = 0): number {
  return isNode(node) && !isAlias(node) ? ((node as Node).range?.[0] ?? otherwise) : otherwise;
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
