import type { ResolvedProfile, Said } from '../board/profile.js';
import { sizeText } from '../bytes/size-text.js';
import type { FatName } from '../card/fat/width.js';
import type { CardLayout, CardWish } from '../card/writer/layout.js';
import type { NewPartition } from '../card/writer/sectors.js';
import { largestOfClass } from '../facts/collect-media.js';

/** What the owner says of the card to be made. Sizes in bytes. */
export interface CardOrder {
  readonly size: number | null;
  readonly realCardBytes: number | null;
}

/** The card that a profile asks for, or why flashworthy does not make one. */
export type CardDemand =
  | { readonly wish: CardWish; readonly unmade?: undefined }
  | { readonly unmade: string; readonly isOpen: boolean };

const widths: readonly FatName[] = ['FAT12', 'FAT16', 'FAT32'];
const slots = 4;

/** What a loader wants of its card, as far as it concerns whoever formats one. */
export function cardDemand(profile: ResolvedProfile, order: CardOrder): CardDemand {
  const { loader, open } = profile;
  const undecided = Object.keys(open).find((key) => key === 'loader' || key.startsWith('loader.'));
  if (undecided !== undefined) {
    const { text, settle } = open[undecided]!;
    return { unmade: `${text}: ${settle}`, isOpen: true };
  }
  for (const key of ['partitioning', 'takesPartition', 'fileSystems'] as const)
    if (loader[key] === undefined)
      return {
        unmade: `The board profile does not say what card its boot loader reads (loader.${key}). Ask its author.`,
        isOpen: false,
      };
  const scheme = schemeOf(profile);
  if (scheme === null)
    return {
      unmade: `flashworthy makes cards with one primary partition in a partition table (MBR), or without a table. ${schemeText(profile)} ${byHand}`,
      isOpen: false,
    };
  const fileSystems =
    loader.fileSystems === 'any' ? widths : widths.filter((name) => loader.fileSystems?.includes(name));
  if (fileSystems.length === 0)
    return {
      unmade: `flashworthy makes cards with FAT12, FAT16 or FAT32, and this board reads ${listed(loader.fileSystems)} only. ${byHand}`,
      isOpen: false,
    };
  const alignment = saidValue(loader.dataAlignment);
  return {
    wish: {
      scheme,
      fileSystems,
      clusterBytes: saidValue(loader.clusterBytes),
      sectorBytes: saidValue(loader.sectorBytes),
      fatCounts: saidValue(loader.fatCount),
      reservedSectors: saidValue(loader.reservedSectors),
      dataAlignment: alignment === 0 ? null : alignment,
      volumeBytes: saidValue(loader.volumeBytes) ?? {},
      cardBytes: cardBounds(profile, order),
      ...order,
    },
  };
}

const byHand =
  'Format a card by hand, and name its folder or drive letter in place of an image: --to FOLDER.';

function saidValue<T>(said: Said<T>): T | null {
  return said === undefined || said === 'any' ? null : (said as T);
}

const listed = (words: Said<string[]>): string => (Array.isArray(words) ? words.join(', ') : 'others');

function schemeOf({ loader: { partitioning, takesPartition } }: ResolvedProfile): 'mbr' | 'none' | null {
  const reads = (scheme: string): boolean => partitioning === 'any' || (partitioning ?? []).includes(scheme);
  if (takesPartition === 'whole-card') return reads('none') ? 'none' : null;
  if (reads('mbr')) return slotOf(takesPartition) > slots ? null : 'mbr';
  return reads('none') ? 'none' : null;
}

function schemeText({ loader: { partitioning, takesPartition } }: ResolvedProfile): string {
  return slotOf(takesPartition) > slots
    ? `This board takes partition ${slotOf(takesPartition)}, which is none of the four primary ones.`
    : `This board reads only cards of another kind (${listed(partitioning)}).`;
}

/** Slot of the table in which the loader looks; where it looks in all, the first. */
const slotOf = (takes: Said<string>): number => Number(/^slot-(\d+)$/.exec(takes ?? '')?.[1] ?? 1);

/** An image must go onto every card that the loader can start, and onto the one that the owner has. */
function cardBounds({ loader }: ResolvedProfile, { realCardBytes }: CardOrder): CardWish['cardBytes'] {
  const { min, max } = saidValue(loader.cardBytes) ?? {};
  const classes = saidValue(loader.cardClass) ?? [];
  const bounds = [max, realCardBytes, classes.length === 0 ? null : Math.max(...classes.map(largestOfClass))];
  const most = Math.min(...bounds.map((bound) => bound ?? Number.POSITIVE_INFINITY));
  // A smaller image on a larger card is no smaller card: the least size is that of the real one.
  const least = realCardBytes === null ? min : undefined;
  return {
    ...(least === undefined ? {} : { min: least }),
    ...(most === Number.POSITIVE_INFINITY ? {} : { max: most }),
  };
}

/** Types of partition for each width, what suits best first (kernel and formatter tables; `pt-mbr.h` of util-linux). */
const partitionTypes: Readonly<Record<FatName, readonly number[]>> = {
  FAT12: [0x01, 0x04, 0x06],
  FAT16: [0x06, 0x0e, 0x04],
  FAT32: [0x0c, 0x0b],
};
/** Type bytes that mean an empty slot, further partitions, or another kind of table. */
const noVolume: readonly number[] = [0x00, 0x05, 0x0f, 0x85, 0xee];
/** Volumes below 32 MiB have a type of their own. */
const smallFat16 = { type: 0x04, below: 32 * 2 ** 20 };

/** The entry of the partition table, or why no such entry would do for this loader. */
export function partitionFor({ loader }: ResolvedProfile, layout: CardLayout): NewPartition | string {
  const { fileSystem, totalSectors, bytesPerSector } = layout;
  const usual = partitionTypes[fileSystem];
  const isSmall = fileSystem === 'FAT16' && totalSectors * bytesPerSector < smallFat16.below;
  const wanted = isSmall ? [smallFat16.type, ...usual] : usual;
  const allowed = loader.partitionTypes;
  const type = Array.isArray(allowed)
    ? (wanted.find((one) => allowed.includes(one)) ?? allowed.find((one) => !noVolume.includes(one)))
    : wanted[0];
  const flags = loader.takesPartition === 'active' ? [0x80] : [0x00, 0x80];
  const flagsTaken = saidValue(loader.bootFlag);
  const bootFlag = flags.find((flag) => flagsTaken === null || flagsTaken.includes(flag));
  if (type === undefined) return 'The board profile allows no type of partition that holds a file system.';
  if (bootFlag === undefined)
    return 'The board profile allows no boot flag that a sound partition table can have.';
  return { slot: slotOf(loader.takesPartition), type, bootFlag };
}

/** Why no layout was found, in plain words. */
export function noLayoutText(
  { size, cardBytes, volumeBytes, fileSystems }: CardWish,
  lengths: readonly number[],
): string {
  const files = sizeText(lengths.reduce((sum, length) => sum + length, 0));
  const kinds = fileSystems.join(' or ');
  if (size === null)
    return `No card of this kind (${kinds}) can hold the ${files} of files within the limits that the board profile gives.`;
  const { min = 0, max = Number.POSITIVE_INFINITY } = cardBytes;
  if (size > max)
    return `An image of ${sizeText(size)} is too large: the card may have ${sizeText(max)} at most.`;
  if (size < min)
    return `An image of ${sizeText(size)} is too small: the card must have ${sizeText(min)} at least.`;
  const least = volumeBytes.min === undefined ? '' : `, and of ${sizeText(volumeBytes.min)} at least`;
  return `An image of ${sizeText(size)} cannot hold a ${kinds} volume of the kind that this board reads${least}, with ${files} of files on it. Leave --size out, and flashworthy takes a size that fits.`;
}
