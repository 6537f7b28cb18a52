/**
 * Long names: pieces of 13 UTF-16 units in entries of attribute 0x0F, stored last piece first, directly before the
 * short entry that they belong to (FAT specification, section 7).
 */

import { hashEnd, hashStart, hashStep } from './name-index.js';

/** UTF-16 units in one long-name entry. */
export const unitsPerEntry = 13;
/** Most entries of one long name: 255 units (FAT specification, section 7.1). */
export const mostEntries = 20;

/** Why a long-name entry does not go with those before it. */
export type PieceProblem = 'starts-within' | 'no-start' | 'wrong-order' | 'wrong-checksum' | 'too-long';

/** Puts the pieces of one long name together. One is used for a whole volume and reset for each folder. */
export class LongNameCollector {
  private readonly units = new Uint16Array(unitsPerEntry * mostEntries);
  /** Views of the first n units: one for each length, since a card holds thousands of names. */
  private readonly views: (Uint16Array | undefined)[] = [];
  private length = 0;
  /** Pieces still to come; -1 when no long name is open. */
  private missing = -1;
  private checksum = 0;
  private soundChecksums = true;
  /** The name that was closed last. */
  name = '';
  /** Its hash, as `hashOf` gives it. */
  hash = 0;
  /**
   * True when no driver takes it: empty, only dots, or with a character that paths and FAT forbid (FAT
   * specification, section 7.4).
   */
  isBad = false;
  /** Slot of the first piece of the open name. */
  firstSlot = 0;

  /** True when pieces stand that no short entry has claimed yet. */
  get isOpen(): boolean {
    return this.missing >= 0;
  }

  /** Forgets the open name. */
  reset(): void {
    this.missing = -1;
  }

  /**
   * Takes the long-name entry at byte `at`. Returns what is wrong with its place in the row, or null. After
   * 'no-start', 'wrong-order' and 'too-long' no name is open; the open one was given up.
   */
  add(bytes: Uint8Array, at: number, slot: number): PieceProblem | null {
    const first = bytes[at]!;
    const ordinal = first & 0x1f;
    let problem: PieceProblem | null = null;
    if ((first & 0x40) !== 0 && ordinal !== 0) {
      if (this.missing >= 0) problem = 'starts-within';
      if (ordinal > mostEntries) {
        this.missing = -1;
        return 'too-long';
      }
      this.missing = ordinal;
      this.length = ordinal * unitsPerEntry;
      this.checksum = bytes[at + 13]!;
      this.soundChecksums = true;
      this.firstSlot = slot;
    } else if (this.missing < 0) {
      return 'no-start';
    } else if (ordinal !== this.missing || ordinal === 0) {
      this.missing = -1;
      return 'wrong-order';
    }
    if (bytes[at + 13]! !== this.checksum) {
      this.soundChecksums = false;
      problem = 'wrong-checksum';
    }
    this.missing--;
    let unit = this.missing * unitsPerEntry;
    const units = this.units;
    for (let i = at + 1; i < at + 11; i += 2) units[unit++] = bytes[i]! | (bytes[i + 1]! << 8);
    for (let i = at + 14; i < at + 26; i += 2) units[unit++] = bytes[i]! | (bytes[i + 1]! << 8);
    for (let i = at + 28; i < at + 32; i += 2) units[unit++] = bytes[i]! | (bytes[i + 1]! << 8);
    return problem;
  }

  /**
   * Closes the open name for a short entry with this checksum. Returns null and leaves it in `name`, `hash` and
   * `isBad`, or returns why it does not belong there. Call only when `isOpen`.
   */
  close(shortChecksum: number): 'unfinished' | 'wrong-checksum' | null {
    const missing = this.missing;
    this.missing = -1;
    if (missing > 0) return 'unfinished';
    if (!this.soundChecksums || this.checksum !== shortChecksum) return 'wrong-checksum';
    const { units } = this;
    let length = 0;
    let hash = hashStart;
    let bad = false;
    for (; length < this.length; length++) {
      const unit = units[length]!;
      if (unit === 0) break;
      if (unit < 0x80 && forbidden[unit] === 1) bad = true;
      hash = hashStep(hash, unit);
    }
    let view = this.views[length];
    if (view === undefined) {
      view = units.subarray(0, length);
      this.views[length] = view;
    }
    this.name = String.fromCharCode.apply(null, view as unknown as number[]);
    this.hash = hashEnd(hash);
    this.isBad = bad || length === 0 || length > 255 || this.name === '.' || this.name === '..';
    return null;
  }
}

/** Characters that neither paths nor FAT allow in a long name. */
const forbidden = new Uint8Array(128).fill(1, 0, 0x20);
for (const character of '"*/:<>?\\|\x7f') forbidden[character.charCodeAt(0)] = 1;
