import { type BuildMachine, machinesOf } from '../board/build-machines.js';
import type { Build, Profile, ResolvedProfile } from '../board/profile.js';
import { resolveProfile } from '../board/resolve.js';
import { checksumsName, manifestName, type Part, profileName } from '../board/seal.js';
import { joined } from '../board/validate.js';
import { litterOf } from '../card/litter.js';
import { isCompanion } from './collect-companions.js';
import type { FileTree } from './file-tree.js';
import { bytesOf, type ReleaseFile } from './release-files.js';
import { strayOf } from './release-strays.js';
import { foldCase, splitPath } from './update-file-name.js';

/** A file that the profile declares for a build. */
export interface DeclaredFile {
  readonly build: Build;
  /** Place of the build in the profile. */
  readonly index: number;
  readonly path: string;
  /** Null when it is not there. */
  readonly file: ReleaseFile | null;
  /** The first file of a build is what a boot loader is given; others go with it. */
  readonly isFirst: boolean;
}

/** What each file of a release folder is. */
export interface ReleaseParts {
  /** Null when the profile lists none; `whyNone` then says how. */
  readonly builds: readonly Build[] | null;
  readonly whyNone: string;
  /** For each build the machines that it is made for; null where these are too many. */
  readonly machines: readonly (readonly BuildMachine[] | null)[];
  readonly declared: readonly DeclaredFile[];
  readonly missing: readonly (DeclaredFile & { readonly instead: string | null })[];
  /** `a and b hold the same bytes` */
  readonly twins: readonly string[];
  readonly strays: readonly { readonly path: string; readonly what: string }[];
  readonly litter: readonly string[];
  /** What the manifest has to call a file. */
  partOf(path: string): Part;
}

/** Sorts the files of a release folder by what the profile makes of them. */
export function releaseParts(profile: Profile, tree: FileTree, files: readonly ReleaseFile[]): ReleaseParts {
  const builds = profile.builds === undefined || profile.builds === 'any' ? null : profile.builds;
  const byPath = new Map(files.map((file) => [file.path, file]));
  const declared = (builds ?? []).flatMap((build, index) =>
    build.files.map(
      (path, at): DeclaredFile => ({
        build,
        index,
        path,
        file: byPath.get(path) ?? null,
        isFirst: at === 0,
      }),
    ),
  );
  const buildOf = new Map(declared.map(({ path, build }) => [path, build.id]));
  const machines = (builds ?? []).map((_, index) => machinesOf(profile, builds ?? [], index));
  const boards = boardsOf(profile, machines);
  const companions = new Set(
    files.flatMap(({ path, entry }) =>
      boards.some((board) => companionsOf(board).some((one) => isCompanion(entry, one, board))) ? [path] : [],
    ),
  );
  const partOf = (path: string): Part => {
    const build = buildOf.get(path);
    if (build !== undefined) return { role: 'build', build };
    if (path === profileName) return { role: 'profile' };
    return { role: companions.has(path) ? 'companion' : 'document' };
  };

  const others = files.filter(
    ({ path }) => partOf(path).role === 'document' && path !== manifestName && path !== checksumsName,
  );
  const twinGroups = twinsOf([...declared.flatMap(({ file }) => (file ? [file] : [])), ...others], buildOf);
  const inTwins = new Set(twinGroups.flat());
  const found = others
    .filter(({ path }) => !inTwins.has(path))
    .flatMap(({ path, entry }) => {
      const stray = strayOf(entry, bytesOf(tree, entry), profile, boards, builds ?? []);
      return stray ? [{ path, ...stray }] : [];
    });
  const missing = declared
    .filter(({ file }) => file === null)
    .map((one) => ({ ...one, instead: insteadOf(one, found, others) }));
  const explained = new Set(missing.map(({ instead }) => instead));
  return {
    builds,
    whyNone:
      profile.builds === 'any'
        ? 'the profile accepts every build, so it does not say which files make a release'
        : 'the profile does not say which builds exist',
    machines,
    declared,
    missing,
    twins: twinGroups.map((paths) => `${joined(paths, 'and')} hold the same bytes`),
    strays: found.filter(({ path }) => !explained.has(path)).map(({ path, what }) => ({ path, what })),
    litter: files.flatMap(({ path }) =>
      path.split('/').some((name) => litterOf(name) !== 'none') ? [path] : [],
    ),
    partOf,
  };
}

/** The profile for every machine that it tells apart; where these are too many, for none in particular. */
function boardsOf(profile: Profile, machines: ReleaseParts['machines']): readonly ResolvedProfile[] {
  const boards = machines.flatMap((some) => (some ?? []).map(({ resolved }) => resolved));
  return boards.length > 0 ? boards : [resolveProfile(profile, null)];
}

const companionsOf = ({ companions }: ResolvedProfile) =>
  companions === undefined || companions === 'any' ? [] : companions;

/** Paths with equal bytes, of which one at least is a build; not two builds of one id. */
function twinsOf(files: readonly ReleaseFile[], buildOf: ReadonlyMap<string, string>): string[][] {
  const groups = new Map<string, string[]>();
  for (const { path, sha256 } of files) {
    const group = groups.get(sha256) ?? [];
    if (!group.includes(path)) groups.set(sha256, [...group, path]);
  }
  return [...groups.values()].filter((paths) => paths.length > 1 && paths.some((path) => buildOf.has(path)));
}

/** The file that seems to be a missing build: by its marker, or by a name that differs in case or folder alone. */
function insteadOf(
  { build, path }: DeclaredFile,
  strays: readonly { readonly path: string; readonly markers: readonly string[] }[],
  others: readonly ReleaseFile[],
): string | null {
  const marked = strays.filter(({ markers }) => markers.length === 1 && markers[0] === build.id);
  const name = foldCase(splitPath(path).name);
  const named = ({ path: other }: { readonly path: string }): boolean =>
    foldCase(splitPath(other).name) === name;
  // Two files with one marker: nobody can tell which of them was meant, unless its name does.
  const found = marked.find(named) ?? (marked.length === 1 ? marked[0] : undefined) ?? others.find(named);
  return found?.path ?? null;
}
