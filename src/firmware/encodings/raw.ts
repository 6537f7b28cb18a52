import { limits } from '../../bytes/limits.js';
import { lookAlike } from '../look-alike.js';
import { addressSpace, MemoryMap, singleSegment } from '../memory-map.js';
import { ProblemList } from '../problem.js';
import { looksLikeVectorTable } from '../vector-table.js';
import { readDfuSuffix } from './dfuse.js';
import { type Decoded, type DecodeHint, type Detection, type Encoding, notThis } from './encoding.js';

/**
 * Bits of information in a byte (Shannon), 0 for a filled area to 8 for noise, over the first `limits.entropyBytes`.
 * Programs lie between 5 and 7; enciphered or packed bytes near 8. A short file cannot reach more than log2 of its length.
 */
export function entropyOf(bytes: Uint8Array): number {
  const part = bytes.subarray(0, limits.entropyBytes);
  if (part.length === 0) return 0;
  const counts = new Float64Array(256);
  for (const byte of part) counts[byte]! += 1;
  let bits = 0;
  for (const count of counts) if (count > 0) bits -= (count / part.length) * Math.log2(count / part.length);
  return bits;
}

/** Noise of 4096 bytes measures about 7.95; programs and their tables stay well below 7.5. */
const scrambledEntropy = 7.8;
const scrambledBytes = 4096;

function detectRaw(bytes: Uint8Array): Detection {
  if (bytes.length === 0) return { confidence: 'no', because: 'the file is empty' };
  if (looksLikeVectorTable(bytes))
    return { confidence: 'likely', because: 'it begins with the vector table of a Cortex-M program' };
  const other = lookAlike(bytes, bytes.length);
  // A blank head may be meant for a loader that passes over it: still a plain program.
  if (other?.code === 'blank-head') return { confidence: 'possible', because: `it is ${other.what}` };
  if (other) return { confidence: 'no', because: `it looks like ${other.what}` };
  return {
    confidence: 'possible',
    because: 'any bytes may be a plain program; no signature says anything else',
  };
}

function detectScrambled(bytes: Uint8Array): Detection {
  if (bytes.length < scrambledBytes || looksLikeVectorTable(bytes) || lookAlike(bytes, bytes.length))
    return notThis;
  return entropyOf(bytes) >= scrambledEntropy
    ? { confidence: 'likely', because: 'its bytes look like noise, as an enciphered or packed program does' }
    : notThis;
}

function decodeAs(kind: 'raw' | 'scrambled', bytes: Uint8Array, hint: DecodeHint = {}): Decoded {
  const problems = new ProblemList();
  const start = hint.loadAddress ?? 0;
  const fits = Number.isSafeInteger(start) && start >= 0 && start + bytes.length <= addressSpace;
  if (!fits) problems.add('address-past-32-bits', 'from its load address on, the file ends past 32 bits', 0);
  // What a scrambled file will be in memory cannot be known: its map is empty.
  const map = fits && kind === 'raw' ? singleSegment(start, bytes) : new MemoryMap([]);
  return {
    encoding: kind,
    map,
    entry: null,
    whole: fits,
    problems: problems.items,
    problemsTotal: problems.total,
    details: {
      kind,
      loadAddress: hint.loadAddress ?? null,
      entropy: entropyOf(bytes),
      suffix: readDfuSuffix(bytes),
    },
  };
}

/** The bytes of the file as they will stand in memory, from an address that only the loader knows. */
export const raw: Encoding = {
  id: 'raw',
  title: 'raw binary',
  extensions: ['bin', 'img', 'rom'],
  detect: detectRaw,
  decode: (bytes, hint) => decodeAs('raw', bytes, hint),
};

/** A program that the loader deciphers. Nothing about its addresses or vectors can be seen. */
export const scrambled: Encoding = {
  id: 'scrambled',
  title: 'scrambled binary',
  extensions: ['bin', 'enc'],
  detect: detectScrambled,
  decode: (bytes, hint) => decodeAs('scrambled', bytes, hint),
};
