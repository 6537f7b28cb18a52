import type { Medium } from '../core/collect.js';
import { Absent, Unseen } from '../facts/fact.js';
import type { OpenCard } from './card-target.js';
import { DeviceSource } from './device-source.js';
import { flushFiles } from './flush-files.js';
import { type DriverHabits, MountedFolder } from './mounted-tree.js';
import { errorCode, errorText } from './read-cause.js';
import type { MountedVolume } from './systems/system.js';

/** A mounted volume, with the card behind it where that may be read. Throws the system's error when it cannot be listed. */
export function openFolder(path: string, volume: MountedVolume, platform = process.platform): OpenCard {
  const behind = openBehind(volume);
  const close = (): void => {
    if (behind instanceof DeviceSource) behind.close();
  };
  const notShown = behind instanceof Unseen ? behind : onlyFiles;
  let tree: MountedFolder;
  try {
    tree = MountedFolder.open(volume.root, habitsOf(volume.driver, platform), notShown);
  } catch (error) {
    close();
    throw error;
  }
  const medium: Medium | Unseen =
    behind instanceof Unseen ? behind : { ...mediumOf(behind, volume), ...mountedMedium(volume, tree) };
  const { card, mediumBytes } = volume;
  return {
    target: {
      kind: 'folder',
      path,
      view: 'cached',
      bytes: typeof mediumBytes === 'number' ? mediumBytes : null,
      container: 'none',
      containerProblems: [],
      ...(card ? { card } : {}),
      tree,
      told: volume,
      behind: medium,
      changed: () => tree.changed() || (behind instanceof DeviceSource && behind.changed()),
    },
    close,
  };
}

/** Drivers that come with a system show more of a FAT volume than others. */
function habitsOf(driver: string, platform: NodeJS.Platform): DriverHabits {
  const own = {
    linux: ['vfat', 'msdos', 'exfat'],
    win32: ['FAT', 'FAT32', 'exFAT'],
    darwin: ['msdos', 'exfat'],
  };
  const isOwn = (own[platform as keyof typeof own] ?? []).includes(driver);
  return {
    opensShortNames: isOwn,
    showsReadOnly: isOwn && platform !== 'darwin',
    takesNamesApart: platform === 'darwin',
  };
}

/** What stands for all that only the card itself shows. */
export const onlyFiles = new Unseen(
  'not-visible',
  'a mounted folder shows files, not how they are stored on the card',
);

/** The card that holds a mounted volume, open for reading, or why it is not. */
function openBehind({ card, mediumBytes: bytes, sectorBytes }: MountedVolume): DeviceSource | Unseen {
  if (!card || typeof bytes !== 'number' || typeof sectorBytes !== 'number') return onlyFiles;
  try {
    return DeviceSource.open(card, { bytes, sectorBytes });
  } catch (error) {
    const mayNot = ['EACCES', 'EPERM'].includes(errorCode(error));
    return mayNot
      ? new Unseen(
          'no-permission',
          `${onlyFiles.text}; the card itself, ${card}, may be read by an administrator only`,
        )
      : new Unseen(
          'not-visible',
          `${onlyFiles.text}; the card itself, ${card}, cannot be read: ${errorText(error)}`,
        );
  }
}

export const mediumOf = (
  source: DeviceSource,
  { sectorBytes }: Pick<MountedVolume, 'sectorBytes'>,
): Medium => ({
  source,
  ...(typeof sectorBytes === 'number' ? { sectorBytes } : {}),
});

/** What a volume that is mounted means for reading the card behind it. */
export function mountedMedium(
  volume: MountedVolume,
  tree: MountedFolder,
): Pick<Medium, 'writableMount' | 'shown'> {
  const startByte = volume.partitionIndex instanceof Absent ? 0 : volume.partitionStartByte;
  return {
    ...(volume.writable === false
      ? {}
      : { writableMount: { flush: (folders) => flushFiles(volume.root, folders) } }),
    ...(typeof startByte === 'number' ? { shown: { tree, startByte } } : {}),
  };
}
