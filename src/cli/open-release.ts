import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Manifest } from '../board/manifest.js';
import type { Profile } from '../board/profile.js';
import { checksumsName, manifestName, profileName } from '../board/seal.js';
import { limits } from '../bytes/limits.js';
import { type CheckedRelease, checkRelease } from '../core/release.js';
import { nodeDigests } from '../node/digests.js';
import { errorText } from '../node/read-cause.js';
import { readStagingFolder, type SkippedEntry, type StagingFolder } from '../node/staging-folder.js';
import { StagingTree } from '../node/staging-tree.js';
import type { Rule } from '../rules/rule.js';
import { compiledWaivers } from './check-request.js';
import { CommandProblem, notThere, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { type InputFile, statOrNull } from './inputs.js';
import { loadManifest, readBoardFile } from './load-board.js';
import { loadProcessors, loadRules } from './load-rules.js';
import type { Surroundings } from './surroundings.js';

/** A release folder that can be checked, more than once while it is being sealed. */
export interface OpenRelease {
  /** Reads the folder and checks it; `isSealing`: without what is about to be written. */
  check(isSealing: boolean): Promise<CheckedRelease>;
  readonly rules: readonly Rule[];
}

/** Finds a release folder with its profile, and reads what the command line says about it. */
export async function openRelease(
  path: string,
  given: Given,
  surroundings: Surroundings,
): Promise<OpenRelease> {
  const stats = statOrNull(path);
  if (stats === null) throw notThere(`${path}: there is no such folder`);
  if (!stats.isDirectory()) throw usageProblem(`${path} is not a folder: name the folder of a release`);
  const place = join(path, profileName);
  if (statOrNull(place) === null)
    throw notThere(`${path} is no release folder: there is no ${profileName} in it`);
  const board = await readBoardFile(place);
  const { profile, file } = board;
  const stated = given.text('release') ?? (given.flag('seal') ? await releaseBefore(path, profile) : null);
  const options = {
    ruleSet: await loadRules(given.text('rules'), surroundings),
    waivers: await compiledWaivers(board),
    useWaivers: !given.flag('no-waivers'),
    version: surroundings.version,
    allFacts: given.text('facts') === 'all',
  };
  const processors = loadProcessors(surroundings);
  return {
    rules: options.ruleSet.rules,
    check: async (isSealing) => {
      const manifest = isSealing ? null : await manifestOf(path, profile);
      const folder = folderOf(path);
      const inputs = [file, ...(manifest === null ? [] : [manifest.file])];
      return checkRelease(
        {
          path,
          tree: new StagingTree({ ...folder, skipped: folder.skipped.filter((one) => !isNoFile(one)) }),
          notFiles: folder.skipped.filter(isNoFile).map(noFileText),
          profile,
          manifest: isSealing ? 'sealing' : (manifest?.manifest ?? null),
          checksums: isSealing ? null : checksumsOf(path),
          stated,
          digests: nodeDigests,
          processors,
        },
        { ...options, inputs: inputs.map(({ role, path: at, sha256 }) => ({ role, path: at, sha256 })) },
      );
    },
  };
}

const isNoFile = ({ why }: SkippedEntry): boolean => why === 'link' || why === 'not-a-file';
const noFileText = ({ path, why }: SkippedEntry): string =>
  why === 'link' ? `${path} is a link` : `${path} is neither a file nor a folder`;

function folderOf(path: string): StagingFolder {
  try {
    return readStagingFolder(path);
  } catch (error) {
    throw notThere(`${path} cannot be read: ${errorText(error)}`);
  }
}

async function manifestOf(
  folder: string,
  profile: Profile,
): Promise<{ file: InputFile; manifest: Manifest } | null> {
  const path = join(folder, manifestName);
  if (!statOrNull(path)?.isFile()) return null;
  const { manifest: file, release: manifest } = await loadManifest(path, profile);
  return { file, manifest };
}

/** The release of the manifest that is about to be replaced. */
async function releaseBefore(folder: string, profile: Profile): Promise<string> {
  const ask = 'say which release it is: --release RELEASE';
  try {
    const before = await manifestOf(folder, profile);
    if (before !== null) return before.manifest.release;
  } catch (error) {
    if (!(error instanceof CommandProblem)) throw error;
    throw usageProblem(`${error.message}\nThe manifest that is there cannot be used; ${ask}`);
  }
  throw usageProblem(`${folder} has no ${manifestName} yet; ${ask}`);
}

/** The text of the list of checksums; what is too long for one is no list. */
function checksumsOf(folder: string): string | null {
  const path = join(folder, checksumsName);
  const stats = statOrNull(path);
  if (!stats?.isFile()) return null;
  if (stats.size > limits.textFileBytes) return '';
  try {
    return readFileSync(path, 'utf8');
  } catch {
    // That the folder was not read whole is told by its files.
    return null;
  }
}
