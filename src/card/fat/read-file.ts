import { ReadProblem } from '../../bytes/byte-source.js';
import { clusterStart, type FatBootSector, type FatGeometry } from './boot-sector.js';
import type { FatEntry } from './directory.js';
import { type FatTable, nextOf } from './table.js';
import type { FatVolume } from './volume.js';

/** Bytes in one read of a file. */
const pieceBytes = 1024 * 1024;

/** An unbroken stretch of clusters. */
export interface Run {
  /** First byte, from the start of the volume. */
  readonly at: number;
  /** Bytes: a whole number of clusters. */
  readonly length: number;
}

/** Unbroken stretches of the first `clusters` clusters of a chain, in its order. Ends early where the chain does. */
export function* runs(
  table: FatTable,
  geometry: FatGeometry,
  start: number,
  clusters: number,
): Generator<Run> {
  const { entries } = table;
  let cluster = start;
  let first = start;
  let count = 0;
  for (let done = 0; done < clusters; done++) {
    if (cluster < 2 || cluster >= entries.length) break;
    if (count > 0 && cluster !== first + count) {
      yield { at: clusterStart(geometry, first), length: count * geometry.clusterBytes };
      count = 0;
    }
    if (count === 0) first = cluster;
    const next = nextOf(table, cluster);
    if (next === 0 || next === table.badMark) break;
    count++;
    if (next >= table.endMark) break;
    cluster = next;
  }
  if (count > 0) yield { at: clusterStart(geometry, first), length: count * geometry.clusterBytes };
}

/** Copy 0 is the FAT in force; 1 and up are those of `otherTables`. */
const tableOf = (volume: FatVolume, copy: number): FatTable | null =>
  copy === 0 ? volume.table : (volume.otherTables[copy - 1] ?? null);

/**
 * Unbroken stretches that hold the bytes of a file, as one copy of the FAT gives them: never more clusters than its
 * size asks for. Empty when that copy could not be read.
 * @param copy 0 for the FAT in force, 1 and up for `otherTables`
 */
export function chainOf(volume: FatVolume, entry: FatEntry, copy = 0): Run[] {
  const { geometry } = volume;
  const table = tableOf(volume, copy);
  if (geometry === null || table === null || entry.firstCluster === 0) return [];
  const clusters = entry.isFolder ? entry.ownClusters : Math.ceil(entry.bytes / geometry.clusterBytes);
  return [...runs(table, geometry, entry.firstCluster, clusters)];
}

/** Number of unbroken stretches of a file through one copy of the FAT; 0 for an empty file. */
export const fragmentsOf = (volume: FatVolume, entry: FatEntry, copy = 0): number =>
  chainOf(volume, entry, copy).length;

/**
 * Hands out a file's bytes in order, each piece a view that may change afterwards, of at most 1 MiB. True when all
 * of them came along a chain that is long enough; false when the chain ends early; a problem when a read failed
 * (its offset counts from the start of the volume).
 * @param copy 0 for the FAT in force, 1 and up for `otherTables`
 */
export function readFile(
  volume: FatVolume,
  entry: FatEntry,
  visit: (piece: Uint8Array) => void,
  copy = 0,
): boolean | ReadProblem {
  const { geometry } = volume;
  const table = tableOf(volume, copy);
  if (entry.bytes === 0) return true;
  if (geometry === null || table === null) return new ReadProblem(entry.entryAt, 32, 'damaged');
  let left = entry.bytes;
  const clusters = Math.ceil(entry.bytes / geometry.clusterBytes);
  for (const run of runs(table, geometry, entry.firstCluster, clusters)) {
    const end = run.at + Math.min(run.length, left);
    for (let at = run.at; at < end; at += pieceBytes) {
      const piece = volume.source.read(at, Math.min(pieceBytes, end - at));
      if (piece instanceof ReadProblem) return piece;
      visit(piece);
      left -= piece.length;
    }
  }
  return left === 0;
}

/** True when every copy of the FAT gives a file or folder the same chain. */
export function sameChainInEveryFat(volume: FatVolume, entry: FatEntry): boolean {
  const { table, geometry } = volume;
  if (table === null || geometry === null) return false;
  if (entry.firstCluster === 0) return true;
  // As many steps as there are clusters: a circle ends the walk like everything else.
  const most = geometry.clusterCount;
  return volume.otherTables.every((other) => {
    let cluster = entry.firstCluster;
    for (let step = 0; step < most && cluster >= 2 && cluster < table.entries.length; step++) {
      const next = table.entries[cluster]!;
      if (next !== other.entries[cluster]!)
        return next >= table.endMark && other.entries[cluster]! >= other.endMark;
      if (next >= table.endMark) return true;
      cluster = next;
    }
    return true;
  });
}

/** True when a stretch holds neither boot sectors, FSInfo, FATs, the fixed root folder nor clusters in use. */
export function isFreeStretch(
  boot: FatBootSector,
  geometry: FatGeometry,
  table: FatTable,
  at: number,
  length: number,
): boolean {
  const { bytesPerSector, dataStart, fatStart, clusterBytes, clusterCount } = geometry;
  const end = at + length;
  const dataEnd = dataStart + clusterCount * clusterBytes;
  if (at < fatStart) {
    const backup = boot.backupBootSector;
    const owned = boot.isFat32Form
      ? [0, boot.fsInfoSector, backup, backup + 1, backup + boot.fsInfoSector]
      : [0];
    if (owned.some((sector) => at < (sector + 1) * bytesPerSector && end > sector * bytesPerSector))
      return false;
  }
  if (at < dataStart && end > fatStart) return false;
  if (end > dataStart && at < dataEnd) {
    const first = Math.max(2, 2 + Math.floor((at - dataStart) / clusterBytes));
    const last = Math.min(clusterCount + 1, 2 + Math.floor((end - 1 - dataStart) / clusterBytes));
    for (let cluster = first; cluster <= last; cluster++) if (nextOf(table, cluster) !== 0) return false;
  }
  return true;
}
