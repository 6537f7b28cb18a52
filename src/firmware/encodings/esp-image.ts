import { u16At, u32At } from '../../bytes/cursor.js';
import { alignUp, MemoryMapBuilder } from '../memory-map.js';
import { hex, ProblemList } from '../problem.js';
import {
  type Decoded,
  type DecodeHint,
  type Detection,
  type Encoding,
  type EspDetails,
  notThis,
} from './encoding.js';

/** Chip ids of the extended header. Source: esptool, `IMAGE_CHIP_ID` of each target. */
export const espChips: ReadonlyMap<number, string> = new Map([
  [0, 'ESP32'],
  [2, 'ESP32-S2'],
  [5, 'ESP32-C3'],
  [9, 'ESP32-S3'],
  [12, 'ESP32-C2'],
  [13, 'ESP32-C6'],
  [16, 'ESP32-H2'],
  [18, 'ESP32-P4'],
  [20, 'ESP32-C61'],
  [23, 'ESP32-C5'],
  [25, 'ESP32-H21'],
  [28, 'ESP32-H4'],
  [31, 'ESP32-E22'],
  [32, 'ESP32-S31'],
]);

const magic = 0xe9;
/** First byte of the second layout of ESP8266 images, in which another image follows the first segment. */
const magicSecondLayout = 0xea;
const digestBytes = 32;
const seed = 0xef;
/** Where images put the partition table: the default offset of the maker's build system. */
const partitionTableOffset = 0x8000;

interface Walk {
  segments: { address: number; bytes: number; at: number }[];
  /** Offset after the last segment that fits. */
  end: number;
  /** True when all announced segments lie inside the file. */
  fits: boolean;
  checksum: { at: number; written: number; computed: number } | null;
}

/** Follows the segments behind a header of 24 bytes (ESP32 and later) or 8 (ESP8266). */
function walk(bytes: Uint8Array, headerBytes: 24 | 8): Walk {
  const count = bytes[1] ?? 0;
  const segments: Walk['segments'] = [];
  let at: number = headerBytes;
  let computed = seed;
  for (let i = 0; i < count; i++) {
    if (at + 8 > bytes.length) return { segments, end: at, fits: false, checksum: null };
    const length = u32At(bytes, at + 4);
    if (at + 8 + length > bytes.length) return { segments, end: at, fits: false, checksum: null };
    segments.push({ address: u32At(bytes, at), bytes: length, at });
    for (let k = at + 8; k < at + 8 + length; k++) computed ^= bytes[k]!;
    at += 8 + length;
  }
  // Zeros fill up so that the checksum is the last byte of a row of 16.
  const place = alignUp(at + 1, 16) - 1;
  const written = bytes[place];
  return {
    segments,
    end: at,
    fits: true,
    checksum: written === undefined ? null : { at: place, written, computed },
  };
}

const sumsUp = ({ checksum }: Walk): boolean => checksum !== null && checksum.written === checksum.computed;

/** The header whose segments end inside the file, better still with the right checksum; the longer one when in doubt. */
function readHeader(bytes: Uint8Array): { header: EspDetails['header']; found: Walk } {
  const long = walk(bytes, 24);
  if (long.fits && sumsUp(long)) return { header: 'esp32', found: long };
  const short = walk(bytes, 8);
  if (short.fits && sumsUp(short)) return { header: 'esp8266', found: short };
  return { header: 'esp32', found: long };
}

function detect(bytes: Uint8Array): Detection {
  const count = bytes[1] ?? 0;
  if (bytes[0] === magicSecondLayout && count === 4 && bytes.length > 16)
    return { confidence: 'possible', because: 'it begins like the second layout of ESP8266 images' };
  if (bytes[0] !== magic || count === 0 || count > 16) return notThis;
  const { found } = readHeader(bytes);
  if (found.fits && sumsUp(found))
    return {
      confidence: 'certain',
      because: 'it begins with the mark of an ESP image, and its checksum is right',
    };
  return {
    confidence: 'likely',
    because: 'it begins with the mark of an ESP image and a number of segments',
  };
}

/** Offset of an ESP partition table (AA 50) at its usual place in a file, or null. */
export function espPartitionTableAt(bytes: Uint8Array): number | null {
  return bytes[partitionTableOffset] === 0xaa && bytes[partitionTableOffset + 1] === 0x50
    ? partitionTableOffset
    : null;
}

/**
 * Application image for ESP chips: header, segments with the addresses at which the program sees them, checksum, and a
 * SHA-256 when the header says so. The addresses are those of the memory, not of the flash chip: in flash the image
 * lies as it is, `imageBytes` long. Source: esptool's documentation, "Firmware Image Format".
 */
function decode(bytes: Uint8Array, hint: DecodeHint = {}): Decoded {
  const problems = new ProblemList();
  const builder = new MemoryMapBuilder(problems);
  const count = bytes[1] ?? 0;
  let lost = false;
  const lose = (code: string, text: string, at: number): void => {
    problems.add(code, text, at);
    lost = true;
  };

  if (bytes[0] === magicSecondLayout)
    lose('esp8266-second-layout', 'it is the second layout of ESP8266 images, which is not read here', 0);
  else if (bytes[0] !== magic) lose('signature', 'the mark of an ESP image is not there', 0);
  if (bytes.length < 8) lose('past-end', 'the file ends inside its header', bytes.length);
  if (count === 0 || count > 16)
    problems.add('segment-count', `it claims ${count} segments; images have 1 to 16`, 1);

  const { header, found } = readHeader(bytes);
  if (!lost)
    for (const { address, bytes: length, at } of found.segments) {
      if (length % 4 !== 0) problems.add('segment-size', 'the size of a segment is no multiple of 4', at + 4);
      builder.add(address, bytes.subarray(at + 8, at + 8 + length), at);
    }
  if (!found.fits) lose('past-end', 'a segment ends past the file', found.end);
  else if (!found.checksum) lose('past-end', 'the file ends before its checksum', bytes.length);
  else if (!sumsUp(found))
    problems.add(
      'checksum',
      `the checksum is ${hex(found.checksum.written, 2)}, the segments give ${hex(found.checksum.computed, 2)}`,
      found.checksum.at,
    );

  const extended = header === 'esp32' && bytes.length >= 24;
  const bodyEnd = found.checksum ? found.checksum.at + 1 : Math.min(found.end, bytes.length);
  let imageBytes = bodyEnd;
  let digest: EspDetails['digest'] = 'none';
  if (extended && bytes[23] === 1 && found.checksum) {
    imageBytes = bodyEnd + digestBytes;
    if (imageBytes > bytes.length) {
      imageBytes = bytes.length;
      lose('past-end', 'the file ends before its SHA-256', bytes.length);
    } else if (!hint.sha256) digest = 'not-checked';
    else {
      const written = [...bytes.subarray(bodyEnd, imageBytes)]
        .map((byte) => byte.toString(16).padStart(2, '0'))
        .join('');
      digest = hint.sha256(bytes.subarray(0, bodyEnd)) === written ? 'equal' : 'different';
      if (digest === 'different')
        problems.add('digest', 'the appended SHA-256 is not that of the image', bodyEnd);
    }
  }
  const chipId = extended ? u16At(bytes, 12) : null;
  return {
    encoding: 'esp-image',
    map: builder.build(),
    entry: bytes.length >= 8 ? u32At(bytes, 4) : null,
    whole: !lost && !builder.overLimit,
    problems: problems.items,
    problemsTotal: problems.total,
    details: {
      kind: 'esp-image',
      header,
      chipId,
      chip: chipId === null ? null : (espChips.get(chipId) ?? null),
      segmentCount: count,
      segments: found.segments.map(({ address, bytes: length }) => ({ address, bytes: length })),
      flashMode: ['QIO', 'QOUT', 'DIO', 'DOUT'][bytes[2] ?? 255] ?? null,
      flashSizeAndFrequency: bytes[3] ?? 0,
      checksum: found.checksum,
      digest,
      imageBytes,
      trailingBytes: bytes.length - imageBytes,
      partitionTableAt: espPartitionTableAt(bytes),
    },
  };
}

/** ESP application image. Source: esptool's documentation, "Firmware Image Format". */
export const espImage: Encoding = {
  id: 'esp-image',
  title: 'ESP image',
  extensions: ['bin'],
  detect,
  decode,
};
