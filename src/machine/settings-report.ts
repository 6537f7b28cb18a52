import { limits } from '../bytes/limits.js';
import { commandOf, type GcodeLine } from './gcode.js';
import type { RecordedSetting } from './record.js';
import { keyedSettings } from './setting-keys.js';
import { unitOf } from './setting-words.js';

/** Something in a capture that could not be read, in a plain sentence with its line, counted from 1. */
export interface CaptureProblem {
  readonly line: number;
  readonly text: string;
}

/** A line of a report as it came: what it says, or why it says nothing. */
export interface ReportLine {
  readonly line: number;
  /** Without what stood in front. */
  readonly text: string;
  /** The line as parsed; null for a rest of a line that has no command. */
  readonly gcode: GcodeLine | null;
  readonly isGarbled: boolean;
}

/** What the machine printed as its settings, up to the `ok` behind it. */
export interface SettingsReport {
  readonly line: number;
  readonly settings: readonly RecordedSetting[];
  /** The machine said `ok` behind it, or went on to something else: nothing was cut off at its end. */
  readonly isClosed: boolean;
  readonly problems: readonly CaptureProblem[];
}

/** The settings of the lines of one report. A line that broke off and stands there whole as well is no problem. */
export function settingsReport(lines: readonly ReportLine[], isClosed: boolean): SettingsReport {
  const problems: CaptureProblem[] = [];
  const complain = (line: number, text: string): void => {
    if (problems.length < limits.problems) problems.push({ line, text });
  };
  const whole = withoutPartial(lines.filter((one) => faultOf(one) === null));
  const isElsewhere = (text: string): boolean =>
    whole.some((one) => one.text.startsWith(text) || one.text.endsWith(text));
  for (const one of lines) {
    const fault = faultOf(one);
    if (fault !== null && problems.length < limits.problems && !isElsewhere(one.text))
      complain(one.line, fault);
  }
  const settings: RecordedSetting[] = [];
  const placed: number[] = [];
  let isInches = false;
  for (const { line, text, gcode } of whole) {
    const word = commandOf(gcode!)!;
    if (word === 'G20' || word === 'G21') isInches = word === 'G20';
    const numbers = gcode!.words.slice(1);
    if (gcode!.flags.length > 0 && numbers.length > 0)
      complain(line, `the letter ${gcode!.flags[0]} of ${word} has no number`);
    for (const { letter, value } of numbers) {
      const unit = unitOf(word, letter, isInches);
      settings.push({ word, letter, value, ...(unit === undefined ? {} : { unit }), line: text });
      placed.push(line);
    }
  }
  const line = lines[0]?.line ?? 1;
  if (settings.length > limits.captureSettings) {
    complain(line, `the report has more than ${limits.captureSettings} numbers, and none of them was kept`);
    return { line, settings: [], isClosed, problems };
  }
  return { line, settings: agreeing(settings, placed, complain), isClosed, problems };
}

/** Why a line cannot be relied on; null for one that can. */
function faultOf({ gcode, isGarbled }: ReportLine): string | null {
  if (isGarbled) return 'characters of the line were garbled on the way';
  if (gcode === null) return 'it is the rest of a line whose beginning is missing';
  if (gcode.fault !== null) return `the line is damaged: ${gcode.fault}`;
  if (gcode.checksum === 'wrong') return 'the checksum of the line does not fit it';
  if (commandOf(gcode) === null) return 'it is the rest of a line whose beginning is missing';
  return gcode.words.some(({ isSplit }) => isSplit) ? 'a number of the line is torn apart' : null;
}

/** Each line once, and none that is only the beginning of another one. */
function withoutPartial(lines: readonly ReportLine[]): ReportLine[] {
  const texts = [...new Set(lines.map(({ text }) => text))].sort();
  // In this order a text that begins another one stands right before one that it begins.
  const partial = new Set(texts.filter((text, at) => texts[at + 1]?.startsWith(text)));
  const taken = new Set<string>();
  return lines.filter(({ text }) => {
    if (partial.has(text) || taken.has(text)) return false;
    taken.add(text);
    return true;
  });
}

/** Each setting once; none that the report gives two values. */
function agreeing(
  settings: readonly RecordedSetting[],
  lines: readonly number[],
  complain: (line: number, text: string) => void,
): RecordedSetting[] {
  const keyed = keyedSettings(settings);
  const values = new Map<string, number>();
  const torn = new Set<string>();
  for (const [at, { key, setting, isIndex }] of keyed.entries()) {
    if (isIndex) continue;
    const other = values.get(key);
    if (other !== undefined && other !== setting.value && !torn.has(key)) {
      torn.add(key);
      complain(lines[at]!, `${key} stands there twice, as ${other} and as ${setting.value}`);
    }
    values.set(key, other ?? setting.value);
  }
  const taken = new Set<string>();
  return keyed
    .filter(({ key, isIndex, setting }) => {
      const own = isIndex ? `${key}\n${setting.line}` : key;
      if (torn.has(key) || taken.has(own)) return false;
      taken.add(own);
      return true;
    })
    .map(({ setting }) => setting);
}
