import { randomBytes } from 'node:crypto';
import {
  closeSync,
  existsSync,
  fsyncSync,
  linkSync,
  lstatSync,
  openSync,
  realpathSync,
  renameSync,
  rmSync,
  type Stats,
  writeFileSync,
} from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { errorCode, errorText } from './read-cause.js';

/** A file that could not be written; the message is a plain sentence that names it. */
export class WriteProblem extends Error {
  override readonly name = 'WriteProblem';
}

/**
 * Why this file could not be written, or null when nothing speaks against it: looked up before the work starts, so
 * that nobody waits for a report that then has no place.
 */
export function writeObstacle(path: string, force: boolean): string | null {
  let stats: Stats;
  try {
    stats = lstatSync(realpathOrSame(path));
  } catch (error) {
    if (errorCode(error) !== 'ENOENT') return `${path} cannot be written: ${errorText(error)}`;
    return existsSync(dirname(path))
      ? null
      : `${path} cannot be written: there is no folder ${dirname(path)}`;
  }
  if (!stats.isFile()) return `${path} cannot be written: it is not a file`;
  return force ? null : `${path} exists already; --force overwrites it`;
}

/**
 * Writes a text so that the file is there whole or not at all. Throws `WriteProblem`; without `force` also when the
 * file exists, even if it came into being meanwhile.
 */
export const writeNewFile = (path: string, text: string, force: boolean): void =>
  writeNewFileBy(path, force, (descriptor) => writeFileSync(descriptor, text));

/**
 * The same with whatever `fill` writes: under another name in the same folder, flushed, then renamed. `fill` must
 * write all of it.
 */
export function writeNewFileBy(path: string, force: boolean, fill: (descriptor: number) => void): void {
  const obstacle = writeObstacle(path, force);
  if (obstacle !== null) throw new WriteProblem(obstacle);
  // A link keeps pointing where it points; its target is what is replaced.
  const target = realpathOrSame(path);
  const temporary = join(dirname(target), `.${basename(target)}.${randomBytes(6).toString('hex')}.tmp`);
  try {
    const descriptor = openSync(temporary, 'wx');
    try {
      fill(descriptor);
      fsyncSync(descriptor);
    } finally {
      closeSync(descriptor);
    }
    if (force) renameSync(temporary, target);
    else moveWithoutReplacing(temporary, target);
    flushFolder(dirname(target));
  } catch (error) {
    if (errorCode(error) === 'EEXIST')
      throw new WriteProblem(`${path} exists already; --force overwrites it`);
    throw new WriteProblem(`${path} cannot be written: ${errorText(error)}`);
  } finally {
    rmSync(temporary, { force: true });
  }
}

/** A new link fails when the name is taken, where a renaming would replace it. Not every file system has links. */
function moveWithoutReplacing(from: string, to: string): void {
  try {
    linkSync(from, to);
  } catch (error) {
    if (errorCode(error) === 'EEXIST' || existsSync(to)) throw error;
    renameSync(from, to);
  }
}

/** Makes the new name itself lasting. Windows opens no folders; there is nothing to do then. */
export function flushFolder(folder: string): void {
  try {
    const descriptor = openSync(folder, 'r');
    try {
      fsyncSync(descriptor);
    } finally {
      closeSync(descriptor);
    }
  } catch {
    // The content is safe already.
  }
}

function realpathOrSame(path: string): string {
  try {
    return realpathSync(path);
  } catch {
    return path;
  }
}
