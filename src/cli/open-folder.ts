import { statSync } from 'node:fs';
import { openFolder } from '../node/folder-target.js';
import type { CardSystem, MountedVolume } from '../node/systems/system.js';
import type { OpenTarget } from './check-target.js';
import { usageProblem } from './exit.js';

/** Volumes of the computer's own, which are no cards. */
const inMemory = new Set([
  'tmpfs',
  'ramfs',
  'devtmpfs',
  'proc',
  'sysfs',
  'overlay',
  'cgroup',
  'cgroup2',
  'devpts',
]);

/**
 * Opens a mounted card by the folder under which it stands. Ends the command with 64 for any other folder.
 * @param line the command line about another card, as it is typed
 */
export function openMounted(path: string, system: CardSystem, line: (card: string) => string): OpenTarget {
  const volume = system.volumeOf(path);
  if (volume === null)
    throw usageProblem(
      `${path} is a folder, and this computer does not tell on which card it lies. For files that are not on a card, did you mean --staging?`,
    );
  const { root, part, driver } = volume;
  if (!isSame(path, root)) throw usageProblem(insideText(path, root, line));
  if (part) throw usageProblem(partText(path, part, line));
  if (inMemory.has(driver) || isOfTheSystem(root))
    throw usageProblem(
      `${path} is no card: it is a part of the computer itself (${driver}). For files that are not on a card, did you mean --staging?`,
    );
  return openFolder(path, volume);
}

const insideText = (path: string, root: string, line: (card: string) => string): string =>
  `${path} is a folder inside a volume, not a card. For files that are not on a card, did you mean --staging?${
    isOfTheSystem(root) ? '' : ` The volume begins at ${root}; if that is the card, say: ${line(root)}`
  }`;

const partText = (
  path: string,
  { folder, wholeAt }: NonNullable<MountedVolume['part']>,
  line: (card: string) => string,
): string =>
  `${path} shows only the folder ${folder} of a volume, not a whole card. ${
    wholeAt === null
      ? 'For files that are not on a card, did you mean --staging?'
      : `For the whole, say: ${line(wholeAt)}`
  }`;

/** Where systems keep themselves: advice to format a card must never be given about those. */
const ownPlaces = ['/boot', '/efi', '/home', '/usr', '/var', '/opt', '/etc', '/System', '/private'];

const isOfTheSystem = (root: string): boolean =>
  root === '/' ||
  ownPlaces.some(
    (place) => root === place || (place !== '/home' && place !== '/var' && root.startsWith(`${place}/`)),
  ) ||
  root.toUpperCase().startsWith((process.env.SystemDrive ?? '\\').toUpperCase());

function isSame(path: string, root: string): boolean {
  try {
    const [one, other] = [statSync(path, { bigint: true }), statSync(root, { bigint: true })];
    return one.dev === other.dev && one.ino === other.ino;
  } catch {
    return false;
  }
}
