import { describe, expect, it } from 'vitest';
import type { RecordDetails } from '../../../src/firmware/encodings/encoding.js';
import { intelHex } from '../../../src/firmware/encodings/intel-hex.js';
import { sRecord } from '../../../src/firmware/encodings/s-record.js';

const ascii = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0));
/** An Intel HEX record with its checksum (srec_intel(5): all bytes of a record sum to zero). */
function hex(type: number, offset: number, ...data: number[]): string {
  const bytes = [data.length, Math.floor(offset / 256), offset % 256, type, ...data];
  const sum = bytes.reduce((total, byte) => total + byte, 0);
  return `:${[...bytes, (256 - (sum % 256)) % 256].map((byte) => byte.toString(16).padStart(2, '0')).join('')}`;
}
/** An S-record with its checksum (srec_motorola(5): the one's complement of the sum). */
function srec(type: number, ...fields: number[]): string {
  const bytes = [fields.length + 1, ...fields];
  const sum = bytes.reduce((total, byte) => total + byte, 0);
  return `S${type}${[...bytes, 255 - (sum % 256)].map((byte) => byte.toString(16).padStart(2, '0')).join('')}`;
}
const end = ':00000001FF';
const codes = (decoded: { problems: readonly { code: string }[] }): string[] =>
  decoded.problems.map(({ code }) => code);
const hexFile = (...lines: string[]) => intelHex.decode(ascii(lines.join('\n')));
const srecFile = (...lines: string[]) => sRecord.decode(ascii(lines.join('\n')));

describe('Intel HEX', () => {
  it('wraps inside a segment, and goes on past 64 KiB of a linear base', () => {
    const segment = hexFile(hex(2, 0, 0x10, 0x00), hex(0, 0xfffe, 1, 2, 3, 4), end);
    expect(segment.map.ranges).toEqual([
      { start: 0x10000, end: 0x10002 },
      { start: 0x1fffe, end: 0x20000 },
    ]);
    const linear = hexFile(hex(4, 0, 0x08, 0x00), hex(0, 0xfffe, 1, 2, 3, 4), end);
    expect(linear.map.ranges).toEqual([{ start: 0x0800fffe, end: 0x08010002 }]);
    const top = hexFile(hex(4, 0, 0xff, 0xff), hex(0, 0xfffe, 1, 2, 3, 4), end);
    expect(top.map.ranges).toEqual([
      { start: 0, end: 2 },
      { start: 0xfffffffe, end: 2 ** 32 },
    ]);
    for (const read of [segment, linear, top]) expect(read.problems).toEqual([]);
  });

  it('keeps the start address of both kinds', () => {
    expect(hexFile(hex(3, 0, 0x12, 0x34, 0x00, 0x10), end).entry).toBe(0x12350);
    expect(hexFile(hex(5, 0, 0xff, 0xff, 0xff, 0xff), end).entry).toBe(0xffffffff);
    expect(codes(hexFile(hex(5, 0, 0, 0, 0, 1), hex(5, 0, 0, 0, 0, 2), end))).toEqual(['several-starts']);
  });

  it.each([
    ['checksum', [`${hex(0, 0, 1).slice(0, -1)}0`, end], 'checksum', false],
    ['cut line', [hex(0, 0, 1, 2, 3).slice(0, -2), end], 'record-length', false],
    ['odd digits', [hex(0, 0, 1, 2, 3).slice(0, -1), end], 'not-hexadecimal', false],
    ['another letter', [':00G00001FF', end], 'not-hexadecimal', false],
    ['text between', ['hello', hex(0, 0, 1), end], 'not-a-record', false],
    ['no end', [hex(0, 0, 1)], 'no-end-record', false],
    ['something behind', [hex(0, 0, 1), end, hex(0, 1, 1)], 'after-end', true],
    ['unknown type', [hex(9, 0, 1), end], 'record-type', true],
    ['base of three bytes', [hex(4, 0, 1, 2, 3), end], 'record-length', false],
    ['overlap', [hex(0, 0, 1, 2), hex(0, 1, 3), end], 'overlap', true],
    ['a line of 3000 digits', [`:${'0'.repeat(3000)}`, end], 'record-length', false],
  ])('%s', (_, lines, code, whole) => {
    const read = hexFile(...lines);
    expect(codes(read)).toEqual([code]);
    expect(read.whole).toBe(whole);
  });

  it('takes lower case, any line ends and a byte order mark', () => {
    const lines = [hex(0, 0, 0xab, 0xcd), end];
    const ends = (separator: string): string =>
      (intelHex.decode(ascii(lines.join(separator) + separator)).details as RecordDetails).lineEnds;
    expect(['\n', '\r\n', '\r'].map(ends)).toEqual(['lf', 'crlf', 'cr']);
    const marked = intelHex.decode(ascii(`\xef\xbb\xbf${lines.join('\n')}\r\n`));
    expect(codes(marked)).toEqual(['byte-order-mark']);
    expect(marked.map.byteCount).toBe(2);
    expect((marked.details as RecordDetails).lineEnds).toBe('mixed');
    expect(intelHex.detect(ascii(`\xef\xbb\xbf ${lines.join('\n')}`)).confidence).toBe('certain');
    expect(intelHex.detect(ascii(': some text')).confidence).toBe('no');
    expect(intelHex.detect(ascii(':0000000100')).confidence).toBe('likely');
  });
});

describe('S-record', () => {
  it('takes addresses of two, three and four bytes', () => {
    const read = srecFile(
      srec(1, 0x10, 0x00, 1),
      srec(2, 0x12, 0x00, 0x00, 2),
      srec(3, 0xff, 0xff, 0xff, 0xff, 3),
      srec(6, 0, 0, 3),
      srec(7, 0x08, 0, 0x01, 0x01),
    );
    expect(read.problems).toEqual([]);
    expect(read.map.ranges).toEqual([
      { start: 0x1000, end: 0x1001 },
      { start: 0x120000, end: 0x120001 },
      { start: 0xffffffff, end: 2 ** 32 },
    ]);
    expect(read.entry).toBe(0x08000101);
    expect(srecFile(srec(1, 0, 0, 1), srec(8, 1, 0, 0)).entry).toBe(0x10000);
  });

  it.each([
    ['checksum', [`${srec(1, 0, 0, 1).slice(0, -1)}0`, srec(9, 0, 0)], 'checksum', false],
    ['count', [srec(1, 0, 0, 1), srec(5, 0, 2), srec(9, 0, 0)], 'record-count', false],
    ['no end', [srec(1, 0, 0, 1)], 'no-end-record', false],
    ['end behind a count', [srec(1, 0, 0, 1), srec(5, 0, 1), srec(1, 0, 1, 1)], 'no-end-record', false],
    ['reserved', [srec(4, 0, 0), srec(9, 0, 0)], 'record-type', true],
    [
      'past 32 bits',
      [srec(3, 0xff, 0xff, 0xff, 0xff, 1, 2), srec(7, 0, 0, 0, 0)],
      'address-past-32-bits',
      true,
    ],
    ['cut line', [srec(1, 0, 0, 1).slice(0, -2), srec(9, 0, 0)], 'record-length', false],
    ['too short for its address', [srec(3, 0, 0), srec(9, 0, 0)], 'record-length', false],
    ['something behind', [srec(1, 0, 0, 1), srec(9, 0, 0), 'more'], 'after-end', true],
    ['not a record', ['SX', srec(9, 0, 0)], 'not-a-record', false],
  ])('%s', (_, lines, code, whole) => {
    const read = srecFile(...lines);
    expect(codes(read)).toEqual([code]);
    expect(read.whole).toBe(whole);
  });

  // srec_cat leaves out the end record when there is no start address, and writes a count.
  it('is whole with a right count as its last word', () => {
    expect(srecFile(srec(0, 0, 0, 0x48), srec(1, 0, 0, 1), srec(5, 0, 1))).toMatchObject({
      whole: true,
      problems: [],
      entry: null,
    });
  });
});
