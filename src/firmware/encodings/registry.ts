import { dfuse } from './dfuse.js';
import { elf } from './elf.js';
import type { Decoded, DecodeHint, Detection, Encoding, EncodingId } from './encoding.js';
import { espImage } from './esp-image.js';
import { intelHex } from './intel-hex.js';
import { packedGzip } from './packed.js';
import { raw, scrambled } from './raw.js';
import { sRecord } from './s-record.js';
import { uf2 } from './uf2.js';

/** Every encoding, one line each. Of two that are equally sure the earlier one wins. */
export const encodingRegistry: readonly Encoding[] = [
  uf2,
  elf,
  dfuse,
  intelHex,
  sRecord,
  packedGzip,
  espImage,
  scrambled,
  raw,
];

const order = { certain: 0, likely: 1, possible: 2, no: 3 } as const;

/** An encoding that a file may have, and what speaks for it. */
export interface Candidate extends Detection {
  readonly encoding: Encoding;
}

/**
 * The encodings that a file may have, by its content alone, the surest first. Empty when the bytes are known to be
 * something else than firmware (`lookAlike` then says what).
 */
export function detectEncodings(bytes: Uint8Array): Candidate[] {
  return encodingRegistry
    .map((encoding) => ({ encoding, ...encoding.detect(bytes) }))
    .filter(({ confidence }) => confidence !== 'no')
    .sort((a, b) => order[a.confidence] - order[b.confidence]);
}

/** The encoding of that name. */
export function encodingOf(id: EncodingId): Encoding {
  const found = encodingRegistry.find((encoding) => encoding.id === id);
  if (!found) throw new Error(`no such encoding: ${id}`);
  return found;
}

/** The encodings that files of this name usually have: what the extension promises, which the content may break. */
export function encodingsByName(fileName: string): EncodingId[] {
  const extension = fileName.slice(fileName.lastIndexOf('.') + 1).toLowerCase();
  return encodingRegistry.filter(({ extensions }) => extensions.includes(extension)).map(({ id }) => id);
}

/** Decodes a file as the surest of its encodings, or null when it is none. */
export function decode(bytes: Uint8Array, hint?: DecodeHint): Decoded | null {
  return detectEncodings(bytes)[0]?.encoding.decode(bytes, hint) ?? null;
}
