/**
 * Long names: pieces of 13 UTF-16 units in entries of attribute 0x0F, stored last piece first, directly before the
 * short entry that they belong to (FAT specification, section 7).
 */

/** UTF-16 units in one long-name entry. */
export const unitsPerEntry = 13;
/** Most entries of one long name: 255 units (FAT specification, section 7.1). */
export const mostEntries = 20;

/** Why a long-name entry does not go with those before it. */
export type PieceProblem = 'starts-within' | 'no-start' | 'wrong-order' | 'wrong-checksum' | 'too-long';

/** Puts the pieces of one long name together. One is used for a whole volume and reset for each folder. */
export class LongNameCollector {
  private readonly units = new Uint16Array(unitsPerEntry * mostEntries);
  private length = 0;
  /** Pieces still to come; -1 when no long name is open. */
  private missing = -1;
  private checksum = 0;
  private soundChecksums = true;
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
   * Closes the open name for a short entry with this checksum. Returns the name, or why it does not belong there.
   * Call only when `isOpen`.
   */
  close(shortChecksum: number): { name: string } | 'unfinished' | 'wrong-checksum' {
    const missing = this.missing;
    this.missing = -1;
    if (missing > 0) return 'unfinished';
    if (!this.soundChecksums || this.checksum !== shortChecksum) return 'wrong-checksum';
    let length = this.length;
    for (let i = 0; i < length; i++)
      if (this.units[i] === 0) {
        length = i;
        break;
      }
    const text: string = String.fromCharCode.apply(
      null,
      this.units.subarray(0, length) as unknown as number[],
    );
    return { name: text };
  }
}

/**
 * True when no driver takes this long name: empty, only dots, or with a character that paths and FAT forbid
 * (FAT specification, section 7.4).
 */
export function isBadLongName(name: string): boolean {
  if (name.length === 0 || name.length > 255 || name === '.' || name === '..') return true;
  for (let i = 0; i < name.length; i++) {
    const code = name.charCodeAt(i);
    if (code < 0x20) return true;
    if (code < 0x80 && forbidden[code] === 1) return true;
  }
  return false;
}

const forbidden = new Uint8Array(128);
for (const character of '"*/:<>?\\|\x7f') forbidden[character.charCodeAt(0)] = 1;
