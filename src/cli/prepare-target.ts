import { realpathSync } from 'node:fs';
import { resolve } from 'node:path';
import { cardPath, targetKind } from '../node/target-kind.js';
import { writeObstacle } from '../node/write-new-file.js';
import type { PreparationReport } from '../report/preparation.js';
import { CommandProblem, exitCodes, notThere, usageProblem } from './exit.js';
import { statOrNull } from './inputs.js';

/**
 * What `--to` names: an image file to write, or the folder of a card. Ends the command when it is neither: nothing is
 * ever written to a device.
 * @param inputs files that are read, which must not be written over
 */
export function preparationTarget(
  to: string,
  force: boolean,
  inputs: readonly string[],
): PreparationReport['target'] {
  const path = cardPath(to);
  if (isDeviceName(path)) throw noDevice(path);
  if (statOrNull(path) === null) {
    if (/[\\/]$/.test(path)) throw notThere(`${path}: there is no such folder or card`);
  } else {
    const kind = targetKind(path);
    if (kind === 'folder') return { path, kind: 'folder' };
    if (kind !== 'image') throw noDevice(path);
    const real = realpathSync(path);
    if (inputs.some((input) => statOrNull(input) !== null && realpathSync(input) === real))
      throw usageProblem(
        `${path} is one of the files that the card is made from: give the image another name`,
      );
  }
  if (/\.gz$/i.test(path))
    throw usageProblem(`${path}: the image is not packed; give it a name that ends with .img`);
  const obstacle = writeObstacle(path, force);
  if (obstacle !== null) throw new CommandProblem(exitCodes.notWritten, obstacle);
  return { path, kind: 'image' };
}

/** Also of a card that is not plugged in: a file in place of its name would be of no use to anybody. */
const isDeviceName = (path: string): boolean =>
  process.platform === 'win32' ? /^[\\/]{2}[.?][\\/]/.test(path) : resolve(path).startsWith('/dev/');

function noDevice(path: string): CommandProblem {
  const how =
    process.platform === 'win32'
      ? 'a program that writes images to cards copies it'
      : process.platform === 'darwin'
        ? 'then: sudo dd if=card.img of=/dev/rdiskN bs=4m (N as in: diskutil list external)'
        : 'then: sudo dd if=card.img of=/dev/sdX bs=4M conv=fsync (X as in: lsblk)';
  return usageProblem(
    `${path} is no file and no folder, and flashworthy never writes to a device. Make an image, --to card.img, and copy that onto the card; ${how}. Or name the folder or drive letter under which the card is mounted`,
  );
}
