import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { type Manifest, ManifestError, readManifest } from '../board/manifest.js';
import { checksumsName, checksumsText, manifestName, manifestText, type SealedFile } from '../board/seal.js';
import { limits } from '../bytes/limits.js';
import { sha256Hex } from '../node/digests.js';
import { WriteProblem, writeNewFile, writeObstacle } from '../node/write-new-file.js';
import { CommandProblem, exitCodes, usageProblem } from './exit.js';
import { placedProblems, statOrNull } from './inputs.js';

/**
 * Writes manifest and list of checksums into a release folder, each whole or not at all, and gives a note of what was
 * done. What is there already with the same content is left alone; other content only with `force`.
 */
export function writeSeal(
  folder: string,
  manifest: Manifest,
  files: readonly SealedFile[],
  force: boolean,
): string {
  const text = manifestText(manifest);
  try {
    readManifest(text, manifestName);
  } catch (error) {
    // Nothing that could not be read again is ever written.
    if (!(error instanceof ManifestError)) throw error;
    throw usageProblem(`${folder} cannot be sealed:\n${placedProblems(error.problems)}`);
  }
  const others = files.filter(({ path }) => path !== manifestName);
  const wanted = [
    { name: manifestName, text },
    {
      name: checksumsName,
      text: checksumsText([...others, { path: manifestName, sha256: sha256Hex(text) }]),
    },
  ];
  const changed = wanted.filter((one) => !holds(join(folder, one.name), one.text));
  if (changed.length === 0) return `${folder} was sealed like this before: nothing had to be written`;
  for (const { name } of changed) {
    const path = join(folder, name);
    const obstacle = writeObstacle(path, force);
    if (obstacle !== null)
      throw new CommandProblem(
        exitCodes.notWritten,
        statOrNull(path)?.isFile() && !force
          ? `${path} is there already and says something else; --force writes it anew`
          : obstacle,
      );
  }
  try {
    for (const one of changed) writeNewFile(join(folder, one.name), one.text, force);
  } catch (error) {
    if (!(error instanceof WriteProblem)) throw error;
    throw new CommandProblem(exitCodes.notWritten, error.message);
  }
  return `${changed.map(({ name }) => join(folder, name)).join(' and ')} written for release ${manifest.release}`;
}

function holds(path: string, text: string): boolean {
  const stats = statOrNull(path);
  if (!stats?.isFile() || stats.size > limits.textFileBytes) return false;
  try {
    return readFileSync(path, 'utf8') === text;
  } catch {
    return false;
  }
}
