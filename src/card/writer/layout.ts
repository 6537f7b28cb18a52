import { isPowerOfTwo } from '../../bytes/cursor.js';
import { limits } from '../../bytes/limits.js';
import { type FatName, firstFat16Count, firstFat32Count, mostFat32Clusters } from '../fat/width.js';

/** What a card must be like. Sizes in bytes; of each list the writer takes what suits best, null leaves it free. */
export interface CardWish {
  /** `mbr`: one partition in a table; `none`: the volume starts in the first sector. */
  readonly scheme: 'mbr' | 'none';
  readonly fileSystems: readonly FatName[];
  readonly clusterBytes: readonly number[] | null;
  readonly sectorBytes: readonly number[] | null;
  readonly fatCounts: readonly number[] | null;
  readonly reservedSectors: readonly number[] | null;
  /** The data area must start on a multiple of this, counted from the first byte of the card. */
  readonly dataAlignment: number | null;
  readonly volumeBytes: Bounds;
  readonly cardBytes: Bounds;
  /** Size of the image that was asked for. */
  readonly size: number | null;
  /** Size of the real card, where it was told: it decides on which multiples everything starts. */
  readonly realCardBytes: number | null;
}

/** Smallest and largest, both included. */
export interface Bounds {
  readonly min?: number;
  readonly max?: number;
}

/** What has to find room on the volume. */
export interface CardLoad {
  /** Sizes of all files, and of the folders inside the root folder. */
  readonly lengths: readonly number[];
  /** Entries of the root folder, 32 bytes each. */
  readonly rootSlots: number;
  /** Clusters that must stay free. */
  readonly freeClusters: number;
}

/** Where everything lies. Offsets count from the first byte of the card. */
export interface CardLayout {
  readonly scheme: 'mbr' | 'none';
  /** Size of the whole image. */
  readonly bytes: number;
  readonly startByte: number;
  readonly fileSystem: FatName;
  readonly bytesPerSector: number;
  readonly clusterBytes: number;
  readonly reservedSectors: number;
  readonly fatCount: number;
  /** Sectors of one copy of the FAT. */
  readonly fatSectors: number;
  /** Entries of the root folder; 0 where it is a cluster chain. */
  readonly rootEntries: number;
  readonly totalSectors: number;
  readonly clusterCount: number;
  readonly dataByte: number;
}

/** Bytes of a sector of the card itself, in which a partition table counts. */
export const cardSectorBytes = 512;
/** Entries of a fixed root folder: 512 is what the FAT specification (section 3.1) advises for FAT16. */
const fixedRootEntries = 512;
/** The FAT specification (section 3.5) advises to stay so many clusters away from where the widths meet. */
const bandClusters = 16;
/** A table with 32-bit sector numbers ends here. */
const mostCardBytes = 2 ** 32 * cardSectorBytes;

const mostClusters: Readonly<Record<FatName, number>> = {
  FAT12: firstFat16Count - bandClusters,
  FAT16: firstFat32Count - bandClusters,
  FAT32: Math.min(mostFat32Clusters, limits.clusters - 2),
};
const leastClusters: Readonly<Record<FatName, number>> = {
  FAT12: 1,
  FAT16: firstFat16Count + bandClusters,
  FAT32: firstFat32Count + bandClusters,
};
const entryBits: Readonly<Record<FatName, number>> = { FAT12: 12, FAT16: 16, FAT32: 32 };

/**
 * On which multiples the partition and its data begin, by the size of the card: the boundary units that formatters for
 * SD cards use (open formatters that follow the SD File System Specification, version 3).
 */
const boundaryUnits: readonly (readonly [upTo: number, unit: number])[] = [
  [8 * 2 ** 20, 8 * 2 ** 10],
  [64 * 2 ** 20, 16 * 2 ** 10],
  [256 * 2 ** 20, 32 * 2 ** 10],
  [2 * 2 ** 30, 64 * 2 ** 10],
  [32 * 2 ** 30, 4 * 2 ** 20],
  [128 * 2 ** 30, 16 * 2 ** 20],
  [512 * 2 ** 30, 32 * 2 ** 20],
  [Number.POSITIVE_INFINITY, 64 * 2 ** 20],
];
export const boundaryUnit = (cardBytes: number): number =>
  boundaryUnits.find(([upTo]) => cardBytes <= upTo)![1];

/** Finds the layout that suits a wish best, or null when there is none. */
export function layOut(wish: CardWish, load: CardLoad): CardLayout | null {
  // A volume that leaves much of its card unused is the second choice.
  for (const mostUnused of [1 / 8, 1])
    for (const shape of shapes(wish)) {
      const layout = place(shape, wish, load);
      if (layout !== null && unusedShare(layout) <= mostUnused) return layout;
    }
  return null;
}

const unusedShare = ({ bytes, startByte, totalSectors, bytesPerSector }: CardLayout): number =>
  (bytes - startByte - totalSectors * bytesPerSector) / bytes;

interface Shape {
  readonly bytes: number;
  readonly fileSystem: FatName;
  readonly clusterBytes: number;
  readonly bytesPerSector: number;
  readonly fatCount: number;
}

/** Everything that a wish allows, what suits best first. */
function* shapes(wish: CardWish): Generator<Shape> {
  const sectorSizes = firstOf(512, wish.sectorBytes ?? [512]).filter((bytes) =>
    [512, 1024, 2048, 4096].includes(bytes),
  );
  const fatCounts = firstOf(2, wish.fatCounts ?? [2]).filter((count) => count === 1 || count === 2);
  const clusterSizes = (wish.clusterBytes ?? usualClusters).filter(isPowerOfTwo);
  for (const [bytes, fileSystem, clusterBytes] of kinds(wish, clusterSizes))
    for (const bytesPerSector of sectorSizes)
      for (const fatCount of fatCounts) {
        const perCluster = clusterBytes / bytesPerSector;
        if (perCluster >= 1 && perCluster <= 128)
          yield { bytes, fileSystem, clusterBytes, bytesPerSector, fatCount };
      }
}

/** Without a size the cluster size is chosen first, and then the smallest card that holds enough of them. */
function* kinds(wish: CardWish, clusterSizes: readonly number[]): Generator<[number, FatName, number]> {
  if (wish.size !== null) {
    const bytes = wish.size - (wish.size % cardSectorBytes);
    if (!isWithin(bytes, wish.cardBytes) || bytes > mostCardBytes) return;
    for (const fileSystem of widthsFor(bytes, wish))
      for (const clusterBytes of nearestFirst(clusterSizes, usualCluster(fileSystem, bytes)))
        yield [bytes, fileSystem, clusterBytes];
    return;
  }
  const sizes = cardSizes(wish);
  for (const clusterBytes of nearestFirst(clusterSizes, 4096))
    for (const bytes of sizes)
      for (const fileSystem of widthsFor(bytes, wish)) yield [bytes, fileSystem, clusterBytes];
}

/** Cluster sizes of at most 32 KiB: what the FAT specification (section 3.1) calls safe. */
const usualClusters = [512, 1024, 2048, 4096, 8192, 16384, 32768];

/** Where both will do, FAT16 below 512 MiB, as the FAT specification (section 3.4) advises; FAT12 only where it must be. */
function widthsFor(bytes: number, { fileSystems }: CardWish): FatName[] {
  const order: FatName[] = bytes < 512 * 2 ** 20 ? ['FAT16', 'FAT32', 'FAT12'] : ['FAT32', 'FAT16', 'FAT12'];
  return order.filter((name) => fileSystems.includes(name));
}

/** Cluster size for a size of card: the table of the FAT specification (section 3.4), from 4 KiB on. */
function usualCluster(fileSystem: FatName, bytes: number): number {
  const GiB = 2 ** 30;
  if (fileSystem === 'FAT32')
    return bytes <= 8 * GiB ? 4096 : bytes <= 16 * GiB ? 8192 : bytes <= 32 * GiB ? 16384 : 32768;
  const enough = usualClusters.find((size) => size >= 4096 && bytes / size <= mostClusters[fileSystem]);
  return enough ?? 32768;
}

const nearestFirst = (sizes: readonly number[], wanted: number): number[] => {
  const distance = (size: number): number => Math.abs(Math.log2(size / wanted));
  return [...new Set(sizes)].sort((a, b) => distance(a) - distance(b) || b - a);
};

/**
 * Sizes of an image that nobody gave a size, from 64 MiB upwards and then from there down: small enough to be copied
 * soon, and such that FAT16 and FAT32 are far from where the widths meet.
 */
function cardSizes({ cardBytes }: CardWish): number[] {
  const steps: number[] = [];
  for (let size = 2 ** 20; size <= mostCardBytes; size *= 2) steps.push(size, size * 1.25);
  for (const bound of [cardBytes.min, cardBytes.max])
    if (bound !== undefined) steps.push(bound - (bound % cardSectorBytes));
  const fitting = [...new Set(steps)]
    .filter((size) => isWithin(size, cardBytes) && size <= mostCardBytes)
    .sort((a, b) => a - b);
  const from = 64 * 2 ** 20;
  return [...fitting.filter((size) => size >= from), ...fitting.filter((size) => size < from).reverse()];
}

// ---- one shape on one card ----------------------------------------------------------------------------------

/** Puts a volume of this shape on a card of this size; null when there is no room or a bound is missed. */
function place(shape: Shape, wish: CardWish, load: CardLoad): CardLayout | null {
  const { bytesPerSector, fileSystem } = shape;
  const boundary = multiple(boundaryUnit(Math.max(shape.bytes, wish.realCardBytes ?? 0)), bytesPerSector);
  const wanted = multiple(wish.dataAlignment ?? 1, bytesPerSector);
  const free = fileSystem === 'FAT32' ? 32 : 1;
  const counts = (wish.reservedSectors ?? []).filter((count) => count >= 1 && count <= 65535);
  for (const unit of [multiple(boundary, wanted), wanted]) {
    if (unit > shape.bytes) continue;
    const aligned = new Aligner(shape, wish, load, boundary, unit);
    const layout =
      wish.reservedSectors === null ? aligned.withReserved(free, true) : aligned.withOneOf(counts);
    if (layout !== null) return layout;
  }
  return null;
}

/** Brings the data area onto a multiple of a unit, by whichever part of the volume may be longer. */
class Aligner {
  private readonly rootEntries: number;
  private readonly rootSectors: number;

  constructor(
    private readonly shape: Shape,
    private readonly wish: CardWish,
    private readonly load: CardLoad,
    private readonly boundary: number,
    private readonly unit: number,
  ) {
    this.rootEntries = shape.fileSystem === 'FAT32' ? 0 : fixedRootEntries;
    this.rootSectors = (this.rootEntries * 32) / shape.bytesPerSector;
  }

  /** With the count that suits best; FAT32 wants room for FSInfo and for the copies of both. */
  withOneOf(counts: readonly number[]): CardLayout | null {
    const rank = (count: number): number =>
      this.shape.fileSystem !== 'FAT32' ? count : count === 32 ? 0 : count > 7 ? count : 2 ** 20 - count;
    for (const count of [...new Set(counts)].sort((a, b) => rank(a) - rank(b))) {
      const layout = this.withReserved(count, false);
      if (layout !== null) return layout;
    }
    return null;
  }

  withReserved(reserved: number, mayGrow: boolean): CardLayout | null {
    const { bytesPerSector, fatCount } = this.shape;
    const start = this.wish.scheme === 'none' ? 0 : this.boundary;
    const fatSectors = this.fatSectors(start, reserved);
    if (fatSectors === null) return null;
    const over = (start + this.systemBytes(reserved, fatSectors)) % this.unit;
    if (over === 0) return this.volume(start, reserved, fatSectors);
    const short = this.unit - over;
    const sectors = short / bytesPerSector;
    if (mayGrow && reserved + sectors <= 65535) return this.volume(start, reserved + sectors, fatSectors);
    // A longer FAT is as good as one that just fits (FAT specification, section 3.4).
    const period = this.unit / bytesPerSector;
    for (let more = 1; more <= period; more++)
      if ((more * fatCount) % period === sectors % period)
        return this.volume(start, reserved, fatSectors + more);
    // Else the partition begins between two boundaries, so that its data begin on one.
    return this.wish.scheme === 'none' ? null : this.volume(start + short, reserved, fatSectors);
  }

  private systemBytes(reserved: number, fatSectors: number): number {
    return (reserved + this.shape.fatCount * fatSectors + this.rootSectors) * this.shape.bytesPerSector;
  }

  private sectorsFrom(start: number): number {
    const room = Math.min(this.shape.bytes - start, this.wish.volumeBytes.max ?? Number.POSITIVE_INFINITY);
    return Math.min(Math.floor(room / this.shape.bytesPerSector), 0xffffffff);
  }

  private clusters(start: number, reserved: number, fatSectors: number): number {
    const { bytesPerSector, clusterBytes, fileSystem } = this.shape;
    const data = this.sectorsFrom(start) * bytesPerSector - this.systemBytes(reserved, fatSectors);
    return Math.min(Math.floor(data / clusterBytes), mostClusters[fileSystem]);
  }

  /** Sectors of a FAT that has an entry for each cluster and the two before them; null when there is no room. */
  private fatSectors(start: number, reserved: number): number | null {
    const { bytesPerSector, fileSystem } = this.shape;
    for (let sectors = 1; ; ) {
      const clusters = this.clusters(start, reserved, sectors);
      if (clusters < leastClusters[fileSystem]) return null;
      const wanted = Math.ceil(((clusters + 2) * entryBits[fileSystem]) / 8 / bytesPerSector);
      if (wanted <= sectors) return sectors;
      sectors = wanted;
    }
  }

  private volume(startByte: number, reservedSectors: number, fatSectors: number): CardLayout | null {
    const { bytes, fileSystem, bytesPerSector, clusterBytes, fatCount } = this.shape;
    const { rootEntries, load } = this;
    const clusterCount = this.clusters(startByte, reservedSectors, fatSectors);
    const system = this.systemBytes(reservedSectors, fatSectors);
    if (clusterCount < leastClusters[fileSystem] || (rootEntries > 0 && fatSectors > 65535)) return null;
    if (rootEntries > 0 && load.rootSlots > rootEntries) return null;
    const lengths = rootEntries > 0 ? load.lengths : [...load.lengths, Math.max(1, load.rootSlots * 32)];
    const used = lengths.reduce((sum, length) => sum + Math.ceil(length / clusterBytes), 0);
    // The last cluster stays free in any case: some loaders cannot read it.
    if (used + Math.max(1, load.freeClusters) > clusterCount) return null;
    const isCut = clusterCount === mostClusters[fileSystem];
    const totalSectors = isCut
      ? (system + clusterCount * clusterBytes) / bytesPerSector
      : this.sectorsFrom(startByte);
    if (!isWithin(totalSectors * bytesPerSector, this.wish.volumeBytes)) return null;
    return {
      scheme: this.wish.scheme,
      bytes,
      startByte,
      fileSystem,
      bytesPerSector,
      clusterBytes,
      reservedSectors,
      fatCount,
      fatSectors,
      rootEntries,
      totalSectors,
      clusterCount,
      dataByte: startByte + system,
    };
  }
}

const isWithin = (value: number, { min = 0, max = Number.POSITIVE_INFINITY }: Bounds): boolean =>
  value >= min && value <= max;
const firstOf = (favourite: number, all: readonly number[]): number[] =>
  [...new Set(all)].sort((a, b) => Number(b === favourite) - Number(a === favourite) || a - b);

/** Smallest number that both divide. */
function multiple(a: number, b: number): number {
  let [x, y] = [a, b];
  while (y > 0) [x, y] = [y, x % y];
  return (a / x) * b;
}
