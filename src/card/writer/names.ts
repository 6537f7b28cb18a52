import { rawShortName, shortNameChecksum } from '../fat/short-name.js';

/** A name as a folder stores it. */
export interface StoredName {
  /** The eleven bytes of the short name, one character each. */
  readonly raw: string;
  /** The long name; null where the short one says all. */
  readonly long: string | null;
}

/** UTF-16 units of one long-name entry, and of the longest name (FAT specification, section 7.1). */
const unitsPerEntry = 13;
const mostUnits = 255;

/** Why a name cannot stand on a FAT card, or null. */
export function nameFault(name: string): string | null {
  if (name === '' || name === '.' || name === '..') return 'it is empty or only dots';
  if (name.length > mostUnits) return `it has more than ${mostUnits} characters`;
  if (/["*/:<>?\\|\p{Cc}]/u.test(name)) return 'it holds a character that no card can store';
  return /[. ]$/.test(name) ? 'it ends with a dot or a space, which computers drop' : null;
}

/**
 * The stored names of one folder, in order. A name that is legal as eight characters and three is stored as such, in
 * capitals; any other gets a long name too, and where its letters do not fit the short one, a number at its end
 * (`LONGNA~1.BIN`; FAT specification, section 7.4).
 * @param keepCase true when capital and small letters must stay as they are
 */
export function storedNames(names: readonly string[], keepCase: boolean): StoredName[] {
  const plain = names.map(plainShortName);
  const taken = new Set(plain.filter((raw) => raw !== null));
  return names.map((name, at) => {
    const raw = plain[at];
    if (raw !== null && raw !== undefined)
      return { raw, long: keepCase && name !== name.toUpperCase() ? name : null };
    const numbered = numberedShortName(name, taken);
    taken.add(numbered);
    return { raw: numbered, long: name };
  });
}

/** The raw short name that stands for exactly this name but for small letters; null when there is none. */
const plainShortName = (name: string): string | null =>
  /^[!-~]+$/.test(name) && !name.endsWith('.') ? rawShortName(name) : null;

function numberedShortName(name: string, taken: ReadonlySet<string>): string {
  const bare = name.replace(/ /g, '').replace(/^\.+/, '');
  const dot = bare.lastIndexOf('.');
  const clean = (text: string): string =>
    text.replace(/[a-z]/g, (letter) => letter.toUpperCase()).replace(/[+,;=[\].]|[^!-~]/g, '_');
  const base = clean((dot > 0 ? bare.slice(0, dot) : bare).replace(/\./g, '')) || '_';
  const extension = dot > 0 ? clean(bare.slice(dot + 1)).slice(0, 3) : '';
  for (let number = 1; ; number++) {
    const tail = `~${number}`;
    const raw = (base.slice(0, 8 - tail.length) + tail).padEnd(8) + extension.padEnd(3);
    if (!taken.has(raw)) return raw;
  }
}

/** Entries of 32 bytes that a name takes. */
export const slotsOf = ({ long }: StoredName): number =>
  1 + (long === null ? 0 : Math.ceil(long.length / unitsPerEntry));

/** Where the 13 units of a long-name entry stand in it (FAT specification, section 7). */
const unitPlaces = [1, 3, 5, 7, 9, 14, 16, 18, 20, 22, 24, 28, 30] as const;

/** The long-name entries of a name, last piece first, as they stand before its short entry. */
export function longNameEntries({ raw, long }: StoredName): Uint8Array {
  const pieces = long === null ? 0 : Math.ceil(long.length / unitsPerEntry);
  const bytes = new Uint8Array(pieces * 32);
  const view = new DataView(bytes.buffer);
  for (let piece = 1; piece <= pieces; piece++) {
    const at = (pieces - piece) * 32;
    bytes[at] = piece | (piece === pieces ? 0x40 : 0);
    bytes[at + 11] = 0x0f;
    bytes[at + 13] = shortNameChecksum(raw);
    for (const [index, place] of unitPlaces.entries()) {
      const unit = (piece - 1) * unitsPerEntry + index;
      // One zero ends the name where there is room for it, and ones fill the rest.
      const value = unit < long!.length ? long!.charCodeAt(unit) : unit === long!.length ? 0 : 0xffff;
      view.setUint16(at + place, value, true);
    }
  }
  return bytes;
}
