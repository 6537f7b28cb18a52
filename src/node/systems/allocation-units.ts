import { mostFat32Clusters, widthByCount } from '../../card/fat/width.js';
import { Unseen } from '../../facts/fact.js';
import type { FileSystemName } from '../../facts/schema.js';
import type { MountedVolume } from './system.js';

/** Allocation units of a mounted volume as a system call tells them: size of one in bytes, and how many there are. */
export interface Units {
  readonly bytes: number;
  readonly count: number;
}

/** What a system says of a volume's file system. */
export interface SaidOfVolume {
  /** The name of the system, for texts: `macOS`. */
  readonly system: string;
  /** What its word for the file system can mean; empty for a word that is not known. */
  readonly candidates: readonly FileSystemName[];
  /** Its word for the file system. */
  readonly word: string;
  /** Size of an allocation unit as its program prints it; undefined when it prints none. */
  readonly unitBytes: number | undefined;
  /** The same and their number, by the system call. */
  readonly units: Units | null;
}

type ClusterFacts = Pick<MountedVolume, 'fileSystem' | 'clusterBytes' | 'clusterCount'>;

/**
 * File system and clusters of a volume, each only as far as all that was said agrees: a size that two sources tell
 * differently, or a name that the number of clusters contradicts, is unseen.
 */
export function clusterFacts(said: SaidOfVolume): ClusterFacts {
  const { system, candidates, word, units } = said;
  const isFat = candidates.some((name) => name.startsWith('FAT'));
  if (!isFat && !candidates.includes('exFAT')) {
    const other = unseen('clusters are told of FAT and exFAT only');
    return { fileSystem: oneOf(said), clusterBytes: other, clusterCount: other };
  }
  const clusterBytes = sizeOf(said, isFat);
  const clusterCount =
    clusterBytes instanceof Unseen || units === null || units.bytes !== clusterBytes || !isCount(units.count)
      ? unseen(`${system} does not tell the number of clusters`)
      : units.count;
  if (!isFat || clusterCount instanceof Unseen)
    return { fileSystem: oneOf(said), clusterBytes, clusterCount };
  const width = widthByCount(clusterCount);
  if (candidates.includes(width)) return { fileSystem: width, clusterBytes, clusterCount };
  return {
    fileSystem: unseen(`${system} says ${word}, and ${clusterCount} clusters are those of a ${width} volume`),
    clusterBytes,
    clusterCount,
  };
}

const unseen = (text: string): Unseen => new Unseen('not-visible', text);

function oneOf({ system, candidates, word }: SaidOfVolume): FileSystemName | Unseen {
  if (candidates.length === 1) return candidates[0]!;
  if (candidates.length === 0)
    return unseen(
      word === '' ? `${system} does not name the file system` : `${system} calls the file system ${word}`,
    );
  return unseen(`${system} says ${word}, which may be ${candidates.join(' or ')}`);
}

function sizeOf({ system, unitBytes, units }: SaidOfVolume, isFat: boolean): number | Unseen {
  const bytes = unitBytes ?? units?.bytes;
  if (bytes === undefined) return unseen(`${system} does not tell the cluster size`);
  if (units !== null && units.bytes !== bytes)
    return unseen(`${system} tells two cluster sizes, ${bytes} and ${units.bytes} bytes`);
  // FAT: 128 sectors of 4096 bytes are the most that a boot sector can say; exFAT specification, 3.1.15: 32 MiB.
  const most = isFat ? 128 * 4096 : 32 * 1024 * 1024;
  if (bytes < 512 || bytes > most || !Number.isInteger(Math.log2(bytes)))
    return unseen(`${system} tells a cluster size of ${bytes} bytes, which no such volume has`);
  return bytes;
}

const isCount = (count: number): boolean =>
  Number.isSafeInteger(count) && count > 0 && count <= mostFat32Clusters;
