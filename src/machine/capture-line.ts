/**
 * One line of a terminal capture without what the terminal or the machine put in front: colours, time stamps, marks of
 * direction, prompts, `echo:`. Common practice of terminals and hosts, no published source.
 */
import { commandOf, parseGcode } from './gcode.js';

/** Who wrote a line; null when nothing in front of it says so. */
export type Speaker = 'machine' | 'owner' | null;

export interface CaptureLine {
  readonly text: string;
  readonly from: Speaker;
  /** Something stood in front, so that this is no rest of the line before it. */
  readonly hasPrefix: boolean;
  /** A character was lost or garbled on the way. */
  readonly isGarbled: boolean;
}

/** What may stand in front, and who speaks behind it. Tried again and again until nothing fits. */
const prefixes: readonly (readonly [pattern: RegExp, from: Speaker])[] = [
  // 12:34:56.789, with or without date, brackets, and an arrow or a colon behind it.
  [
    /^[[(]?(?:\d{4}-\d\d-\d\d[ T])?\d{1,2}:\d\d:\d\d(?:[.,]\d{1,9})?(?:Z|[+-]\d\d:?\d\d)?[\])]?(?:[ \t]*(?:->|[:|-])(?=[ \t]|$))?(?=[ \t]|$)/,
    null,
  ],
  // [  123.456]
  [/^\[[ \t]{0,12}\d{1,12}[.,]\d{1,9}\]:?/, null],
  [/^(?:recv|received|rx|read|reply)[ \t]{0,4}[:>]/i, 'machine'],
  [/^(?:send|sent|tx|write|sending)[ \t]{0,4}[:>]/i, 'owner'],
  [/^echo[ \t]{0,4}:/i, 'machine'],
  [/^<{1,3}(?=[ \t])/, 'machine'],
  [/^>{1,3}(?=[ \t])/, 'owner'],
  [/^(?:->|<-)(?=[ \t])/, null],
];

/** `tansy> M503`: a prompt of a terminal, and behind it a command. */
const prompt = /^[\w.@~:/\\()[\]-]{0,40}[ \t]{0,4}[>$#%][ \t]{0,4}(?=[A-Za-z])/;

/** More marks than these in front of a line have not been seen. */
const mostPrefixes = 6;

/** Takes any text without line breaks. */
export function captureLine(raw: string): CaptureLine {
  const printed = withoutTerminal(raw);
  const plain = printed.replaceAll('\t', ' ');
  const isGarbled = /[\p{Cc}\uFFFD]/u.test(plain);
  let text = printed.trim();
  let from: Speaker = null;
  let hasPrefix = false;
  for (let count = 0; count < mostPrefixes; count++) {
    const found = prefixes
      .map(([pattern, speaker]) => ({ length: pattern.exec(text)?.[0].length ?? 0, speaker }))
      .find(({ length }) => length > 0);
    if (found === undefined) break;
    text = text.slice(found.length).trim();
    hasPrefix = true;
    from = found.speaker ?? from;
  }
  const typed = prompt.exec(text);
  if (typed !== null && isCommand(text.slice(typed[0].length)))
    return { text: text.slice(typed[0].length), from: 'owner', hasPrefix: true, isGarbled };
  // Only who sends commands numbers them.
  if (from === null && /^N[0-9]/i.test(text) && isCommand(text))
    return { text, from: 'owner', hasPrefix: true, isGarbled };
  return { text, from, hasPrefix, isGarbled };
}

function isCommand(text: string): boolean {
  const line = parseGcode(text);
  return line.fault === null && commandOf(line) !== null;
}

/** Control sequences of terminals (ECMA-48), flow control, and what somebody typed and took back. */
function withoutTerminal(raw: string): string {
  const text = raw
    .replace(
      /\u001B\[[0-?]*[ -/]*[@-~]|\u001B\][^\u0007\u001B]*(?:\u0007|\u001B\\)|\u001B[ -/]*[0-Z^-~]/g,
      '',
    )
    .replace(/[\u0000\u0011\u0013\uFEFF]/g, '');
  if (!text.includes('\b')) return text;
  const kept: string[] = [];
  for (const character of text) {
    if (character === '\b') kept.pop();
    else kept.push(character);
  }
  return kept.join('');
}
