import type { FileRole, Manifest, ManifestFile } from '../board/manifest.js';
import type { Profile } from '../board/profile.js';
import { matchesGlob, splitPath } from '../facts/update-file-name.js';

/** One file of a release folder, measured. */
export type MeasuredFile = Omit<ManifestFile, 'role' | 'build'>;

/** The two files by which a release is sealed, and their names in the release folder. */
export interface Seal {
  readonly manifest: { readonly name: string; readonly value: Manifest; readonly text: string };
  /** Checked by `sha256sum -c`. */
  readonly sums: { readonly name: string; readonly text: string };
}

/** Names of the files that a seal consists of; neither of them is sealed itself. */
export const sealNames = ['manifest.json', 'SHA256SUMS'] as const;

/**
 * The manifest of a release and the list of sums beside it: equal files give equal texts, in whatever order they are
 * listed, since nothing in them tells a time. The files of the seal itself are left out.
 * @param release number of the release, as its owner will be told
 */
export function sealOf(profile: Profile, release: string, files: readonly MeasuredFile[]): Seal {
  const sealed = files
    .filter(({ path }) => !sealNames.some((name) => name === path))
    .sort((a, b) => (a.path < b.path ? -1 : 1));
  const value: Manifest = {
    schema: 'flashworthy-manifest/1',
    board: { id: profile.id, revision: profile.revision },
    release,
    files: sealed.map(({ path, bytes, crc32, sha256 }) => ({
      path,
      ...roleOf(profile, path),
      bytes,
      crc32,
      sha256,
    })),
  };
  const [manifestName, sumsName] = sealNames;
  return {
    manifest: { name: manifestName, value, text: `${JSON.stringify(value, null, 2)}\n` },
    sums: { name: sumsName, text: sealed.map(({ path, sha256 }) => sumLine(path, sha256)).join('') },
  };
}

/** What a file is for, by its name alone: what the profile does not name is a document. */
export function roleOf(profile: Profile, path: string): { role: FileRole; build?: string } {
  if (path === 'board.yaml') return { role: 'profile' };
  const builds = profile.builds === undefined || profile.builds === 'any' ? [] : profile.builds;
  const build = builds.find(({ files }) => files.includes(path));
  if (build) return { role: 'build', build: build.id };
  const companions =
    profile.companions === undefined || profile.companions === 'any' ? [] : profile.companions;
  const { folder, name } = splitPath(path);
  const isCompanion = companions.some(({ path: wanted, glob }) => {
    if (wanted !== undefined) return wanted === path;
    if (glob === undefined) return false;
    const pattern = splitPath(glob);
    return pattern.folder === folder && matchesGlob(name, pattern.name, 'exact');
  });
  return { role: isCompanion ? 'companion' : 'document' };
}

/**
 * One line as coreutils writes it (`sha256sum`, manual section "cksum output modes"): sum, two spaces, name. A name
 * with a backslash, a line feed or a carriage return is escaped, and a backslash in front of the line says so.
 */
function sumLine(path: string, sha256: string): string {
  const escaped = path.replaceAll('\\', '\\\\').replaceAll('\n', '\\n').replaceAll('\r', '\\r');
  return `${escaped === path ? '' : '\\'}${sha256}  ${escaped}\n`;
}
