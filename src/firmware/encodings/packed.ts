import { latin1, u32At } from '../../bytes/cursor.js';
import { MemoryMap } from '../memory-map.js';
import { ProblemList } from '../problem.js';
import { type Decoded, type Detection, type Encoding, notThis } from './encoding.js';

const isGzip = (bytes: Uint8Array): boolean => bytes[0] === 0x1f && bytes[1] === 0x8b && bytes[2] === 8;

function detect(bytes: Uint8Array): Detection {
  return isGzip(bytes)
    ? { confidence: 'certain', because: 'it begins with the header of a gzip file' }
    : notThis;
}

/** Ten bytes of header, eight behind the packed bytes. */
const leastBytes = 18;

/** Offset after the optional "extra" field (flag bit 2), or the end of the file. */
function afterExtra(bytes: Uint8Array): number {
  if (Math.floor(bytes[3]! / 4) % 2 === 0) return 10;
  return Math.min(bytes.length, 12 + bytes[10]! + bytes[11]! * 256);
}

/** Reads the header only: the content is not unpacked, so the map is empty and never whole. Source: RFC 1952. */
function decode(bytes: Uint8Array): Decoded {
  const problems = new ProblemList();
  let name: string | null = null;
  if (!isGzip(bytes)) problems.add('signature', 'the header of a gzip file is not there', 0);
  else if (bytes.length < leastBytes)
    problems.add('past-end', 'the file ends inside its header', bytes.length);
  else if (Math.floor(bytes[3]! / 8) % 2 === 1) {
    const from = afterExtra(bytes);
    const end = bytes.indexOf(0, from);
    name = latin1(bytes.subarray(from, Math.min(end === -1 ? bytes.length : end, from + 255)));
  }
  return {
    encoding: 'packed-gzip',
    map: new MemoryMap([]),
    entry: null,
    whole: false,
    problems: problems.items,
    problemsTotal: problems.total,
    details: {
      kind: 'packed-gzip',
      name,
      contentBytes: isGzip(bytes) && bytes.length >= leastBytes ? u32At(bytes, bytes.length - 4) : null,
    },
  };
}

/** A program packed with gzip, for loaders that unpack. Source: RFC 1952. */
export const packedGzip: Encoding = {
  id: 'packed-gzip',
  title: 'gzip',
  extensions: ['gz'],
  detect,
  decode,
};
