import { type Dirent, lstatSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { type ByteSource, ReadProblem } from '../bytes/byte-source.js';
import { limits } from '../bytes/limits.js';
import { FileSource } from './file-source.js';
import { errorCode, errorText, readCauseOf } from './read-cause.js';

/** A file or folder in a staging folder. */
export interface StagedEntry {
  /** Path from the folder with `/` between names, no leading `/`. */
  readonly path: string;
  readonly name: string;
  /** Path of its folder; empty for the top. */
  readonly folder: string;
  readonly isFolder: boolean;
  readonly bytes: number;
  /** True when nobody may write to it. */
  readonly readOnly: boolean;
  /** True when its name begins with a dot; the attribute of a card cannot be seen here. */
  readonly hidden: boolean;
  /** Last change, in milliseconds since 1970. */
  readonly modified: number;
}

/** Something in a staging folder that was not listed, and why. */
export interface SkippedEntry {
  readonly path: string;
  readonly why: 'link' | 'not-a-file' | 'no-permission' | 'read-error' | 'other-volume';
  /** True for a folder that is listed itself, only not what is in it. */
  readonly isFolder: boolean;
  /** A plain sentence. */
  readonly text: string;
  /** The system's code of the error (`EIO`), when there was one. */
  readonly code?: string;
}

/** Files that are meant to be copied onto a card, or that lie on a mounted one. */
export interface StagingFolder {
  readonly root: string;
  readonly entries: readonly StagedEntry[];
  readonly skipped: readonly SkippedEntry[];
  /** Set when a limit was met, so that the list is not complete: which one, in a plain sentence. */
  readonly overLimit?: string;
}

/**
 * Lists a folder with everything inside, each folder's names in the order of their code units. Links are named and
 * not followed: on a card there are none. Throws the system's error when the folder itself cannot be read.
 * @param volume device number of the volume whose files are wanted: folders on which another one is mounted are not
 * looked into
 */
export function readStagingFolder(root: string, volume?: number): StagingFolder {
  const entries: StagedEntry[] = [];
  const skipped: SkippedEntry[] = [];
  let overLimit: string | undefined;

  const skip = (path: string, isFolder: boolean, error: unknown): void => {
    const why = readCauseOf(error) === 'no-permission' ? 'no-permission' : 'read-error';
    skipped.push({ path, why, isFolder, text: `${path}: ${errorText(error)}`, code: errorCode(error) });
  };
  const walk = (folder: string, depth: number, list: Dirent[]): void => {
    list.sort((a, b) => (a.name < b.name ? -1 : 1));
    const inner: string[] = [];
    for (const { name } of list) {
      const path = folder === '' ? name : `${folder}/${name}`;
      if (entries.length + skipped.length >= limits.files) {
        overLimit ??= `the folder holds more than ${limits.files} files`;
        return;
      }
      try {
        const stats = lstatSync(join(root, path));
        if (stats.isSymbolicLink()) {
          skipped.push({
            path,
            why: 'link',
            isFolder: false,
            text: `${path} is a link, which a card cannot hold`,
          });
          continue;
        }
        if (!stats.isFile() && !stats.isDirectory()) {
          const text = `${path} is neither a file nor a folder`;
          skipped.push({ path, why: 'not-a-file', isFolder: false, text });
          continue;
        }
        const isFolder = stats.isDirectory();
        entries.push({
          path,
          name,
          folder,
          isFolder,
          bytes: isFolder ? 0 : stats.size,
          readOnly: (stats.mode & 0o222) === 0,
          hidden: name.startsWith('.'),
          modified: stats.mtimeMs,
        });
        if (isFolder && volume !== undefined && stats.dev !== volume) {
          const text = `another volume is mounted on the folder ${path}, so what it holds itself is not shown`;
          skipped.push({ path, why: 'other-volume', isFolder, text });
        } else if (isFolder) inner.push(path);
      } catch (error) {
        skip(path, false, error);
      }
    }
    for (const path of inner) {
      if (depth + 1 > limits.folderDepth) {
        overLimit ??= `folders lie more than ${limits.folderDepth} deep in each other`;
        return;
      }
      let below: Dirent[];
      try {
        below = readdirSync(join(root, path), { withFileTypes: true });
      } catch (error) {
        skip(path, true, error);
        continue;
      }
      walk(path, depth + 1, below);
    }
  };
  walk('', 0, readdirSync(root, { withFileTypes: true }));
  return { root, entries, skipped, ...(overLimit === undefined ? {} : { overLimit }) };
}

/** Bytes of a staged file. A file that cannot be opened gives a source whose every read says why. */
export function readStagedFile(folder: StagingFolder, entry: StagedEntry): ByteSource & { close(): void } {
  try {
    return FileSource.open(join(folder.root, entry.path));
  } catch (error) {
    const cause = errorCode(error) === '' ? 'read-error' : readCauseOf(error);
    return {
      size: entry.bytes,
      read: (at, length) => new ReadProblem(at, length, cause, errorText(error)),
      close: () => {},
    };
  }
}
