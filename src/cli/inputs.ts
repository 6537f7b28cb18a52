import { readdirSync, readFileSync, type Stats, statSync } from 'node:fs';
import { limits } from '../bytes/limits.js';
import { sha256Hex } from '../node/digests.js';
import { errorCode, errorText } from '../node/read-cause.js';
import { notThere, usageProblem } from './exit.js';

/** A text file that was read as input: a profile, manifest or rule file. */
export interface InputFile {
  readonly role: string;
  /** As it was given or found. */
  readonly path: string;
  readonly text: string;
  /** SHA-256 of its bytes. */
  readonly sha256: string;
}

/** What is at a path, or null when there is nothing. */
export function statOrNull(path: string): Stats | null {
  try {
    return statSync(path);
  } catch (error) {
    const code = errorCode(error);
    if (code === 'ENOENT' || code === 'ENOTDIR') return null;
    throw notThere(`${path} cannot be read: ${errorText(error)}`);
  }
}

/**
 * Reads a text file of `most` bytes at most whole. Ends the command with 66 when it is not there, with 64 when it
 * cannot be such a file.
 */
export function readInput(role: string, path: string, most: number = limits.textFileBytes): InputFile {
  const bytes = bytesOfInput(role, path, most);
  try {
    return {
      role,
      path,
      text: new TextDecoder('utf-8', { fatal: true }).decode(bytes),
      sha256: sha256Hex(bytes),
    };
  } catch {
    throw usageProblem(`${path}: expected text in UTF-8 (${role})`);
  }
}

function bytesOfInput(role: string, path: string, most: number): Uint8Array {
  const stats = statOrNull(path);
  if (stats === null) throw notThere(`${path}: there is no such file (${role})`);
  if (!stats.isFile()) throw usageProblem(`${path} is not a file (${role})`);
  if (stats.size > most) throw usageProblem(`${path} is larger than ${most} bytes: it cannot be a ${role}`);
  try {
    return readFileSync(path);
  } catch (error) {
    throw notThere(`${path} cannot be read: ${errorText(error)}`);
  }
}

/** Paths of all `.yaml` and `.yml` files in a folder and the folders in it, `/` between names, in order. */
export function yamlFiles(folder: string): string[] {
  const stats = statOrNull(folder);
  if (stats === null) throw notThere(`${folder}: there is no such folder`);
  if (!stats.isDirectory()) throw usageProblem(`${folder} is not a folder`);
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .map((path) => path.replaceAll('\\', '/'))
    .filter((path) => /\.ya?ml$/.test(path))
    .sort();
}

interface PlacedProblem {
  readonly file: string;
  readonly line: number;
  readonly column: number;
  readonly message: string;
  readonly expected: string;
}

/** Problems of a file that its author must mend, one line each: `file:line:column: what is wrong; expected …`. */
export function placedProblems(problems: readonly PlacedProblem[]): string {
  return problems
    .map(({ file, line, column, message, expected }) => {
      // Many messages name what was expected themselves.
      const isSaid = expected === '' || message.includes(`expected ${expected}`);
      const wanted = isSaid ? '' : `; expected ${expected}`;
      return `${file}:${line}:${column}: ${message}${wanted}`;
    })
    .join('\n');
}
