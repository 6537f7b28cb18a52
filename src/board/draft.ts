import { Document, isCollection, visit } from 'yaml';
import { groupNames } from './keys.js';

/** One key of a profile that is being written. */
export interface DraftEntry {
  /** `title`, or `loader.partitioning`. */
  readonly key: string;
  /** Undefined: not known yet. The key then stands in a comment, with what is to be found out. */
  readonly value?: unknown;
  /** Numbers are written in hexadecimal. */
  readonly hex?: boolean;
  /** What the key says, or how to find it out: one sentence for a comment. */
  readonly comment: string;
}

/**
 * The text of a board profile with a comment above each key. A key without a value is left out, which never makes a
 * card fit, and its comment says what is to be found out.
 * @param head sentences for the top of the file
 */
export function draftText(head: readonly string[], entries: readonly DraftEntry[]): string {
  const lines = [...head.flatMap(commentLines), '', 'schema: flashworthy-board/1'];
  for (const entry of entries.filter(({ key }) => !key.includes('.'))) lines.push(...entryLines(entry, ''));
  for (const group of groupNames) {
    const inner = entries.filter(({ key }) => key.startsWith(`${group}.`));
    if (inner.length === 0) continue;
    // A group of which nothing is known would be an empty value: it stands in a comment as well.
    const isKnown = inner.some(({ value }) => value !== undefined);
    lines.push('', isKnown ? `${group}:` : `# ${group}:`);
    for (const entry of inner)
      lines.push(...entryLines({ ...entry, key: entry.key.slice(group.length + 1) }, '  '));
  }
  return `${lines.join('\n')}\n`;
}

function entryLines({ key, value, comment, hex = false }: DraftEntry, indent: string): string[] {
  const said = value === undefined ? `# ${key}: not known yet` : `${key}: ${flow(value, hex)}`;
  return [...commentLines(comment), said].map((line) => `${indent}${line}`);
}

/** A value on one line, quoted where YAML wants it. */
function flow(value: unknown, hex: boolean): string {
  // JSON is YAML, and has one line and no doubt whatever stands in the text.
  if (typeof value === 'string' && !isPlain(value)) return escaped(JSON.stringify(value));
  // What was typed keeps its form: 480KiB, 0x08008000.
  const document = value instanceof Document ? value : new Document(value);
  if (hex)
    visit(document, {
      Scalar: (_key, node) => {
        if (typeof node.value === 'number') node.format = 'HEX';
      },
    });
  if (isCollection(document.contents)) document.contents.flow = true;
  return document.toString({ lineWidth: 0, flowCollectionPadding: true }).trim();
}

/** Words that YAML takes for nothing else than a text. */
const isPlain = (text: string): boolean =>
  /^[A-Za-z](?:[\w -]*\w)?$/.test(text) && !/^(?:true|false|null)$/i.test(text);

/** Everything beyond ASCII that may be no letter, as JSON writes it: some of it ends a line in YAML. */
const escaped = (json: string): string =>
  json.replace(/[^\x20-\x7e\p{L}\p{N}]/gu, (character) =>
    Array.from(
      { length: character.length },
      (_, at) => `\\u${character.charCodeAt(at).toString(16).padStart(4, '0')}`,
    ).join(''),
  );

/** Comment lines of at most some hundred characters, broken between words. */
function commentLines(text: string): string[] {
  const lines: string[] = [];
  let line = '#';
  for (const word of text.split(/\s+/)) {
    if (line.length + word.length + 1 > 100 && line !== '#') {
      lines.push(line);
      line = '#';
    }
    line += ` ${word}`;
  }
  return [...lines, line];
}
