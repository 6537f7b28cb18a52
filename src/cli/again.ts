import type { MachineOptions } from '../machine/machine.js';
import type { Given } from './given.js';
import { boardOptions } from './options.js';

/** Quotation marks that both a Unix shell and the Windows prompt understand, where a word needs them. */
export const quoted = (word: string): string => (/^[\w./:=@%+,-]+$/.test(word) ? word : `"${word}"`);

/**
 * A command line about the same card, board and machine, as it is typed.
 * @param texts options with a value, which are repeated as they were given; `flags` without one
 */
export function again(
  command: string,
  card: string,
  given: Given,
  texts: readonly string[],
  flags: readonly string[],
): string {
  const words = ['flashworthy', command, card];
  for (const option of texts) for (const text of given.texts(option)) words.push(`--${option}`, text);
  for (const option of flags) if (given.flag(option)) words.push(`--${option}`);
  return words.map(quoted).join(' ');
}

/** A command to type next, with the same words about board and machine as this one was given. */
export function nextCommand(
  command: string,
  operands: readonly string[],
  given: Given,
  { supply, installed, was, sets }: MachineOptions,
): string {
  const words = ['flashworthy', command, ...operands];
  const add = (option: string, value: string | undefined): void => {
    if (value !== undefined) words.push(`--${option}`, value);
  };
  add('boards', given.text('boards'));
  add('manifest', given.text('manifest'));
  add('machine', given.text('machine'));
  add('supply', supply);
  add('installed', installed);
  add('was', was);
  for (const [axis, value] of Object.entries(sets ?? {})) add('set', `${axis}=${value}`);
  return words.map(quoted).join(' ');
}

/** The same command line about another card, with what was said of board, machine and card. */
export const sameAgain =
  (command: string, given: Given) =>
  (card: string, more: readonly string[] = []): string =>
    [
      again(
        command,
        card,
        given,
        [...Object.keys(boardOptions), 'card', 'rules'],
        ['fresh', 'reinserted', 'no-waivers'],
      ),
      ...more.filter((option) => !given.flag(option)).map((option) => `--${option}`),
    ].join(' ');
