import type { Medium, Target } from '../core/collect.js';
import { Absent, Unseen } from '../facts/fact.js';
import { DeviceSource } from './device-source.js';
import { flushFiles } from './flush-files.js';
import { type DriverHabits, MountedFolder, unknownDriver } from './mounted-tree.js';
import { type OpenedTarget, openImage } from './open-image.js';
import { errorCode, errorText } from './read-cause.js';
import { readStagingFolder } from './staging-folder.js';
import { StagingTree } from './staging-tree.js';
import type { CardSystem, DeviceDetails, MountedVolume } from './systems/system.js';

/** A card image that is open, as something to check. `path` is what the report calls it. */
export const imageTarget = (path: string, opened: OpenedTarget): Target => ({
  kind: 'image',
  path,
  view: 'medium',
  bytes: opened.bytes,
  container: opened.container,
  containerProblems: opened.containerProblems,
  source: opened.source,
  changed: () => opened.changed(),
});

/** A folder of files that are not on a card yet. Throws the system's error when it cannot be listed. */
export const stagingTarget = (path: string): Target => ({
  kind: 'staging',
  path,
  view: 'cached',
  bytes: null,
  container: 'none',
  containerProblems: [],
  changed: () => false,
  tree: new StagingTree(readStagingFolder(path)),
});

/** Opens a card image, raw or packed with gzip, for `inspect`. Throws the system's error when it cannot be read. */
export async function openCard(path: string): Promise<{ target: Target; close(): void }> {
  const opened = await openImage(path);
  return { target: imageTarget(path, opened), close: () => opened.close() };
}

/** Something to check that stays open until it is closed. */
export interface OpenCard {
  readonly target: Target;
  close(): void;
}

const noContainer = { container: 'none', containerProblems: [] } as const;

/** A mounted volume, with the card behind it where that may be read. Throws the system's error when it cannot be listed. */
export function openFolder(path: string, volume: MountedVolume, platform = process.platform): OpenCard {
  const behind = openBehind(volume);
  const notShown = behind instanceof Unseen ? behind : onlyFiles;
  const tree = MountedFolder.open(volume.root, habitsOf(volume.driver, platform), notShown);
  const medium: Medium | Unseen =
    behind instanceof Unseen ? behind : { ...mediumOf(behind, volume), ...mounted(volume, tree) };
  const { card, mediumBytes } = volume;
  return {
    target: {
      kind: 'folder',
      path,
      view: 'cached',
      bytes: typeof mediumBytes === 'number' ? mediumBytes : null,
      ...noContainer,
      ...(card ? { card } : {}),
      tree,
      told: volume,
      behind: medium,
      changed: () => tree.changed() || (behind instanceof DeviceSource && behind.changed()),
    },
    close: () => {
      if (behind instanceof DeviceSource) behind.close();
    },
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
    ...unknownDriver,
    opensShortNames: isOwn && driver.toLowerCase() !== 'exfat',
    showsReadOnly: isOwn && platform !== 'darwin',
    takesNamesApart: platform === 'darwin',
  };
}

const onlyFiles = new Unseen(
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

const mediumOf = (source: DeviceSource, { sectorBytes }: Pick<MountedVolume, 'sectorBytes'>): Medium => ({
  source,
  ...(typeof sectorBytes === 'number' ? { sectorBytes } : {}),
});

/** What a volume that is mounted means for reading the card behind it. */
function mounted(volume: MountedVolume, tree: MountedFolder): Pick<Medium, 'writableMount' | 'shown'> {
  const startByte = volume.partitionIndex instanceof Absent ? 0 : volume.partitionStartByte;
  return {
    ...(volume.writable === false
      ? {}
      : { writableMount: { flush: (folders) => flushFiles(volume.root, folders) } }),
    ...(typeof startByte === 'number' ? { shown: { tree, startByte } } : {}),
  };
}

/**
 * A whole card as a block device. `details` are those of the system; size and sectors must be known. Throws the
 * system's error when the device cannot be opened.
 */
export function openDevice(
  path: string,
  details: DeviceDetails & { readonly bytes: number; readonly sectorBytes: number },
  system: Pick<CardSystem, 'volumeOf'>,
): OpenCard {
  const { bytes, sectorBytes, readFrom, writableAt = [] } = details;
  const source = DeviceSource.open(readFrom, { bytes, sectorBytes });
  try {
    // A mounted volume is written to by the computer itself, by our own wish too: then only what was read counts.
    const writes = writableAt.length > 0 ? undefined : details.writeMark;
    const before = writes?.();
    const { tree, ...mount } = underMounts(writableAt, system);
    return {
      target: {
        kind: 'device',
        path,
        view: writableAt.length > 0 ? 'cached' : 'medium',
        bytes,
        ...noContainer,
        card: details.card ?? path,
        ...mediumOf(source, details),
        ...mount,
        changed: () => writes?.() !== before || source.changed() || tree?.changed() === true,
      },
      close: () => source.close(),
    };
  } catch (error) {
    source.close();
    throw error;
  }
}

function underMounts(
  roots: readonly string[],
  system: Pick<CardSystem, 'volumeOf'>,
): Pick<Medium, 'writableMount' | 'shown'> & { readonly tree?: MountedFolder } {
  const [root, ...more] = roots;
  if (root === undefined) return {};
  const volume = more.length > 0 ? null : system.volumeOf(root);
  if (volume === null || volume.root !== root) return { writableMount: { flush: () => manyMounts } };
  const tree = MountedFolder.open(root, unknownDriver, onlyFiles);
  return { tree, ...mounted(volume, tree) };
}

const manyMounts = new Unseen(
  'not-visible',
  'volumes of this card are mounted, and the computer may hold what is not on the card yet',
  'eject the card, put it back, and check it again',
);
