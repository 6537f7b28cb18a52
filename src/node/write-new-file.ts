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
import { basename, dirname, join, sep } from 'node:path';
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
  if (path.endsWith('/') || path.endsWith(sep))
    return `${path} cannot be written: that is the name of a folder`;
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
 * A file that is there whole or not at all: written under another name in the same folder, flushed, then renamed.
 * Everything throws `WriteProblem`; without `force` also when the file exists, even if it came into being meanwhile.
 */
export class NewFile {
  private readonly target: string;
  private readonly temporary: string;
  private descriptor: number | null;

  constructor(
    private readonly path: string,
    private readonly force: boolean,
  ) {
    const obstacle = writeObstacle(path, force);
    if (obstacle !== null) throw new WriteProblem(obstacle);
    // A link keeps pointing where it points; its target is what is replaced.
    this.target = realpathOrSame(path);
    this.temporary = join(
      dirname(this.target),
      `.${basename(this.target).slice(0, 60)}.${randomBytes(6).toString('hex')}.tmp`,
    );
    this.descriptor = this.attempt(() => openSync(this.temporary, 'wx'));
  }

  append(text: string): void {
    this.fill((descriptor) => writeFileSync(descriptor, text));
  }

  /** Lets something write what it likes; it must write all of it. */
  fill(write: (descriptor: number) => void): void {
    const { descriptor } = this;
    if (descriptor === null) throw new Error(`${this.path} is not open any more`);
    this.attempt(() => write(descriptor));
  }

  /** Puts the file in its place. */
  commit(): void {
    const { descriptor } = this;
    if (descriptor === null) throw new Error(`${this.path} is not open any more`);
    try {
      this.attempt(() => {
        fsyncSync(descriptor);
        this.close();
        if (this.force) renameSync(this.temporary, this.target);
        else moveWithoutReplacing(this.temporary, this.target);
        flushFolder(dirname(this.target));
      });
    } finally {
      this.abandon();
    }
  }

  /** Leaves nothing behind of a file that is not in its place yet; does nothing after `commit`. */
  abandon(): void {
    this.close();
    rmSync(this.temporary, { force: true });
  }

  private close(): void {
    const { descriptor } = this;
    this.descriptor = null;
    if (descriptor !== null) closeSync(descriptor);
  }

  private attempt<T>(work: () => T): T {
    try {
      return work();
    } catch (error) {
      if (errorCode(error) === 'EEXIST')
        throw new WriteProblem(`${this.path} exists already; --force overwrites it`);
      throw new WriteProblem(`${this.path} cannot be written: ${errorText(error)}`);
    }
  }
}

/** Writes a text as a `NewFile`. */
export const writeNewFile = (path: string, text: string, force: boolean): void =>
  writeNewFileBy(path, force, (descriptor) => writeFileSync(descriptor, text));

/** Writes whatever `write` writes as a `NewFile`. */
export function writeNewFileBy(path: string, force: boolean, write: (descriptor: number) => void): void {
  const file = new NewFile(path, force);
  try {
    file.fill(write);
    file.commit();
  } finally {
    file.abandon();
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
