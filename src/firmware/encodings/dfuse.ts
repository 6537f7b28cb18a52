import { hasAscii, latin1, u16At, u32At } from '../../bytes/cursor.js';
import { limits } from '../../bytes/limits.js';
import { crcOf } from '../checksums.js';
import { MemoryMapBuilder } from '../memory-map.js';
import { ProblemList } from '../problem.js';
import {
  type Decoded,
  type Detection,
  type DfuSuffix,
  type DfuseDetails,
  type Encoding,
  notThis,
} from './encoding.js';

/** Shortest suffix: USB DFU 1.1 gives it 16 bytes, the length byte leaves room for more. */
const suffixBytes = 16;
const prefixBytes = 11;
const targetBytes = 274;

/**
 * The DFU suffix at the end of a file, or null when its mark is not there. It is written back to front: read from the
 * end, the fields come in the order of the specification. Layout: USB DFU 1.1 appendix B as dfu-util reads it. The
 * CRC covers all bytes but its own four.
 */
export function readDfuSuffix(bytes: Uint8Array): DfuSuffix | null {
  const end = bytes.length;
  if (end < suffixBytes || !hasAscii(bytes, end - 8, 'UFD')) return null;
  const length = bytes[end - 5]!;
  if (length < suffixBytes || length > end) return null;
  return {
    at: end - length,
    bytes: length,
    device: u16At(bytes, end - 16),
    product: u16At(bytes, end - 14),
    vendor: u16At(bytes, end - 12),
    version: u16At(bytes, end - 10),
    crc: { written: u32At(bytes, end - 4), computed: crcOf('crc-32/jamcrc', bytes.subarray(0, end - 4)) },
  };
}

function detect(bytes: Uint8Array): Detection {
  if (!hasAscii(bytes, 0, 'DfuSe')) return notThis;
  return bytes[5] === 1 && (bytes.length === prefixBytes || hasAscii(bytes, prefixBytes, 'Target'))
    ? { confidence: 'certain', because: 'it begins with the mark of a DfuSe file and its first target' }
    : { confidence: 'likely', because: 'it begins with the mark of a DfuSe file' };
}

/**
 * DfuSe: a prefix, targets (one for each alternate setting of the loader), their elements with address and bytes, and
 * the DFU suffix. Source: layout as dfu-util's dfuse.c reads it, which follows ST's UM0391.
 */
function decode(bytes: Uint8Array): Decoded {
  const problems = new ProblemList();
  const builder = new MemoryMapBuilder(problems);
  const targets: DfuseDetails['targets'][number][] = [];
  const suffix = readDfuSuffix(bytes);
  const end = suffix ? suffix.at : bytes.length;
  let lost = false;
  const lose = (code: string, text: string, at: number): void => {
    problems.add(code, text, at);
    lost = true;
  };

  if (!suffix) lose('no-suffix', 'the DFU suffix is not there', bytes.length);
  else if (suffix.crc.written !== suffix.crc.computed)
    problems.add('checksum', 'the CRC of the DFU suffix is wrong', bytes.length - 4);
  if (!hasAscii(bytes, 0, 'DfuSe') || bytes.length < prefixBytes)
    lose('signature', 'the prefix of a DfuSe file is not there', 0);
  else {
    if (bytes[5] !== 1) problems.add('version', `version ${bytes[5]} of the format; only 1 is known`, 5);
    const size = u32At(bytes, 6);
    // Writers differ: some count the suffix, some do not.
    if (size !== end && size !== bytes.length)
      lose('size', `the prefix says ${size} bytes, the file has ${end} before its suffix`, 6);
    const count = bytes[10]!;
    let at = prefixBytes;
    for (let i = 0; i < count && at >= 0; i++) at = readTarget(at);
    if (at >= 0 && at < end) problems.add('trailing-bytes', 'bytes follow the last target', at);
  }

  /** Reads one target and answers where the next one begins, or -1 when nothing after it can be found. */
  function readTarget(at: number): number {
    if (at + targetBytes > end || !hasAscii(bytes, at, 'Target')) {
      lose('target', 'a target is announced that is not there', at);
      return -1;
    }
    const named = u32At(bytes, at + 7) !== 0;
    const name = latin1(bytes.subarray(at + 11, at + 266)).split('\0', 1)[0]!;
    const size = u32At(bytes, at + 266);
    const elements = u32At(bytes, at + 270);
    if (targets.length < limits.listed)
      targets.push({ altSetting: bytes[at + 6]!, name: named ? name : null, elements });
    let place = at + targetBytes;
    const stop = place + size;
    if (stop > end) lose('past-end', 'a target ends past the file', at + 266);
    for (let i = 0; i < elements; i++) {
      const length = place + 8 <= end ? u32At(bytes, place + 4) : -1;
      if (length < 0 || place + 8 + length > end) {
        lose('past-end', 'an element ends past the file', place);
        return -1;
      }
      builder.add(u32At(bytes, place), bytes.subarray(place + 8, place + 8 + length), place);
      place += 8 + length;
    }
    if (place !== stop)
      problems.add('target-size', 'the elements of a target are not as long as it says', at + 266);
    return place;
  }

  return {
    encoding: 'dfuse',
    map: builder.build(),
    entry: null,
    whole: !lost && !builder.overLimit,
    problems: problems.items,
    problemsTotal: problems.total,
    details: { kind: 'dfuse', version: bytes[5] ?? 0, targets, suffix },
  };
}

/** DfuSe. Source: dfu-util's dfuse.c and dfu_file.c (USB DFU 1.1; ST UM0391). */
export const dfuse: Encoding = { id: 'dfuse', title: 'DfuSe', extensions: ['dfu'], detect, decode };
