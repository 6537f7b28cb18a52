import { limits } from '../../bytes/limits.js';
import type { FatEntry } from './directory.js';

/** Kinds of damage, in the words of the fact `damage.list[].kind`. */
export const damageKinds = [
  'boot-sector',
  'fat-size',
  'fat-copies-differ',
  'boot-backup-differs',
  'loop',
  'cross-link',
  'lost-clusters',
  'short-chain',
  'long-chain',
  'into-free',
  'into-bad',
  'out-of-range',
  'bad-entry',
  'bad-folder',
  'duplicate-name',
  'orphan-long-name',
  'long-name-checksum',
  'fat-start',
] as const;
export type DamageKind = (typeof damageKinds)[number];

/** One thing that is wrong with a volume's structures: what `fsck.fat` would repair, or what a driver refuses. */
export interface Damage {
  readonly kind: DamageKind;
  /** A plain sentence. */
  readonly text: string;
  /** Byte from the start of the volume; null when it is not one place. */
  readonly at: number | null;
  /** The file or folder that it touches, and a second one; null when it touches none. */
  readonly entry: FatEntry | null;
  readonly other: FatEntry | null;
  /** The folder whose slots it was found in, null for the root; undefined when it was not found in a folder. */
  readonly folder?: FatEntry | null;
}

/** All damage of a volume: the first `limits.problems` with their place, the rest counted. */
export class DamageList {
  readonly list: Damage[] = [];
  readonly counts = Object.fromEntries(damageKinds.map((kind) => [kind, 0])) as Record<DamageKind, number>;
  /** Numbers of the entries that any damage touches, listed or not. */
  readonly touched = new Set<number>();

  add(damage: Damage): void {
    this.counts[damage.kind]++;
    for (const entry of [damage.entry, damage.other, damage.folder]) if (entry) this.touched.add(entry.id);
    if (this.list.length < limits.problems) this.list.push(damage);
  }
}
