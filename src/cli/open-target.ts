import type { TargetKind } from '../node/target-kind.js';
import type { OpenTarget } from './check-target.js';
import { CommandProblem, notThere, usageProblem } from './exit.js';

/**
 * Opens what a path on the command line names. Ends the command with 66 when it is not there or cannot be read, with
 * 64 when it is no card.
 * @param line the command line about another card, as it is typed
 */
export async function openTarget(
  path: string,
  staging: boolean,
  line: (card: string) => string,
): Promise<OpenTarget> {
  const { errorText } = await import('../node/read-cause.js');
  try {
    return await openKind(path, staging, line);
  } catch (error) {
    if (error instanceof CommandProblem || !isSystemError(error)) throw error;
    throw notThere(`${path} cannot be read: ${errorText(error)}`);
  }
}

const isSystemError = (error: unknown): boolean => error instanceof Error && 'syscall' in error;

async function openKind(path: string, staging: boolean, line: (card: string) => string): Promise<OpenTarget> {
  const kind = await kindAt(path);
  if (kind === null) throw notThere(`${path}: there is no such file, card or folder`);
  if (staging) {
    if (kind !== 'folder') throw usageProblem(`${path} is not a folder: --staging checks a folder of files`);
    return openStaging(path);
  }
  if (kind === 'other') throw usageProblem(`${path} is neither a file nor a card`);
  if (kind === 'image') return openImageTarget(path);
  const { cardSystem } = await import('../node/systems/index.js');
  const system = await cardSystem();
  if (kind === 'device') return (await import('./open-device.js')).openCardDevice(path, system, line);
  return (await import('./open-folder.js')).openMounted(path, system, line);
}

async function kindAt(path: string): Promise<TargetKind | null> {
  const { targetKind } = await import('../node/target-kind.js');
  const { errorCode } = await import('../node/read-cause.js');
  try {
    return targetKind(path);
  } catch (error) {
    if (['ENOENT', 'ENOTDIR'].includes(errorCode(error))) return null;
    throw error;
  }
}

async function openStaging(path: string): Promise<OpenTarget> {
  const { stagingTarget } = await import('../node/card-target.js');
  return { target: stagingTarget(path), close: () => {} };
}

async function openImageTarget(path: string): Promise<OpenTarget> {
  const { imageTarget } = await import('../node/card-target.js');
  const { openImage } = await import('../node/open-image.js');
  const { notACard } = await import('./not-a-card.js');
  const { progressBar } = await import('./progress.js');
  const bar = progressBar('Unpacking');
  try {
    const opened = await openImage(path, bar.step);
    // A packed image that is broken is a matter for the report: nothing in it can be told apart.
    const reason = opened.crcHeld === false ? null : notACard(opened.source, path);
    if (reason !== null) {
      opened.close();
      throw usageProblem(reason);
    }
    return { target: imageTarget(path, opened), close: () => opened.close() };
  } finally {
    bar.end();
  }
}
