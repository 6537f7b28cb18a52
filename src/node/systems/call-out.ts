import { spawnSync } from 'node:child_process';
import { limits } from '../../bytes/limits.js';
import { errorCode, errorText } from '../read-cause.js';

/** A program of the system that is to be started once. */
export interface CallOut {
  /** Its name for people: `diskutil`. */
  readonly name: string;
  /** Full path, so that no program of that name on a card can stand in for it. */
  readonly program: string;
  readonly args: readonly string[];
}

/** What a program printed, or in plain words why there is nothing to read. */
export type CallAnswer = { readonly printed: string } | { readonly failure: string };

/** Starts one program and waits for its answer. */
export type Caller = (call: CallOut) => CallAnswer;

/** Longest that a program of the system may take. */
export const callSeconds = 5;

/**
 * Starts one program, for `callSeconds` at most, with nothing on its standard input. Never throws: what goes wrong is
 * the answer.
 */
export function callOut({ name, program, args }: CallOut, seconds = callSeconds): CallAnswer {
  const { error, status, signal, stdout } = spawnSync(program, args, {
    encoding: 'utf8',
    timeout: seconds * 1000,
    killSignal: 'SIGKILL',
    maxBuffer: limits.systemAnswerBytes,
    stdio: ['ignore', 'pipe', 'ignore'],
    windowsHide: true,
    // Numbers and words as the documentation has them, whatever language the computer speaks.
    env: { ...process.env, LC_ALL: 'C', LANG: 'C' },
  });
  if (error) return { failure: failureText(name, errorCode(error), errorText(error), seconds) };
  if (signal !== null) return { failure: `${name} was ended by the system` };
  if (status !== 0) return { failure: `${name} ended with exit code ${status}` };
  return { printed: stdout };
}

function failureText(name: string, code: string, text: string, seconds: number): string {
  if (code === 'ETIMEDOUT') return `${name} did not answer within ${seconds} seconds`;
  if (code === 'ENOENT') return `${name} is not on this computer`;
  if (code === 'ENOBUFS') return `${name} printed far more than it should`;
  return `${name} could not be started: ${text}`;
}
