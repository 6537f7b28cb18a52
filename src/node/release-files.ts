import { join } from 'node:path';
import type { Candidate, Manifest } from '../board/manifest.js';
import { ReadProblem } from '../bytes/byte-source.js';
import { limits } from '../bytes/limits.js';
import { sha256Hex } from './digests.js';
import { FileSource } from './file-source.js';

/**
 * The builds of a release folder as files to compare with. Each is read when it is looked at; one that is not there,
 * cannot be read, or is not what its manifest says compares with nothing.
 * @param folder where the manifest lies
 */
export function releaseCandidates(folder: string, manifest: Manifest): Candidate[] {
  return manifest.files.flatMap(({ path, role, build, bytes, sha256 }) =>
    role !== 'build' || bytes > limits.updateFileBytes
      ? []
      : [
          {
            path,
            ...(build === undefined ? {} : { build }),
            bytes,
            read: () => publishedBytes(join(folder, path), bytes, sha256),
          },
        ],
  );
}

function publishedBytes(path: string, bytes: number, sha256: string): Uint8Array | null {
  let source: FileSource;
  try {
    source = FileSource.open(path);
  } catch {
    return null;
  }
  try {
    const read = source.size === bytes ? source.read(0, bytes) : null;
    return read === null || read instanceof ReadProblem || sha256Hex(read) !== sha256 ? null : read;
  } finally {
    source.close();
  }
}
