import { dirname, join } from 'node:path';
import type { Candidate, Manifest } from '../board/manifest.js';
import { nearest } from '../board/nearest.js';
import type { Profile } from '../board/profile.js';
import type { ReadProfile } from '../board/read.js';
import { notThere, usageProblem } from './exit.js';
import { type InputFile, placedProblems, readInput, statOrNull, yamlFiles } from './inputs.js';

/** A board profile with the files that it came from. */
export interface LoadedBoard extends ReadProfile {
  readonly file: InputFile;
  /** The release manifest beside it or named by `--manifest`; null when there is none. */
  readonly manifest: InputFile | null;
  /** What that manifest says. */
  readonly release: Manifest | null;
  /** The published builds beside it, read when they are looked at. */
  readonly candidates: readonly Candidate[];
}

/** Finds and reads the profile that `--board`, `--boards` and `--manifest` name. */
export async function loadBoard(
  board: string | undefined,
  boards: string | undefined,
  manifest: string | undefined,
): Promise<LoadedBoard | null> {
  if (board === undefined) {
    if (boards !== undefined || manifest !== undefined)
      throw usageProblem('--boards and --manifest go with --board, which says which board it is');
    return null;
  }
  const { path, folder } = findProfile(board, boards);
  const read = await readBoardFile(path);
  const beside = join(folder, 'manifest.json');
  const manifestPath = manifest ?? (statOrNull(beside)?.isFile() ? beside : null);
  if (manifestPath === null) return { ...read, manifest: null, release: null, candidates: [] };
  return { ...read, ...(await loadManifest(manifestPath, read.profile)) };
}

/** Reads one profile. Ends the command with 66 when it is not there, with 64 when it is wrong. */
export async function readBoardFile(path: string): Promise<ReadProfile & Pick<LoadedBoard, 'file'>> {
  const file = readInput('board profile', path);
  const { ProfileError, readProfile } = await import('../board/read.js');
  try {
    return { ...readProfile(file.text, path), file };
  } catch (error) {
    if (error instanceof ProfileError) throw usageProblem(placedProblems(error.problems));
    throw error;
  }
}

/** A manifest that was read, with the files that it names. */
interface LoadedManifest {
  readonly manifest: InputFile;
  readonly release: Manifest;
  readonly candidates: readonly Candidate[];
}

/** Reads one manifest. Ends the command with 66 when it is not there, with 64 when it is wrong. */
export async function loadManifest(path: string, profile: Profile): Promise<LoadedManifest> {
  const manifest = readInput('release manifest', path);
  const { ManifestError, readManifest } = await import('../board/manifest.js');
  const { releaseCandidates } = await import('../node/release-files.js');
  try {
    const release = readManifest(manifest.text, path, profile);
    return { manifest, release, candidates: releaseCandidates(dirname(path), release) };
  } catch (error) {
    if (error instanceof ManifestError) throw usageProblem(placedProblems(error.problems));
    throw error;
  }
}

/** The file of a profile that a path, a release folder or an id in `--boards` names. */
export function findProfile(board: string, boards: string | undefined): { path: string; folder: string } {
  const stats = statOrNull(board);
  if (stats?.isDirectory()) {
    const path = join(board, 'board.yaml');
    if (statOrNull(path) === null)
      throw notThere(`${board} is no release folder: there is no board.yaml in it`);
    return { path, folder: board };
  }
  if (stats) return { path: board, folder: join(board, '..') };
  const looksLikePath = /[\\/]|\.ya?ml$/.test(board);
  if (boards === undefined || looksLikePath)
    throw notThere(
      looksLikePath
        ? `${board}: there is no such board profile`
        : `${board}: there is no such file or folder; for the id of a board say also --boards DIR`,
    );
  const known = new Map(
    yamlFiles(boards)
      .flatMap((path) => idOf(path))
      .map(({ id, path }) => [id, path]),
  );
  const found = known.get(board);
  if (found === undefined) {
    const close = nearest(board, [...known.keys()]);
    throw notThere(`there is no board "${board}" in ${boards}${close ? `; did you mean ${close}?` : ''}`);
  }
  const path = join(boards, found);
  return { path, folder: join(path, '..') };
}

/** `tansy.yaml` and the release folder `tansy/board.yaml` are both the board `tansy`. */
function idOf(path: string): { id: string; path: string }[] {
  const parts = /^(?:([^/]+)\/board|([^/]+))\.ya?ml$/.exec(path);
  const id = parts?.[1] ?? parts?.[2];
  return id === undefined ? [] : [{ id, path }];
}
