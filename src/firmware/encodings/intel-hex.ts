import { MemoryMapBuilder } from '../memory-map.js';
import { hex, ProblemList } from '../problem.js';
import { type Decoded, type Detection, type Encoding, notThis } from './encoding.js';
import { digitRun, firstPrinted, hasByteOrderMark, LineWalk, PairReader } from './records.js';

/** `:` and at least byte count, offset, type and checksum: eleven characters. */
function detect(bytes: Uint8Array): Detection {
  const at = firstPrinted(bytes);
  if (bytes[at] !== 0x3a) return notThis;
  if (digitRun(bytes, at + 1, 10) < 10) return notThis;
  const pairs = new PairReader();
  const line = new LineWalk(bytes, at).next();
  if (
    line &&
    pairs.read(bytes, line.from + 1, line.to, new ProblemList()) &&
    pairs.sum(0, pairs.length) === 0
  )
    return { confidence: 'certain', because: 'it begins with a record of Intel HEX whose checksum is right' };
  return { confidence: 'likely', because: 'it begins with a colon and hexadecimal digits' };
}

/**
 * Intel HEX: data records (00), end (01), extended segment (02) and linear (04) addresses, start addresses (03, 05).
 * Layout and address arithmetic after srec_intel(5): offsets wrap at 64 KiB inside a segment and at 4 GiB else.
 * A record whose checksum is wrong gives no data, since its address cannot be believed either.
 */
function decode(bytes: Uint8Array): Decoded {
  const problems = new ProblemList();
  const builder = new MemoryMapBuilder(problems);
  const pairs = new PairReader();
  const walk = new LineWalk(bytes, hasByteOrderMark(bytes) ? 3 : 0);
  let base = 0;
  let segmented = false;
  let entry: number | null = null;
  let records = 0;
  let dataRecords = 0;
  let lost = false;
  let end = false;
  let afterEnd = false;

  if (hasByteOrderMark(bytes))
    problems.add('byte-order-mark', 'a byte order mark stands before the first record', 0);
  for (let line = walk.next(); line && !builder.overLimit; line = walk.next()) {
    if (end) {
      if (!afterEnd) problems.add('after-end', 'something follows the record that ends the file', line.from);
      afterEnd = true;
      continue;
    }
    if (bytes[line.from] !== 0x3a) {
      problems.add('not-a-record', 'a line does not begin with a colon', line.from);
      lost = true;
      continue;
    }
    if (!pairs.read(bytes, line.from + 1, line.to, problems)) {
      lost = true;
      continue;
    }
    const count = pairs.bytes[0]!;
    if (pairs.length < 5 || pairs.length !== count + 5) {
      problems.add('record-length', 'a record is not as long as its count says', line.from);
      lost = true;
      continue;
    }
    if (pairs.sum(0, pairs.length) !== 0) {
      problems.add('checksum', 'the checksum of a record is wrong', line.from);
      lost = true;
      continue;
    }
    records += 1;
    const offset = pairs.number(1, 2);
    const type = pairs.bytes[3]!;
    const data = pairs.bytes.subarray(4, 4 + count);
    const wanted = [count, 0, 2, 4, 2, 4][type];
    if (wanted === undefined) {
      problems.add('record-type', `records of type ${hex(type, 2)} are not in the format`, line.from);
      continue;
    }
    if (count !== wanted) {
      problems.add(
        'record-length',
        `a record of type ${hex(type, 2)} holds ${count} bytes, not ${wanted}`,
        line.from,
      );
      lost = true;
      continue;
    }
    if (type === 0) {
      dataRecords += 1;
      if (segmented) {
        const first = Math.min(count, 0x10000 - offset);
        builder.add(base + offset, data.subarray(0, first), line.from, true);
        builder.add(base, data.subarray(first), line.from, true);
      } else {
        const first = Math.min(count, 2 ** 32 - base - offset);
        builder.add(base + offset, data.subarray(0, first), line.from, true);
        builder.add(0, data.subarray(first), line.from, true);
      }
    } else if (type === 1) end = true;
    else if (type === 2) {
      base = pairs.number(4, 2) * 16;
      segmented = true;
    } else if (type === 4) {
      base = pairs.number(4, 2) * 65_536;
      segmented = false;
    } else {
      // Type 3 gives CS and IP, of which the address is made as the processor would.
      const start = type === 3 ? pairs.number(4, 2) * 16 + pairs.number(6, 2) : pairs.number(4, 4);
      if (entry !== null && entry !== start)
        problems.add('several-starts', 'a second record gives another start address', line.from);
      entry = start;
    }
  }
  if (!end && !builder.overLimit)
    problems.add('no-end-record', 'the record that ends the file is not there', bytes.length);
  return {
    encoding: 'intel-hex',
    map: builder.build(),
    entry,
    whole: end && !lost && !builder.overLimit,
    problems: problems.items,
    problemsTotal: problems.total,
    details: {
      kind: 'intel-hex',
      records,
      dataRecords,
      endRecord: end,
      lineEnds: walk.lineEnds,
      header: null,
    },
  };
}

/** Intel HEX. Source: srec_intel(5), which follows Intel's specification of 1988. */
export const intelHex: Encoding = {
  id: 'intel-hex',
  title: 'Intel HEX',
  extensions: ['hex', 'ihx', 'ihex', 'h86', 'a43', 'eep'],
  detect,
  decode,
};
