import type { Options } from 'yargs';
import { usageProblem } from './exit.js';

/** An option with a value: always a text, and never swallowing what follows its value. */
export const value = (describe: string, group?: string): Options => ({
  type: 'string',
  requiresArg: true,
  describe,
  ...(group ? { group } : {}),
});
export const flag = (describe: string, group?: string): Options => ({
  type: 'boolean',
  describe,
  ...(group ? { group } : {}),
});

const board = 'The board and the machine:';
const card = 'The card:';
const output = 'The report:';

/** Which board, and which machine. */
export const boardOptions = {
  board: value('Board profile: a file, a release folder, or an id in --boards', board),
  boards: value('Folder of board profiles', board),
  manifest: value('Release manifest; else manifest.json beside the profile', board),
  machine: value('Machine record; the options below take the place of what it says', board),
  supply: value('Fitted power supply as its label says, such as 24V/6.5A, or: unsure', board),
  installed: value('Release that runs now, or: none', board),
  was: value('Release that ran last, when nothing runs now', board),
  set: value('Answer to another question of the profile, as name=value; may be repeated', board),
} as const;

/** What the owner knows about the card. */
export const cardOptions = {
  card: value('Size printed on the real card, such as 32GB, when an image is checked', card),
  fresh: flag('You formatted it just now and copied these files once, nothing else', card),
  reinserted: flag('You ejected the card after copying and put it back', card),
  staging: flag('Check a folder of files that are not on a card yet', card),
} as const;

/** Which rules. */
export const ruleOptions = {
  rules: value('Folder of further rules (YAML)', 'The rules:'),
  'no-waivers': flag('Do not accept what the profile waives', 'The rules:'),
} as const;

/** Forms and places of a report. */
export const outputOptions = {
  format: value('Form of the report: text, json, html, sarif or junit', output),
  report: value(
    'Also write the report to a file, as kind=FILE, or, as kind=FOLDER/, one file for each card; may be repeated',
    output,
  ),
  output: value('Write the report to this file instead of standard output', output),
  force: flag('Overwrite files that exist', output),
  facts: value('all: list every file in the JSON report', output),
  verbose: { ...flag('Also list the rules that hold', output), alias: 'v' },
} as const;

/** Forms and places of what has a text and a JSON form only. */
export const twoForms = {
  format: value('Form of the report: text or json', output),
  report: value('Also write the report to a file, as kind=FILE; may be repeated', output),
  output: outputOptions.output,
  force: outputOptions.force,
} as const;

/** `name=value` taken apart at the first `=`. */
export function nameAndValue(option: string, text: string): [name: string, value: string] {
  const at = text.indexOf('=');
  if (at < 1 || at === text.length - 1) throw usageProblem(`--${option} wants name=value, not "${text}"`);
  return [text.slice(0, at), text.slice(at + 1)];
}

/** A value out of a fixed list. */
export function oneOf<T extends string>(option: string, text: string, words: readonly T[]): T {
  const found = words.find((word) => word === text);
  if (found === undefined) throw usageProblem(`--${option} takes ${words.join(', ')}; not "${text}"`);
  return found;
}
