/** What is compared when two entries of one folder may not have the same name. */
export interface Named {
  /** The eleven stored bytes of the short name, one character each. */
  readonly rawShortName: string;
  readonly name: string;
}

const leastSlots = 64;
/**
 * Most slots looked at for one name. Half of the table is empty, so that honest names need a few; names made up to
 * collide must not make a folder take minutes.
 */
const mostProbes = 128;

/**
 * Names of one folder, each kept once. A hash table of numbers: a folder may hold tens of thousands of names, and
 * strings put together only to be compared would cost more than all the rest of reading it.
 */
export class NameIndex<T extends Named> {
  private items: T[] = [];
  /** Two hashes for each item. */
  private hashes: number[] = [];
  /** Item number and 1, times 2, and 1 for the hash of the name; 0 for an empty slot. */
  private slots = new Int32Array(leastSlots);

  /** Forgets all names. */
  clear(): void {
    if (this.items.length === 0) return;
    this.items = [];
    this.hashes = [];
    if (this.slots.length > leastSlots) this.slots = new Int32Array(leastSlots);
    else this.slots.fill(0);
  }

  /**
   * Adds an entry whose raw short name and name have the hashes `short` and `long`. Returns an earlier one with the
   * same short name or, whatever the case of letters A to Z, the same name.
   */
  twinOf(item: T, short: number, long: number): T | null {
    const number = this.items.length;
    if ((number + 1) * 4 > this.slots.length) this.grow();
    const { rawShortName, name } = item;
    const sameShort = this.find(short, 0, rawShortName);
    const sameLong = this.find(long, 1, name);
    this.items.push(item);
    this.hashes.push(short, long);
    if (sameShort === null) this.put(short, number * 2 + 2);
    if (sameLong === null) this.put(long, number * 2 + 3);
    return sameShort ?? sameLong;
  }

  private find(hash: number, which: 0 | 1, text: string): T | null {
    const last = this.slots.length - 1;
    for (let probe = 0; probe < mostProbes; probe++) {
      const entry = this.slots[(hash + probe) & last]!;
      if (entry === 0) return null;
      if ((entry & 1) !== which || this.hashes[entry - 2] !== hash) continue;
      const item = this.items[(entry >> 1) - 1]!;
      if (which === 0 ? item.rawShortName === text : sameName(item.name, text)) return item;
    }
    return null;
  }

  private put(hash: number, entry: number): void {
    const last = this.slots.length - 1;
    for (let probe = 0; probe < mostProbes; probe++) {
      const at = (hash + probe) & last;
      if (this.slots[at] !== 0) continue;
      this.slots[at] = entry;
      return;
    }
  }

  private grow(): void {
    this.slots = new Int32Array(this.slots.length * 4);
    for (let i = 0; i < this.hashes.length; i++) {
      const { rawShortName, name } = this.items[i >> 1]!;
      const hash = this.hashes[i]!;
      const isKept = (i & 1) === 0 ? this.find(hash, 0, rawShortName) : this.find(hash, 1, name);
      if (isKept === null) this.put(hash, i + 2);
    }
  }
}

const upper = (code: number): number => (code >= 0x61 && code <= 0x7a ? code - 0x20 : code);

/** A hash of 30 bits over UTF-16 units (FNV-1a) that takes letters a to z for A to Z: its start, one step, its end. */
export const hashStart = 0x811c9dc5 | 0;
export const hashStep = (hash: number, unit: number): number => Math.imul(hash ^ upper(unit), 0x01000193);
export const hashEnd = (hash: number): number => (hash ^ (hash >>> 15)) & 0x3fffffff;

/** A hash of the eleven bytes of a short name; not that of `hashOf`. */
export function hashOfRaw(bytes: Uint8Array, at: number): number {
  let hash = hashStart;
  for (let i = at; i < at + 9; i += 4) {
    const fourth = i === at + 8 ? 0 : bytes[i + 3]!;
    const word = bytes[i]! | (bytes[i + 1]! << 8) | (bytes[i + 2]! << 16) | (fourth << 24);
    hash = Math.imul(hash ^ word, 0x01000193);
    hash ^= hash >>> 13;
  }
  return hashEnd(Math.imul(hash, 0x85ebca6b));
}

/** The hash of a whole text. */
export function hashOf(text: string): number {
  let hash = hashStart;
  for (let i = 0; i < text.length; i++) hash = hashStep(hash, text.charCodeAt(i));
  return hashEnd(hash);
}

function sameName(a: string, b: string): boolean {
  if (a.length !== b.length) return false;
  for (let i = 0; i < a.length; i++) if (upper(a.charCodeAt(i)) !== upper(b.charCodeAt(i))) return false;
  return true;
}
