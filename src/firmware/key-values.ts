import { limits } from '../bytes/limits.js';
import type { MemoryMap } from './memory-map.js';

/** Longest value that is read; release numbers are short. */
const mostCharacters = 32;

const isValueByte = (byte: number | undefined): boolean =>
  byte !== undefined &&
  ((byte >= 0x30 && byte <= 0x39) ||
    (byte >= 0x41 && byte <= 0x5a) ||
    (byte >= 0x61 && byte <= 0x7a) ||
    byte === 0x2e ||
    byte === 0x2d ||
    byte === 0x5f);

/**
 * What stands behind `KEY:` in a program that prints such a text when it is asked what it is: each value once, in the
 * order in which they are met. A program that puts the text together when it runs holds no value; the list is then
 * empty. A key that is only the end of a longer word is passed over.
 */
export function valuesOfKey(map: MemoryMap, key: string): string[] {
  const pattern = Uint8Array.from(`${key}:`, (letter) => letter.charCodeAt(0));
  const found = new Set<string>();
  let places = 0;
  for (const { bytes } of map.segments)
    for (let at = bytes.indexOf(pattern[0]!); at !== -1; at = bytes.indexOf(pattern[0]!, at + 1)) {
      if (isValueByte(bytes[at - 1]) || !pattern.every((byte, index) => bytes[at + index] === byte)) continue;
      if (++places > limits.markerPlaces) return [...found];
      let from = at + pattern.length;
      while (bytes[from] === 0x20) from++;
      let to = from;
      while (to - from <= mostCharacters && isValueByte(bytes[to])) to++;
      if (to > from && to - from <= mostCharacters)
        found.add(String.fromCharCode(...bytes.subarray(from, to)));
    }
  return [...found];
}
