import type { Hazard } from '../rules/rule.js';

interface HazardWords {
  /** What happens, in one sentence. */
  readonly happens: string;
  /** Whether it can be undone, in one sentence. */
  readonly permanent: string;
}

const words: Readonly<Record<Hazard, HazardWords>> = {
  unsafe: {
    happens:
      'The new program would start, but it could overload the supply or drive outputs wrongly: a danger to people and to the machine.',
    permanent:
      'Damage done by it stays; the program itself can be replaced if the machine still takes a card.',
  },
  unbootable: {
    happens:
      'The board would lose its old program and have no working new one: the machine would not start any more.',
    permanent: 'It stays so until the board is flashed again, with a good card if its loader still runs.',
  },
  'one-way': {
    happens: 'The new program would start, but the board could not be put back to what it runs now by card.',
    permanent: 'It cannot be undone by card.',
  },
  'wrong-program': {
    happens: 'The board would be flashed with something other than what was meant.',
    permanent: 'It can be undone by flashing the right program, as long as the machine still takes a card.',
  },
  looped: {
    happens: 'The board would flash itself again at every power-up.',
    permanent: 'It ends when the card is taken out; each round wears the memory.',
  },
  'settings-lost': {
    happens: 'The machine would work, but settings that were made on it would be lost.',
    permanent: 'Settings that were written down before can be entered again.',
  },
  ignored: {
    happens: 'The board would not see this card or would not take it; nothing on the machine would change.',
    permanent: 'Nothing is lost; a corrected card works.',
  },
  advice: {
    happens: 'This works, but it could be better.',
    permanent: 'Nothing is lost.',
  },
};

/** What a hazard means for the machine, in one plain sentence. */
export const hazardText = (hazard: Hazard): string => words[hazard].happens;

/** Whether a hazard can be undone, in one plain sentence. */
export const permanenceText = (hazard: Hazard): string => words[hazard].permanent;

/** What a fault of a release does to those who use it, in one plain sentence. */
const releaseWords: Readonly<Record<Hazard, string>> = {
  unsafe: 'An owner could flash a build that overloads the supply or drives outputs wrongly.',
  unbootable: 'An owner could lose the old program and have no working new one.',
  'one-way': 'An owner could not go back by card.',
  'wrong-program': 'An owner could flash something other than what was meant.',
  looped: 'A machine could flash itself again at every power-up.',
  'settings-lost': 'An owner could lose settings.',
  ignored: 'An owner could not flash this release, or could not check a card with it.',
  advice: 'This works, but it could be better.',
};

export const releaseHazardText = (hazard: Hazard): string => releaseWords[hazard];
