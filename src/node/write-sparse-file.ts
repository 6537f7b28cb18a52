import { ftruncateSync, writeSync } from 'node:fs';
import { writeNewFileBy } from './write-new-file.js';

/** Bytes and where they go in a file. */
export interface FilePiece {
  readonly at: number;
  readonly bytes: Uint8Array;
}

/**
 * Writes a file of a size that is zero but for some pieces; where the file system can, what is zero takes no space.
 * The file is there whole or not at all. Throws `WriteProblem`.
 */
export function writeSparseFile(
  path: string,
  size: number,
  pieces: readonly FilePiece[],
  force: boolean,
): void {
  writeNewFileBy(path, force, (descriptor) => {
    ftruncateSync(descriptor, size);
    for (const { at, bytes } of pieces)
      for (let done = 0; done < bytes.length; )
        done += writeSync(descriptor, bytes, done, bytes.length - done, at + done);
  });
}
