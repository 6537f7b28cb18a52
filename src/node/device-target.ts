import type { Medium } from '../core/collect.js';
import { Unseen } from '../facts/fact.js';
import type { OpenCard } from './card-target.js';
import { DeviceSource } from './device-source.js';
import { mediumOf, mountedMedium, onlyFiles } from './folder-target.js';
import { MountedFolder, unknownDriver } from './mounted-tree.js';
import type { CardSystem, DeviceDetails } from './systems/system.js';

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
        container: 'none',
        containerProblems: [],
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
  return { tree, ...mountedMedium(volume, tree) };
}

const manyMounts = new Unseen(
  'not-visible',
  'volumes of this card are mounted, and the computer may hold what is not on the card yet',
  'eject the card, put it back, and check it again',
);
