import type { ResolvedProfile } from '../board/profile.js';
import { takingUnknown } from './collect-partitions.js';
import { Absent, Unseen } from './fact.js';
import type { ToldVolume } from './told-volume.js';

/** Whether the volume that is mounted is the one that the loader takes. */
export type TakenMounted =
  | { readonly taken: true }
  /** The loader finds nothing where it looks, for this reason. */
  | { readonly taken: false; readonly reason: string };

type Asked = Pick<ToldVolume, 'scheme' | 'partitionIndex' | 'bootFlag' | 'otherPartitions' | 'fileSystem'>;

const taken: TakenMounted = { taken: true };
const nothing = (reason: string): TakenMounted => ({ taken: false, reason });

/**
 * Decides from what the system tells of the partition table whether the mounted volume is the one that the loader
 * takes, by the same habits as `takenPartition`. Unseen when the loader may take another volume than this one: what
 * lies on that one is not known.
 */
export function takenByTold(told: Asked, board: ResolvedProfile | null): TakenMounted | Unseen {
  const unknown = takingUnknown(board);
  if (board === null || unknown !== null)
    return unknown ?? new Unseen('profile-silent', 'no board was named');
  const { takesPartition, partitioning } = board.loader;
  const { scheme, partitionIndex: index } = told;
  if (scheme instanceof Unseen) return scheme;
  if (index instanceof Unseen) return index;
  const isWhole = scheme === 'none' && index instanceof Absent;
  if (takesPartition === 'whole-card')
    return isWhole
      ? taken
      : nothing('the volume lies in a partition, and this loader takes the card as a whole');
  const slot = /^slot-([1-9][0-9]{0,3})$/.exec(takesPartition ?? '')?.[1];
  const isKnown = slot !== undefined || ['first-slot', 'first-fat', 'active'].includes(takesPartition ?? '');
  if (!isKnown)
    return new Unseen(
      'profile-silent',
      'the board profile does not say which partition the boot loader takes',
      'add loader.takesPartition to the board profile',
    );
  if (isWhole) return taken;
  // A loader that reads hybrid tables goes by their older part, whose numbers the system does not tell.
  const mayBeHybrid =
    scheme === 'hybrid' ||
    (scheme === 'gpt' && Array.isArray(partitioning) && partitioning.includes('hybrid'));
  if (typeof index !== 'number' || scheme instanceof Absent || mayBeHybrid)
    return new Unseen(
      'not-visible',
      'this computer does not tell which entry of the partition table this is',
    );
  const place: Place = { index, isOnly: told.otherPartitions === 0, isGpt: scheme === 'gpt' };
  if (takesPartition === 'first-fat') return firstFat(place, told, board);
  if (takesPartition === 'active') return active(place, told);
  if (index > 4 && !place.isGpt && board.loader.logicalPartitions === false)
    return place.isOnly
      ? nothing('the volume lies in a logical partition, which the boot loader does not find')
      : another(place, 'no logical partition');
  const wanted = slot === undefined ? 1 : Number(slot);
  if (index === wanted) return taken;
  // In a GPT "the first slot" is the first entry that is used, wherever it stands.
  if (place.isOnly)
    return slot === undefined && place.isGpt
      ? taken
      : nothing(`slot ${wanted} of the partition table is empty`);
  return another(place, `number ${wanted}`);
}

/** Where the mounted volume stands in the partition table. */
interface Place {
  readonly index: number;
  readonly isOnly: boolean;
  readonly isGpt: boolean;
}

const another = ({ index }: Place, what: string): Unseen =>
  new Unseen(
    'not-visible',
    `this is partition ${index} of the card, there are others, and the boot loader takes ${what}`,
    'check the card itself, or make one partition on it and nothing else',
  );

function firstFat(place: Place, { fileSystem }: Asked, board: ResolvedProfile): TakenMounted | Unseen {
  if (fileSystem instanceof Unseen) return fileSystem;
  const { fileSystems, logicalPartitions } = board.loader;
  const name = typeof fileSystem === 'string' ? fileSystem : '';
  const reads =
    name.startsWith('FAT') ||
    (name === 'exFAT' && Array.isArray(fileSystems) && fileSystems.includes('exFAT'));
  const isFound = reads && !(place.index > 4 && !place.isGpt && logicalPartitions === false);
  if (place.isOnly) return isFound ? taken : nothing('no partition holds a FAT file system');
  return isFound && place.index === 1 ? taken : another(place, 'the first one with FAT');
}

function active(place: Place, { bootFlag }: Asked): TakenMounted | Unseen {
  if (place.isGpt) return nothing('a GPT has no boot flag, so no partition is active');
  if (bootFlag instanceof Unseen) return bootFlag;
  const isActive = bootFlag === 0x80 && place.index <= 4;
  if (isActive && (place.isOnly || place.index === 1)) return taken;
  return place.isOnly
    ? nothing('no partition is marked active')
    : another(place, 'the one that is marked active');
}
