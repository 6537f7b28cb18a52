import { closeSync, fsyncSync, openSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { limits } from '../bytes/limits.js';
import { Unseen } from '../facts/fact.js';
import { errorCode, errorText } from './read-cause.js';

/**
 * Makes the computer write what it still holds of the files in some folders of a mounted volume, through descriptors
 * that only read. Why that did not work, or null.
 */
export function flushFiles(root: string, folders: readonly string[]): Unseen | null {
  let flushed = 0;
  for (const folder of folders) {
    const path = join(root, folder);
    try {
      for (const entry of readdirSync(path, { withFileTypes: true })) {
        if (!entry.isFile()) continue;
        if (++flushed > limits.flushedFiles)
          return new Unseen(
            'over-limit',
            `${path} holds more files than can be written out one by one`,
            eject,
          );
        flush(join(path, entry.name));
      }
      flush(path);
    } catch (error) {
      if (errorCode(error) === 'ENOENT') continue;
      return new Unseen(
        errorCode(error) === 'EACCES' ? 'no-permission' : 'not-visible',
        `the computer could not be made to write to the card what it still holds: ${errorText(error)}`,
        eject,
      );
    }
  }
  return null;
}

const eject = 'eject the card, put it back, and check it again';

function flush(path: string): void {
  const descriptor = openSync(path, 'r');
  try {
    fsyncSync(descriptor);
  } finally {
    closeSync(descriptor);
  }
}
