import type { OpenTarget } from './check-target.js';
import { CommandProblem, notThere, usageProblem } from './exit.js';

/**
 * Opens what a path on the command line names. Ends the command with 66 when it is not there or cannot be read, with
 * 64 when it is no card.
 */
export async function openTarget(path: string, staging: boolean): Promise<OpenTarget> {
  const { errorText } = await import('../node/read-cause.js');
  try {
    return await openKind(path, staging);
  } catch (error) {
    if (error instanceof CommandProblem || !isSystemError(error)) throw error;
    throw notThere(`${path} cannot be read: ${errorText(error)}`);
  }
}

const isSystemError = (error: unknown): boolean => error instanceof Error && 'syscall' in error;

async function openKind(path: string, staging: boolean): Promise<OpenTarget> {
  const { statOrNull } = await import('./inputs.js');
  if (statOrNull(path) === null) throw notThere(`${path}: there is no such file, card or folder`);
  const { targetKind } = await import('../node/target-kind.js');
  const kind = targetKind(path);
  if (staging) {
    if (kind !== 'folder') throw usageProblem(`${path} is not a folder: --staging checks a folder of files`);
    return openStaging(path);
  }
  if (kind === 'folder')
    throw usageProblem(
      `${path} is a folder: mounted cards are not read yet. For files that are not on a card, did you mean --staging? For a card, ${imageAdvice(process.platform)}`,
    );
  if (kind === 'device')
    throw usageProblem(
      `${path} is a device: cards are not read directly yet. Instead, ${imageAdvice(process.platform)}`,
    );
  if (kind === 'other') throw usageProblem(`${path} is neither a file nor a card`);
  return openImageTarget(path);
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

/** How to make an image of a card on this system. */
function imageAdvice(platform: NodeJS.Platform): string {
  if (platform === 'win32')
    return 'make an image of it with a program that reads a whole card into a file, and check that file';
  const command =
    platform === 'darwin'
      ? 'sudo dd if=/dev/rdiskN of=card.img bs=1m (N as in: diskutil list external)'
      : 'sudo dd if=/dev/sdX of=card.img bs=1M (X as in: lsblk)';
  return `make an image of it and check that: ${command}`;
}
