import type { FatTable } from './table.js';

/** How a chain ends: properly, or in a cluster that no chain may lead to. */
export type ChainEnd = 'end' | 'free' | 'bad' | 'out-of-range' | 'loop' | 'cross-link';

/** Marks a cluster that a second chain leads into. */
const sharedMark = 0x80000000;

/**
 * Which file each cluster belongs to: one number a cluster, 0 for nobody. Walking every chain through this one map
 * finds loops, cross-links and lost clusters in one pass, and no chain is walked twice, so that a hostile FAT costs
 * no more time than a sound one.
 */
export class ClusterOwners {
  private readonly owners: Uint32Array;
  /** Clusters of the chain just walked that belong to it. */
  clusters = 0;
  /** Unbroken stretches of them. */
  fragments = 0;
  /** Highest of them. */
  highest = 0;
  end: ChainEnd = 'end';
  /** The cluster that the chain ended in, or the impossible number that it led to. */
  endCluster = 0;
  /** Owner of that cluster, when the chain ran into another file's. */
  otherOwner = 0;
  /** Clusters that belong to two files, so far. */
  shared = 0;

  constructor(private readonly table: FatTable) {
    this.owners = new Uint32Array(table.entries.length);
  }

  /** Owner of a cluster; 0 for nobody. */
  ownerOf(cluster: number): number {
    return (this.owners[cluster] ?? 0) & ~sharedMark;
  }

  /** Walks the chain that starts at `start` and gives its clusters to `owner` (1 to 2^31 - 1). */
  walk(start: number, owner: number): void {
    const { entries, endMark, badMark, mask } = this.table;
    const owners = this.owners;
    const limit = entries.length;
    let cluster = start;
    let previous = -1;
    let clusters = 0;
    let fragments = 0;
    let highest = 0;
    this.otherOwner = 0;
    for (;;) {
      if (cluster < 2 || cluster >= limit) {
        this.end = 'out-of-range';
        break;
      }
      const next = entries[cluster]! & mask;
      if (next === 0 || next === badMark) {
        this.end = next === 0 ? 'free' : 'bad';
        break;
      }
      const before = owners[cluster]!;
      if (before !== 0) {
        this.otherOwner = before & ~sharedMark;
        this.end = this.otherOwner === owner ? 'loop' : 'cross-link';
        if (this.end === 'cross-link') this.markShared(cluster);
        break;
      }
      owners[cluster] = owner;
      clusters++;
      if (cluster !== previous + 1) fragments++;
      if (cluster > highest) highest = cluster;
      previous = cluster;
      if (next >= endMark) {
        this.end = 'end';
        break;
      }
      cluster = next;
    }
    this.endCluster = cluster;
    this.clusters = clusters;
    this.fragments = fragments;
    this.highest = highest;
  }

  private markShared(start: number): void {
    const { entries, mask } = this.table;
    const owners = this.owners;
    let cluster = start;
    while (cluster >= 2 && cluster < entries.length) {
      const owner = owners[cluster]!;
      if (owner === 0 || owner >= sharedMark) return;
      owners[cluster] = owner + sharedMark;
      this.shared++;
      cluster = entries[cluster]! & mask;
    }
  }

  /** Counts what the FAT says of all clusters. Right only after every chain was walked. */
  census(): { free: number; bad: number; lost: number; firstLost: number } {
    const { entries, badMark, mask } = this.table;
    const owners = this.owners;
    // Most of a card is free: two entries at once, both zero (a lone reserved bit reads as minus zero).
    const pairs = new Float64Array(entries.buffer, entries.byteOffset, entries.length >>> 1);
    let free = 0;
    let bad = 0;
    let lost = 0;
    let firstLost = 0;
    for (let first = 2; first < entries.length; first += 2) {
      if (pairs[first >>> 1] === 0) {
        free += 2;
        continue;
      }
      const last = Math.min(first + 2, entries.length);
      for (let cluster = first; cluster < last; cluster++) {
        const next = entries[cluster]! & mask;
        if (next === 0) free++;
        else if (next === badMark) bad++;
        else if (owners[cluster] === 0) {
          if (lost === 0) firstLost = cluster;
          lost++;
        }
      }
    }
    return { free, bad, lost, firstLost };
  }
}
