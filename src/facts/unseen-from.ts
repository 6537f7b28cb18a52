import type { ReadCause, ReadProblem } from '../bytes/byte-source.js';
import { Unseen, type UnseenCause } from './fact.js';

const causes: Readonly<Record<ReadCause, readonly [UnseenCause, string, string | undefined]>> = {
  'past-end': [
    'damaged',
    'lie past the end of the card or image',
    'copy the card again, or read it as a whole card instead of an image file',
  ],
  'read-error': ['damaged', 'could not be read from the card', 'use another card: this one may be failing'],
  damaged: ['damaged', 'are damaged in the image file', 'make the image again'],
  'no-permission': [
    'no-permission',
    'may not be read with your rights',
    'run the check again with the right to read the device',
  ],
  'over-limit': ['over-limit', 'lie beyond what is read of one card', undefined],
};

/** The marker for a fact whose bytes could not be had: `read-error`, `damaged` and `past-end` become `damaged`. */
export function unseenFrom(problem: ReadProblem): Unseen {
  const [cause, text, settle] = causes[problem.cause];
  const last = problem.at + Math.max(problem.length, 1) - 1;
  const detail = problem.detail ? ` (${problem.detail})` : '';
  return new Unseen(cause, `bytes ${problem.at} to ${last} ${text}${detail}`, settle);
}
