import { closeSync, fsyncSync, mkdirSync, openSync, readdirSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { ReadProblem } from '../bytes/byte-source.js';
import { litterOf } from '../card/litter.js';
import { FileSource } from './file-source.js';
import { errorText } from './read-cause.js';
import { flushFolder, WriteProblem } from './write-new-file.js';

/** A file for a card, with `/` between the names of its path. */
export interface CardCopy {
  readonly path: string;
  readonly bytes: Uint8Array;
}

/** What lies in the folder already, but for what computers put on every card. Throws the system's error. */
export function inTheWay(folder: string): string[] {
  return readdirSync(folder)
    .filter((name) => litterOf(name) === 'none')
    .sort();
}

/**
 * Copies files to an empty folder in their order, each under its final name at once: a boot loader may count entries,
 * and a file that was renamed leaves a deleted one behind. Each is flushed, closed, read back and compared before the
 * next one begins. Throws `WriteProblem`; what was written until then stays where it is.
 */
export function copyToCard(folder: string, files: readonly CardCopy[]): void {
  const made = new Set<string>();
  for (const { path, bytes } of files) {
    try {
      const names = path.split('/');
      for (let depth = 1; depth < names.length; depth++) {
        const above = names.slice(0, depth).join('/');
        if (!made.has(above)) mkdirSync(join(folder, above));
        made.add(above);
      }
      writeOnce(join(folder, path), bytes);
    } catch (error) {
      throw new WriteProblem(`${path} cannot be written: ${errorText(error)}`);
    }
    if (!isSame(join(folder, path), bytes))
      throw new WriteProblem(
        `${path} was written, and what is read back is something else: the card is failing`,
      );
  }
  for (const above of made) flushFolder(join(folder, above));
  flushFolder(folder);
}

function writeOnce(path: string, bytes: Uint8Array): void {
  const descriptor = openSync(path, 'wx');
  try {
    for (let done = 0; done < bytes.length; )
      done += writeSync(descriptor, bytes, done, bytes.length - done, done);
    fsyncSync(descriptor);
  } finally {
    closeSync(descriptor);
  }
}

function isSame(path: string, bytes: Uint8Array): boolean {
  const source = FileSource.open(path);
  try {
    const read = source.size === bytes.length ? source.read(0, bytes.length) : null;
    return read !== null && !(read instanceof ReadProblem) && Buffer.compare(read, bytes) === 0;
  } finally {
    source.close();
  }
}
