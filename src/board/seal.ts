import type { FileRole, Manifest, ManifestFile } from './manifest.js';
import type { Profile } from './profile.js';

/** Names that a release folder gives to what describes it. */
export const manifestName = 'manifest.json';
export const checksumsName = 'SHA256SUMS';
export const profileName = 'board.yaml';

/** One file of a release folder by its content. */
export interface SealedFile {
  /** Path inside the folder, with `/` between names. */
  readonly path: string;
  readonly bytes: number;
  /** 8 and 64 lower-case hexadecimal digits. */
  readonly crc32: string;
  readonly sha256: string;
}

/** What a file of a release is for. */
export interface Part {
  readonly role: FileRole;
  readonly build?: string;
}

/** Order of paths that no language setting changes: by code units. */
export const byPath = <T extends { readonly path: string }>(a: T, b: T): number =>
  a.path < b.path ? -1 : a.path > b.path ? 1 : 0;

/**
 * The manifest of a release folder: every file but itself and the list of checksums. It rests on the files alone, so
 * that sealing twice gives the same.
 * @param partOf what each file is for
 */
export function sealedManifest(
  { id, revision }: Pick<Profile, 'id' | 'revision'>,
  release: string,
  files: readonly SealedFile[],
  partOf: (path: string) => Part,
): Manifest {
  const described = files
    .filter(({ path }) => path !== manifestName && path !== checksumsName)
    .map(({ path, bytes, crc32, sha256 }): ManifestFile => {
      const { role, build } = partOf(path);
      return { path, role, ...(build === undefined ? {} : { build }), bytes, crc32, sha256 };
    })
    .sort(byPath);
  return { schema: 'flashworthy-manifest/1', board: { id, revision }, release, files: described };
}

/** The manifest as it is written. */
export const manifestText = (manifest: Manifest): string => `${JSON.stringify(manifest, null, 2)}\n`;

/**
 * The list that `sha256sum -c` checks (GNU coreutils, "md5sum invocation"): digest, a blank, a blank for text or an
 * asterisk for binary reading, which mean the same for SHA-256, and the name. Names that coreutils would have to
 * escape cannot stand in a manifest, and are refused before.
 */
export const checksumsText = (files: readonly Pick<SealedFile, 'path' | 'sha256'>[]): string =>
  [...files]
    .filter(({ path }) => path !== checksumsName)
    .sort(byPath)
    .map(({ path, sha256 }) => `${sha256}  ${path}\n`)
    .join('');

/** A line of a list of checksums: its number from 1, and what it says; null when it says nothing of the kind. */
export interface ChecksumLine {
  readonly line: number;
  readonly entry: { readonly path: string; readonly sha256: string } | null;
}

/** Reads a list of checksums as `sha256sum` writes it. Empty lines are passed over. */
export function readChecksums(text: string): ChecksumLine[] {
  return text
    .split('\n')
    .map((line, index) => ({ line: index + 1, text: line.replace(/\r$/, '') }))
    .filter((each) => each.text.trim() !== '')
    .map((each) => {
      const parts = /^([0-9a-fA-F]{64}) [ *](.+)$/.exec(each.text);
      const path = parts?.[2]?.replace(/^\.\//, '');
      return {
        line: each.line,
        entry: path === undefined ? null : { path, sha256: parts![1]!.toLowerCase() },
      };
    });
}
