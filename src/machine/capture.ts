import { limits } from '../bytes/limits.js';
import { type CaptureLine, captureLine } from './capture-line.js';
import { commandOf, type GcodeLine, longestLine, parseGcode } from './gcode.js';
import { type IdentityPairs, identityPairs, isReply } from './identity-reply.js';
import { isSettingWord } from './setting-words.js';
import {
  type CaptureProblem,
  type ReportLine,
  type SettingsReport,
  settingsReport,
} from './settings-report.js';

/** What a machine said about itself. */
export interface IdentityReply {
  readonly line: number;
  readonly pairs: Readonly<Record<string, string>>;
  /** Why some of it cannot be relied on, in a plain sentence; null when all of it can. */
  readonly problem: string | null;
}

/**
 * Something that bears on the settings, in the order of the capture. `edit`: somebody sent a number of a setting.
 * `saved`: the machine wrote its settings down. `loaded`: it read them again, as it does at every start. `defaults`: it
 * went back to those of its program. `refused`: it answered with an error.
 */
export type Happening =
  | { readonly kind: 'report'; readonly line: number; readonly report: SettingsReport }
  | { readonly kind: 'edit'; readonly line: number; readonly word: string }
  | { readonly kind: 'saved' | 'loaded' | 'defaults'; readonly line: number }
  | { readonly kind: 'refused'; readonly line: number; readonly text: string };

/** A terminal capture as read. Nothing is judged here. */
export interface Capture {
  /** The lines as they were captured, without empty ones at the end. */
  readonly lines: readonly string[];
  readonly replies: readonly IdentityReply[];
  readonly happenings: readonly Happening[];
  /** What concerns the capture as a whole. */
  readonly problems: readonly CaptureProblem[];
}

/** Commands that somebody types; no settings report holds one. Common practice, no published standard. */
const typedCommands = [
  'M105',
  'M110',
  'M114',
  'M115',
  'M119',
  'M500',
  'M501',
  'M502',
  'M503',
  'M504',
  'M997',
];

type Item = Pick<CaptureLine, 'text' | 'from' | 'hasPrefix' | 'isGarbled'> & { readonly line: number } & (
    | {
        readonly kind: 'ok' | 'restart' | 'saved' | 'loaded' | 'defaults' | 'refused' | 'text' | 'capability';
      }
    | { readonly kind: 'command'; readonly gcode: GcodeLine; readonly command: string }
    | { readonly kind: 'damaged'; readonly gcode: GcodeLine | null }
    | { readonly kind: 'identity'; readonly pairs: IdentityPairs }
  );

/**
 * Reads a terminal capture: any prompt, echo, line ending and time stamp. Takes any text and never throws; what lies
 * over a limit is a problem that is told.
 * @param wantedKeys keys of the identity reply that the board profile names
 */
export function readCapture(text: string, wantedKeys: readonly string[] = []): Capture {
  const problems: CaptureProblem[] = [];
  const body = text.slice(0, limits.captureBytes);
  const all = body.split(/\r\n|\n\r|\r|\n/);
  const isTerminated = all.at(-1)?.trim() === '';
  const lines = all.slice(0, limits.captureLines);
  while (lines.at(-1)?.trim() === '') lines.pop();
  const isOver = body.length < text.length || all.length > limits.captureLines;
  if (isOver)
    problems.push({ line: lines.length, text: 'the capture is too long, and what follows was not read' });
  const items: Item[] = [];
  for (const [index, raw] of lines.entries()) {
    if (raw.length > limits.captureLineCharacters)
      problems.push({
        line: index + 1,
        text: `the line is longer than ${limits.captureLineCharacters} characters and was not read`,
      });
    else if (raw.trim() !== '') items.push(itemOf(captureLine(raw), index + 1, wantedKeys));
  }
  return {
    lines,
    replies: repliesOf(items, wantedKeys, isTerminated),
    happenings: happeningsOf(withSpeakers(items)),
    problems: problems.slice(0, limits.problems),
  };
}

function itemOf(cleaned: CaptureLine, line: number, wantedKeys: readonly string[]): Item {
  const { text, from, hasPrefix, isGarbled } = cleaned;
  const common = { text, from, hasPrefix, isGarbled, line };
  const reply = text.replace(/^ok +(?=\S+:)/, '');
  const pairs = identityPairs(reply, wantedKeys);
  if (pairs !== null && from !== 'owner') return { ...common, kind: 'identity', pairs };
  if (/^ok\b/i.test(text)) return { ...common, kind: 'ok' };
  if (/^Cap:/i.test(text)) return { ...common, kind: 'capability' };
  if (/^start$|^(?:external |software |watchdog |brown out )?reset$/i.test(text))
    return { ...common, kind: 'restart' };
  if (/^(?:error\b|!!)|^unknown command/i.test(text)) return { ...common, kind: 'refused' };
  if (/\bsettings (?:stored|saved)\b/i.test(text)) return { ...common, kind: 'saved' };
  if (/\bdefault settings loaded\b|\bdefaults loaded\b/i.test(text)) return { ...common, kind: 'defaults' };
  if (/\bstored settings retrieved\b|\bsettings loaded\b/i.test(text)) return { ...common, kind: 'loaded' };
  const gcode = parseGcode(text);
  const command = commandOf(gcode);
  if (command !== null && gcode.fault === null) return { ...common, kind: 'command', gcode, command };
  // Headings and other texts of the machine hold small letters.
  if (command !== null && !/[a-z]{2}/.test(text)) return { ...common, kind: 'damaged', gcode };
  return isRest(text) ? { ...common, kind: 'damaged', gcode: null } : { ...common, kind: 'text' };
}

/** `0.00 Z400.00 E93.00`: words without a command in front, as after a line that lost its beginning. */
function isRest(text: string): boolean {
  if (text.length > longestLine || !/^[-+.0-9A-Z \t]+$/.test(text)) return false;
  const { words, flags, fault } = parseGcode(text.replace(/^[-+.0-9]*/, ''));
  return fault === null && flags.length === 0 && words.length > 0;
}

// ---- the identity reply ---------------------------------------------------------------------------------------

function repliesOf(
  items: readonly Item[],
  wantedKeys: readonly string[],
  isTerminated: boolean,
): IdentityReply[] {
  const replies: IdentityReply[] = [];
  for (let at = 0; at < items.length; at++) {
    const item = items[at]!;
    if (item.kind !== 'identity' || !isReply(item.pairs, wantedKeys)) continue;
    const pairs: Record<string, string> = { ...item.pairs.pairs };
    let problem: string | null = null;
    const spoil = (key: string, why: string): void => {
      delete pairs[key];
      problem ??= why;
    };
    for (const key of item.pairs.unclear) spoil(key, `the reply gives ${key} twice, with different values`);
    let last = item;
    let next = items[at + 1];
    // Some machines put each pair on a line of its own.
    while (next?.kind === 'identity' && !isSameStart(item, next)) {
      for (const [key, value] of Object.entries(next.pairs.pairs)) {
        if (Object.hasOwn(pairs, key) && pairs[key] !== value)
          spoil(key, `the reply gives ${key} twice, with different values`);
        else pairs[key] = value;
      }
      last = next;
      at++;
      next = items[at + 1];
    }
    const lost = `the end of the reply is missing, and ${last.pairs.last} may be cut short`;
    if (next === undefined && !(isTerminated && /^ok /.test(item.text))) spoil(last.pairs.last, lost);
    // A narrow window breaks lines at its edge, in the middle of a value too.
    else if (next !== undefined && next.kind === 'text' && !next.hasPrefix)
      spoil(
        last.pairs.last,
        `the reply goes on in line ${next.line}, and ${last.pairs.last} may be cut in two: make the window wider before you capture`,
      );
    if (item.isGarbled || last.isGarbled) {
      problem = 'characters of the reply were garbled on the way';
      for (const key of Object.keys(pairs)) delete pairs[key];
    }
    replies.push({ line: item.line, pairs, problem });
  }
  return replies.slice(0, limits.problems);
}

type IdentityItem = Extract<Item, { kind: 'identity' }>;

/** The same reply once more, after another question. */
const isSameStart = (one: IdentityItem, other: IdentityItem): boolean =>
  Object.keys(one.pairs.pairs)[0] === Object.keys(other.pairs.pairs)[0];

// ---- who wrote which line -------------------------------------------------------------------------------------

/**
 * Settles who wrote the commands whose line does not say so. A machine prints many and one `ok` behind them; each one
 * that somebody sends is answered by an `ok` of its own.
 */
function withSpeakers(items: readonly Item[]): Item[] {
  const isTyped = (item: Item): boolean =>
    item.kind === 'command' &&
    typedCommands.includes(item.command) &&
    !(item.from === 'machine' && item.gcode.words.length > 1);
  const isBare = (item: Item): boolean => item.kind === 'command' && item.from === null && !isTyped(item);
  const arePrefixed = items.some(
    (item) =>
      item.kind === 'command' && item.from === 'machine' && !isTyped(item) && item.gcode.words.length > 1,
  );
  const spoken: Item[] = items.map((item) => (isTyped(item) ? { ...item, from: 'owner' } : item));
  let start = 0;
  while (start < spoken.length) {
    let end = start;
    while (end < spoken.length && spoken[end]!.kind !== 'ok') end++;
    let next = end;
    while (next < spoken.length && !['command', 'identity'].includes(spoken[next]!.kind)) next++;
    const answers = spoken.slice(end, next).filter(({ kind }) => kind === 'ok').length;
    const bare = spoken.slice(start, end).filter(isBare).length;
    let isAsked = false;
    for (let at = start; at < end; at++) {
      const item = spoken[at]!;
      if (item.kind === 'command' && item.command === 'M503') isAsked = true;
      if (!isBare(item)) continue;
      const isReport = !arePrefixed && (isAsked || answers < bare);
      spoken[at] = { ...item, from: isReport ? 'machine' : 'owner' };
    }
    start = Math.max(next, end + 1);
  }
  return spoken;
}

// ---- what happened to the settings ------------------------------------------------------------------------------

function happeningsOf(items: readonly Item[]): Happening[] {
  const happenings: Happening[] = [];
  const reported = new Set(
    items.flatMap((item) => (item.kind === 'command' && item.from === 'machine' ? [item.command] : [])),
  );
  let lines: ReportLine[] = [];
  let hasSettings = false;
  let isFollowed = false;
  let isSaving = false;
  let sent: GcodeLine | null = null;
  const close = (isClosed: boolean): void => {
    if (hasSettings) {
      const report = settingsReport(lines, isClosed);
      happenings.push({ kind: 'report', line: report.line, report });
    }
    lines = [];
    hasSettings = false;
    isFollowed = false;
  };
  for (const item of items) {
    const { line, text, isGarbled } = item;
    switch (item.kind) {
      case 'ok':
        close(true);
        if (isSaving) happenings.push({ kind: 'saved', line });
        isSaving = false;
        break;
      case 'restart':
        close(true);
        happenings.push({ kind: 'loaded', line });
        break;
      case 'refused':
        isSaving = false;
        happenings.push({ kind: 'refused', line, text });
        break;
      case 'saved':
      case 'loaded':
      case 'defaults':
        isSaving = false;
        happenings.push({ kind: item.kind, line });
        break;
      case 'identity':
        isFollowed = true;
        break;
      case 'command':
        if (item.from === 'owner') {
          sent = item.gcode;
          isSaving = item.command === 'M500';
          if (item.command === 'M501') happenings.push({ kind: 'loaded', line });
          else if (item.command === 'M502') happenings.push({ kind: 'defaults', line });
          else if (isEdit(item.command, item.gcode, reported))
            happenings.push({ kind: 'edit', line, word: item.command });
        } else if (sent === null || !isSameCommand(sent, item.gcode)) {
          lines.push({ line, text, gcode: item.gcode, isGarbled });
          hasSettings = true;
          isFollowed = false;
        }
        break;
      case 'damaged':
        if (item.from !== 'owner') lines.push({ line, text, gcode: item.gcode, isGarbled });
        break;
    }
  }
  // What stands last in a capture may go on behind it, even where somebody's editor has put an end of line.
  const last = items.at(-1);
  if (!isFollowed && last !== undefined && lines.at(-1)?.line === last.line)
    lines[lines.length - 1] = { ...lines.at(-1)!, gcode: { ...parseGcode(''), fault: 'it may be cut off' } };
  close(isFollowed);
  return happenings;
}

/** Commands that set a number: those of a report, and those that are known to. A question has no numbers. */
const isEdit = (command: string, { words }: GcodeLine, reported: ReadonlySet<string>): boolean =>
  words.length > 1 &&
  command !== 'M503' &&
  (isSettingWord(command) || reported.has(command)) &&
  command.startsWith('M');

/** Some machines repeat a command before they obey it. */
function isSameCommand(sent: GcodeLine, printed: GcodeLine): boolean {
  const textOf = ({ words, flags }: GcodeLine): string =>
    words.map(({ letter, value }) => letter + value).join(' ') + flags.join('');
  return sent.words.length > 1 && textOf(sent) === textOf(printed);
}
