/** A YAML file with exact positions: from a node, and from a character inside a scalar's value, to line and column. */
import {
  type CollectionTag,
  isMap,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  parseDocument,
  Scalar,
  type ScalarTag,
  visit,
  type YAMLMap,
} from 'yaml';
import { limits } from '../bytes/limits.js';
import type { RuleProblem } from './rule-error.js';

/** What may stand as a value in a parsed file. */
export type YamlNode = Node | null | undefined;

/** Local tags of rule files. */
const localTags: (CollectionTag | ScalarTag)[] = [
  { tag: '!absent', resolve: (value) => value },
  { tag: '!unseen', resolve: (value) => value },
  { tag: '!incomplete', collection: 'seq', resolve: (items) => items },
];

export class YamlSource {
  readonly problems: RuleProblem[] = [];
  private readonly lineStarts: number[] = [0];

  constructor(
    readonly text: string,
    readonly file: string,
  ) {
    for (let at = text.indexOf('\n'); at >= 0; at = text.indexOf('\n', at + 1)) this.lineStarts.push(at + 1);
  }

  /** Reports a problem at an offset into the file. */
  report(offset: number, message: string, expected: string): void {
    this.problems.push({ file: this.file, ...this.position(offset), message, expected });
  }

  /** Line and column, from 1, of an offset into the file. */
  position(offset: number): { line: number; column: number } {
    let low = 0;
    let high = this.lineStarts.length - 1;
    while (low < high) {
      const middle = Math.ceil((low + high) / 2);
      if (this.lineStarts[middle]! <= offset) low = middle;
      else high = middle - 1;
    }
    return { line: low + 1, column: offset - this.lineStarts[low]! + 1 };
  }

  /** The top-level map, or undefined with the problems reported. Warnings count as errors. */
  parse(): YAMLMap | undefined {
    if (this.text.length > limits.textFileBytes) {
      this.report(0, 'the file is too long', `at most ${limits.textFileBytes} bytes`);
      return undefined;
    }
    let document: ReturnType<typeof parseDocument>;
    try {
      document = parseDocument(this.text, {
        version: '1.2',
        schema: 'core',
        uniqueKeys: true,
        prettyErrors: false,
        // Not silent: that would also hide a second document. Nothing is printed here either way.
        logLevel: 'error',
        customTags: localTags,
      });
    } catch (error) {
      // The parser goes down once for every opening bracket.
      if (!(error instanceof RangeError)) throw error;
      this.report(0, 'the file is nested too deeply', 'a rule');
      return undefined;
    }
    for (const problem of [...document.errors, ...document.warnings])
      this.report(problem.pos[0], problem.message.replaceAll(/\s+/g, ' '), 'YAML 1.2 without warnings');
    if (this.problems.length > 0) return undefined;
    visit(document, {
      Alias: (_key, node) =>
        this.report(startOf(node), 'an alias is not allowed in a rule', 'the value itself'),
      Node: (_key, node) => {
        if ('anchor' in node && node.anchor)
          this.report(startOf(node), 'an anchor is not allowed in a rule', 'the value itself');
      },
    });
    if (this.problems.length > 0) return undefined;
    if (isMap(document.contents)) return document.contents;
    this.report(0, 'this is not a rule', 'a map with id, title, hazard, …');
    return undefined;
  }

  /** The pairs of a map whose keys are all texts, by key. Reports unknown and missing keys. */
  entries(
    node: YamlNode,
    what: string,
    known: readonly string[] | null,
    required: readonly string[],
  ): Entries {
    const found: Entries = new Map();
    if (!isMap(node)) {
      this.report(startOf(node), `${what} is not a map`, known ? `a map with ${known.join(', ')}` : 'a map');
      return found;
    }
    if (node.tag) this.report(startOf(node), `the tag ${node.tag} is not known here`, 'no tag');
    for (const pair of node.items as Pair<Node, Node | null>[]) {
      const { key } = pair;
      if (!isScalar(key) || typeof key.value !== 'string') {
        this.report(startOf(key), 'this key is not a text', 'a text as key');
        continue;
      }
      if (known && !known.includes(key.value))
        this.report(startOf(key), `unknown key ${key.value} in ${what}`, known.join(', '));
      found.set(key.value, { offset: startOf(key), value: pair.value ?? undefined });
    }
    for (const key of required)
      if (!found.has(key)) this.report(startOf(node), `${what} has no ${key}`, `the key ${key}`);
    return found;
  }

  /** The items of a list; undefined, and reported, for anything else. */
  items(node: YamlNode, what: string, expected: string): YamlNode[] | undefined {
    if (isSeq(node)) {
      if (!node.tag) return node.items as YamlNode[];
      this.report(startOf(node), `the tag ${node.tag} is not known here`, 'no tag');
      return undefined;
    }
    this.report(startOf(node), `${what} is not a list`, expected);
    return undefined;
  }

  /** A text; undefined, and reported, for anything else. */
  string(node: YamlNode, what: string, expected = 'a text'): string | undefined {
    if (isScalar(node) && typeof node.value === 'string' && !node.tag) {
      if (node.value.trim() !== '') return node.value;
      this.report(startOf(node), `${what} is empty`, expected);
      return undefined;
    }
    const quoted = isScalar(node) && typeof node.value !== 'string' && node.value !== null;
    this.report(startOf(node), `${what} is not a text`, quoted ? `${expected}, in quotes` : expected);
    return undefined;
  }

  /** One of a list of words; undefined, and reported, for anything else. */
  word<Word extends string>(node: YamlNode, what: string, words: readonly Word[]): Word | undefined {
    const expected = `one of ${words.join(', ')}`;
    const text = this.string(node, what, expected);
    if (text === undefined) return undefined;
    const word = words.find((each) => each === text);
    if (word === undefined) this.report(startOf(node), `${what} is ${JSON.stringify(text)}`, expected);
    return word;
  }

  /** True or false; undefined, and reported, for anything else. */
  boolean(node: YamlNode, what: string): boolean | undefined {
    if (isScalar(node) && typeof node.value === 'boolean' && !node.tag) return node.value;
    this.report(startOf(node), `${what} is neither true nor false`, 'true or false');
    return undefined;
  }

  /** True when a comment follows the scalar on its line: what the author may have meant as part of it. */
  commentFollows(node: YamlNode): boolean {
    const end = isScalar(node) ? node.range?.[1] : undefined;
    return end !== undefined && /^[ \t]*#/.test(this.text.slice(end, end + 400));
  }

  /**
   * Offset into the file of a character of a scalar's value. Exact for literal blocks, and for plain and quoted
   * scalars on one line; the start of the scalar for folded ones.
   */
  offsetIn(node: Scalar, at: number): number {
    const [start, end] = node.range ?? [0, 0];
    if (node.type === Scalar.BLOCK_LITERAL) return this.offsetInBlock(node, at, start);
    const source = this.text.slice(start, end);
    if (source.includes('\n') || node.type === Scalar.BLOCK_FOLDED) return start;
    if (node.type === Scalar.QUOTE_SINGLE || node.type === Scalar.QUOTE_DOUBLE) {
      let offset = 1;
      for (let value = 0; value < at && offset < source.length; ) {
        const [step, units] = quotedStep(source, offset, node.type === Scalar.QUOTE_DOUBLE);
        offset += step;
        value += units;
      }
      return start + offset;
    }
    return Math.min(start + at, end);
  }

  private offsetInBlock(node: Scalar, at: number, start: number): number {
    const value = String(node.value);
    const before = value.slice(0, at);
    const line = before.split('\n').length - 1;
    const column = at - (before.lastIndexOf('\n') + 1);
    const valueLine = value.split('\n')[line] ?? '';
    // Line k of the value is line k after the header, less the indentation.
    const sourceLine = this.position(start).line + line;
    const from = this.lineStarts[sourceLine];
    if (from === undefined) return this.text.length;
    const next = this.lineStarts[sourceLine + 1] ?? this.text.length + 1;
    const text = this.text.slice(from, next - 1).replace(/\r$/, '');
    return from + Math.max(0, text.length - valueLine.length) + column;
  }
}

/** Pairs of a map by key. */
export type Entries = Map<string, { readonly offset: number; readonly value: YamlNode }>;

/** UTF-16 units that one character takes in the source of a quoted scalar, and in its value. */
function quotedStep(source: string, at: number, double: boolean): [source: number, value: number] {
  if (!double) return source.startsWith("''", at) ? [2, 1] : [1, 1];
  if (source[at] !== '\\') return [1, 1];
  switch (source[at + 1]) {
    case 'x':
      return [4, 1];
    case 'u':
      return [6, 1];
    case 'U':
      return [10, Number.parseInt(source.slice(at + 2, at + 10), 16) > 0xffff ? 2 : 1];
    default:
      return [2, 1];
  }
}

/** Offset into the file at which a node starts. */
export function startOf(node: YamlNode): number {
  return node?.range?.[0] ?? 0;
}
