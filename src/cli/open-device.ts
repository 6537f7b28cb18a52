import { openDevice } from '../node/device-target.js';
import { errorCode, errorText } from '../node/read-cause.js';
import type { CardSystem } from '../node/systems/system.js';
import type { OpenTarget } from './check-target.js';
import { notThere, usageProblem } from './exit.js';
import { asAdministrator, imageAdvice } from './rights.js';

/**
 * Opens a whole card as a block device. Ends the command with 64 for a partition, with 66 when there is no card or it
 * may not be read.
 * @param line the command line about another card, as it is typed
 */
export function openCardDevice(path: string, system: CardSystem, line: (card: string) => string): OpenTarget {
  const { platform } = process;
  const details = system.deviceOf?.(path) ?? null;
  if (details === null)
    throw usageProblem(
      `${path} is a device, and flashworthy does not know how to read it here: ${imageAdvice(platform)}`,
    );
  const { bytes, sectorBytes, isWhole, card, writableAt = [] } = details;
  if (!isWhole)
    throw usageProblem(
      `${path} is one partition of a card, from which its partition table cannot be seen: name the whole card${card ? `: ${line(card)}` : ''}`,
    );
  if (bytes === 0) throw notThere(`${path}: there is no card in this device`);
  if (typeof bytes !== 'number' || typeof sectorBytes !== 'number') {
    const missing = typeof bytes === 'number' ? sectorBytes : bytes;
    const why = typeof missing === 'number' ? 'its sectors are not known' : missing.text;
    throw notThere(`${path} cannot be read as a device (${why}): ${imageAdvice(platform)}`);
  }
  try {
    return openDevice(path, { ...details, bytes, sectorBytes }, system);
  } catch (error) {
    const code = errorCode(error);
    if (code === 'EACCES' || code === 'EPERM') {
      const folder = writableAt[0];
      const without = folder
        ? `check the folder under which the card is shown: ${line(folder)}`
        : 'open the card in the file manager and check the folder under which it is shown; flashworthy cards names it';
      throw notThere(
        `${path} may be read by an administrator only. ${asAdministrator(line(path), platform)} Without those rights, ${without}`,
      );
    }
    if (code === 'ENXIO' || code === 'ENODEV' || code === 'ENOMEDIUM')
      throw notThere(`${path}: there is no card in this device (${errorText(error)})`);
    throw error;
  }
}
