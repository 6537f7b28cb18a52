import { latin1 } from '../../bytes/cursor.js';
import { MemoryMapBuilder } from '../memory-map.js';
import { ProblemList } from '../problem.js';
import { type Decoded, type Detection, type Encoding, notThis } from './encoding.js';
import { digitRun, firstPrinted, hasByteOrderMark, LineWalk, PairReader } from './records.js';

/** Bytes of the address field of S0 to S9; S4 is reserved. */
const addressBytes: readonly (number | null)[] = [2, 2, 3, 4, null, 2, 3, 4, 3, 2];

/** `S`, a type and at least count, two address bytes and checksum: ten characters. */
function detect(bytes: Uint8Array): Detection {
  const at = firstPrinted(bytes);
  const type = (bytes[at + 1] ?? 0) - 0x30;
  if (bytes[at] !== 0x53 || type < 0 || type > 9 || digitRun(bytes, at + 2, 8) < 8) return notThis;
  const pairs = new PairReader();
  const line = new LineWalk(bytes, at).next();
  if (
    line &&
    pairs.read(bytes, line.from + 2, line.to, new ProblemList()) &&
    pairs.sum(0, pairs.length) === 255
  )
    return { confidence: 'certain', because: 'it begins with an S-record whose checksum is right' };
  return { confidence: 'likely', because: 'it begins with S, a digit and hexadecimal digits' };
}

/**
 * Motorola S-records: header (S0), data with addresses of 2, 3 or 4 bytes (S1 to S3), record counts (S5, S6), ends with
 * start addresses (S7 to S9). Layout after srec_motorola(5). A record whose checksum is wrong gives no data.
 */
function decode(bytes: Uint8Array): Decoded {
  const problems = new ProblemList();
  const builder = new MemoryMapBuilder(problems);
  const pairs = new PairReader();
  const walk = new LineWalk(bytes, hasByteOrderMark(bytes) ? 3 : 0);
  let header: string | null = null;
  let entry: number | null = null;
  let records = 0;
  let dataRecords = 0;
  let lost = false;
  let end = false;
  let counted = false;
  let afterEnd = false;

  if (hasByteOrderMark(bytes))
    problems.add('byte-order-mark', 'a byte order mark stands before the first record', 0);
  for (let line = walk.next(); line && !builder.overLimit; line = walk.next()) {
    if (end) {
      if (!afterEnd) problems.add('after-end', 'something follows the record that ends the file', line.from);
      afterEnd = true;
      continue;
    }
    const type = (bytes[line.from + 1] ?? 0) - 0x30;
    if (bytes[line.from] !== 0x53 || line.to - line.from < 2 || type < 0 || type > 9) {
      problems.add('not-a-record', 'a line does not begin with S and a digit', line.from);
      lost = true;
      continue;
    }
    if (!pairs.read(bytes, line.from + 2, line.to, problems)) {
      lost = true;
      continue;
    }
    const width = addressBytes[type] ?? null;
    const count = pairs.bytes[0]!;
    if (pairs.length < 1 || pairs.length !== count + 1 || count < (width ?? 0) + 1) {
      problems.add('record-length', 'a record is not as long as its count says', line.from);
      lost = true;
      continue;
    }
    if (pairs.sum(0, pairs.length) !== 255) {
      problems.add('checksum', 'the checksum of a record is wrong', line.from);
      lost = true;
      continue;
    }
    records += 1;
    if (width === null) {
      problems.add('record-type', 'S4 records are not in the format', line.from);
      continue;
    }
    const address = pairs.number(1, width);
    const data = pairs.bytes.subarray(1 + width, count);
    if (type === 0) header ??= latin1(data);
    else if (type <= 3) {
      dataRecords += 1;
      counted = false;
      builder.add(address, data, line.from, true);
    } else if (data.length > 0) {
      problems.add('record-length', `an S${type} record holds data`, line.from);
    } else if (type <= 6) {
      counted = address === dataRecords;
      if (!counted) {
        problems.add(
          'record-count',
          `${dataRecords} data records, but the file counts ${address}`,
          line.from,
        );
        lost = true;
      }
    } else {
      entry = address;
      end = true;
    }
  }
  // Tools leave out the end record when there is no start address; a count as the last word says as much.
  if (!end && !counted && !builder.overLimit)
    problems.add('no-end-record', 'the record that ends the file is not there', bytes.length);
  return {
    encoding: 's-record',
    map: builder.build(),
    entry,
    whole: (end || counted) && !lost && !builder.overLimit,
    problems: problems.items,
    problemsTotal: problems.total,
    details: { kind: 's-record', records, dataRecords, endRecord: end, lineEnds: walk.lineEnds, header },
  };
}

/** Motorola S-records. Source: srec_motorola(5). */
export const sRecord: Encoding = {
  id: 's-record',
  title: 'Motorola S-record',
  extensions: ['srec', 's19', 's28', 's37', 'mot', 'sx', 's'],
  detect,
  decode,
};
