import { describe, expect, it } from 'vitest';
import { latin1 } from '../../src/bytes/cursor.js';
import { intelHex } from '../../src/firmware/encodings/intel-hex.js';
import { sRecord } from '../../src/firmware/encodings/s-record.js';

const ascii = (text: string): Uint8Array => new TextEncoder().encode(text);
const hello = 'Hello, World\n';

describe('Intel HEX', () => {
  // srec_intel(5), EXAMPLE.
  it('the sample of the manual page', () => {
    const read = intelHex.decode(ascii(':0D00000048656C6C6F2C20576F726C640AA1\n:00000001FF\n'));
    expect(read.problems).toEqual([]);
    expect(read.map.segments.map(({ start, bytes }) => [start, latin1(bytes)])).toEqual([[0, hello]]);
    expect(read).toMatchObject({
      entry: null,
      whole: true,
      details: { records: 2, dataRecords: 1, lineEnds: 'lf' },
    });
  });

  // Records that are passed around as examples of the format; each sums to 0 modulo 256.
  it('known records: data, linear and segment base, start', () => {
    const gap = intelHex.decode(ascii(':0B0010006164647265737320676170A7\n:00000001FF'));
    expect(gap.map.segments.map(({ start, bytes }) => [start, latin1(bytes)])).toEqual([
      [0x10, 'address gap'],
    ]);
    const linear = intelHex.decode(
      ascii(':020000040800F2\n:0300300002337A1E\n:04000005000000CD2A\n:00000001FF'),
    );
    expect(linear.map.ranges).toEqual([{ start: 0x08000030, end: 0x08000033 }]);
    expect(linear.entry).toBe(0xcd);
    expect(linear.problems).toEqual([]);
    const segment = intelHex.decode(ascii(':020000021200EA\n:0300300002337A1E\n:00000001FF'));
    expect(segment.map.ranges).toEqual([{ start: 0x12030, end: 0x12033 }]);
  });
});

describe('S-record', () => {
  // srec_motorola(5), EXAMPLE.
  it('the sample of the manual page', () => {
    const read = sRecord.decode(
      ascii('S00600004844521B\nS110000048656C6C6F2C20576F726C640A9D\nS5030001FB\nS9030000FC\n'),
    );
    expect(read.problems).toEqual([]);
    expect(read.map.segments.map(({ start, bytes }) => [start, latin1(bytes)])).toEqual([[0, hello]]);
    expect(read).toMatchObject({
      entry: 0,
      whole: true,
      details: { header: 'HDR', dataRecords: 1, endRecord: true },
    });
  });

  // Records that are passed around as examples of the format.
  it('known records of other widths', () => {
    const read = sRecord.decode(
      ascii(
        'S00F000068656C6C6F202020202000003C\nS11F00007C0802A6900100049421FFF07C6C1B787C8C23783C6000003863000026\nS70500000000FA',
      ),
    );
    expect(read.problems).toEqual([]);
    expect(read.map.ranges).toEqual([{ start: 0, end: 28 }]);
    expect(sRecord.decode(ascii('S804000000FB')).problems).toEqual([]);
  });
});
