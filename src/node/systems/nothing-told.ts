import { Unseen } from '../../facts/fact.js';
import type { MountedVolume } from './system.js';

/** A mounted volume of which the system told nothing, with the reason in every fact. */
export function nothingTold(root: string, device: string | null, reason: string): MountedVolume {
  const why = new Unseen('not-visible', reason);
  return {
    root,
    device,
    driver: '',
    writable: why,
    fileSystem: why,
    clusterBytes: why,
    clusterCount: why,
    volumeBytes: why,
    label: why,
    scheme: why,
    partitionIndex: why,
    partitionType: why,
    partitionStartByte: why,
    partitionBytes: why,
    otherPartitions: why,
    mediumBytes: why,
    sectorBytes: why,
  };
}
