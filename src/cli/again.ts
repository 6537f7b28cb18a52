import type { Given } from './given.js';

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
