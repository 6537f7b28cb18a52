import {
  type Document,
  isAlias,
  isMap,
  isNode,
  isPair,
  isScalar,
  isSeq,
  type LineCounter,
  type Node,
  parseDocument,
  visit,
} from 'yaml';
import { limits } from '../bytes/limits.js';
import type { Path } from './validate.js';

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

/** A text that is no YAML of the wanted form: every problem found, in the order of the file. */
export class YamlError extends Error {
  override readonly name = 'YamlError';
  constructor(readonly problems: readonly ProfileProblem[]) {
    super(problems.map((one) => `${one.file}:${one.line}:${one.column}: ${one.message}`).join('\n'));
  }
}

/** Order of problems in their file. */
export const byPlace = (a: ProfileProblem, b: ProfileProblem): number =>
  a.line - b.line || a.column - b.column;

/**
 * Parses YAML 1.2 whose top is a map, with texts as keys and without aliases. Any warning of the parser is an error,
 * since YAML drops what it does not like without a word. Throws `YamlError` with every problem found.
 * @param at makes a problem of a place in the text
 * @param expected what the file should be, in plain words
 */
export function parseMap(
  text: string,
  lines: LineCounter,
  at: (offset: number, message: string, expected?: string) => ProfileProblem,
  expected: string,
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
    if (problems.length === 0 && !isMap(document.contents)) problems.push(at(0, `expected ${expected}`));
    const directive = document.directives?.yaml;
    if (directive?.explicit && directive.version !== '1.2')
      problems.push(
        at(0, `expected YAML 1.2; found %YAML ${directive.version}`, '%YAML 1.2, or no such line'),
      );
    if (problems.length === 0) return { document, value: document.toJS({ maxAliasCount: 0 }) };
  } catch (error) {
    // The parser calls itself for each level; nobody writes one that deep.
    if (!(error instanceof RangeError)) throw error;
    throw new YamlError([at(0, tooDeep)]);
  }
  throw new YamlError(problems.sort(byPlace).slice(0, limits.problems));
}

const tooDeep = 'the file nests lists or maps too deeply';

/** The parser catches most of what goes too deep itself, and says so in the words of the machine. */
const yamlMessage = (message: string): string =>
  /call stack/i.test(message) ? tooDeep : (message.split('\n')[0] ?? 'this is no YAML');

/** `loader.fileSystems[0]: `, nothing for the whole file. */
export function pathText(path: Path): string {
  const text = path.map((step) => (typeof step === 'number' ? `[${step}]` : `.${step}`)).join('');
  return text === '' ? '' : `${text.replace(/^\./, '')}: `;
}

/** Offset of the key or the value at a path; of the closest thing around it when it is not in the file. */
export function offsetOf(document: Document, path: Path, which: 'key' | 'value'): number {
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
