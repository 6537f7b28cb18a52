import type { SealedFile } from '../board/seal.js';
import type { Digests } from '../bytes/digests.js';
import { limits } from '../bytes/limits.js';
import { Unseen } from './fact.js';
import type { FileTree, TreeEntry } from './file-tree.js';

/** A file of a release folder with its digests, and its place in the folder. */
export interface ReleaseFile extends SealedFile {
  readonly entry: TreeEntry;
}

/** The files of a release folder, and why there may be more than these. */
export interface ReleaseFiles {
  /** In the order of their paths. */
  readonly files: readonly ReleaseFile[];
  readonly lost: Unseen | null;
  /** Paths of files that are there and could not be read. */
  readonly closed: readonly string[];
}

/** Reads every file of a release folder once, for its digests. */
export function readReleaseFiles(tree: FileTree, digests: Digests): ReleaseFiles {
  const files: ReleaseFile[] = [];
  const closed: string[] = [];
  let lost = tree.incomplete;
  let budget: number = limits.releaseBytes;
  const entries = tree.entries.filter((entry) => !entry.isFolder);
  for (const entry of entries) {
    if (files.length >= limits.releaseFiles || entry.bytes > budget) {
      lost ??= new Unseen(
        'over-limit',
        `the folder holds more than flashworthy reads of a release (${limits.releaseFiles} files, ${limits.releaseBytes} bytes)`,
      );
      break;
    }
    budget -= entry.bytes;
    const [sha256, crc32] = [digests.sha256(), digests.crc32()];
    const outcome = tree.read(entry, (piece) => {
      sha256.update(piece);
      crc32.update(piece);
    });
    if (outcome.whole)
      files.push({
        entry,
        path: entry.path,
        bytes: entry.bytes,
        crc32: crc32.hex(),
        sha256: sha256.hex(),
      });
    else {
      closed.push(entry.path);
      lost ??= outcome.missing ?? new Unseen('damaged', `${entry.path} could not be read to its end`);
    }
  }
  files.sort((a, b) => (a.path < b.path ? -1 : 1));
  return { files, lost, closed };
}

/** All bytes of a file; null when it is larger than firmware can be, or cannot be read. */
export function bytesOf(tree: FileTree, entry: TreeEntry): Uint8Array | null {
  if (entry.bytes > limits.updateFileBytes) return null;
  const bytes = new Uint8Array(entry.bytes);
  let at = 0;
  const { whole } = tree.read(entry, (piece) => {
    if (at + piece.length > bytes.length) return;
    bytes.set(piece, at);
    at += piece.length;
  });
  return whole && at === bytes.length ? bytes : null;
}
