import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readCapture } from '../../src/machine/capture.js';
import { decimalDifference, decimalText } from '../../src/machine/decimal.js';
import { parseGcode } from '../../src/machine/gcode.js';
import { type MachineRecord, readRecord } from '../../src/machine/record.js';
import { recordCapture } from '../../src/machine/record-capture.js';
import { writeRecord } from '../../src/machine/write-record.js';
import { sample } from '../board/profiles.js';

const tansy = sample('tansy');
const keys = ['LK_RELEASE', 'LK_BOARD'];
const hidden = /[\p{Cc}\p{Cf}\p{Zl}\p{Zp}\p{Cs}]/u;

/** Lines of which captures are made, and what lines do to them. */
const pieces = fc.constantFrom(
  'M92 X80.00 Y80',
  'M851 Z-1.85',
  'M145 S0 H200',
  'M790 K3',
  '> M503',
  '> M500',
  '> M92 X81',
  'ok',
  'echo:',
  'Recv: ',
  '[14:02:11] ',
  'LK_BOARD:tansy LK_RELEASE:30',
  'FIRMWARE_NAME:x',
  'G20',
  'N1 M115*39',
  'start',
  'error: no',
  '(',
  '\u001B[31m',
  '\u202E',
  '\b',
  '\u0000',
  '\uFFFD',
  ' ',
  '\t',
  '\r\n',
  '\n',
  '\r',
);
const likely = fc.array(fc.oneof({ weight: 6, arbitrary: pieces }, fc.string({ unit: 'binary' })), {
  maxLength: 60,
});
const anyCapture = fc.oneof(
  likely.map((parts) => parts.join('')),
  likely.map((parts) => parts.join('\n')),
  fc.uint8Array({ maxLength: 400 }).map((bytes) => new TextDecoder().decode(bytes)),
);

describe('any capture', () => {
  test('is read, recorded, written without a character that a terminal obeys, and read back', () => {
    fc.assert(
      fc.property(anyCapture, (text) => {
        const { record, lacks, contradictions } = recordCapture(
          readCapture(text, keys),
          tansy,
          {},
          undefined,
        );
        if (contradictions.length > 0) return;
        const written = writeRecord(
          record,
          lacks.map((lack) => lack.text),
        );
        expect(hidden.test(written.replaceAll('\n', ''))).toBe(false);
        expect(readRecord(written, 'mine.yaml', tansy)).toEqual(record);
      }),
      { numRuns: 300 },
    );
  });

  test('is read in bounded time, however it repeats itself', () => {
    const most = 1024 * 1024;
    for (const piece of [
      'M92 X80\n',
      'M92 X80',
      '> M92 X1\n',
      'ok\n',
      '\n',
      'A:',
      'LK_BOARD:a ',
      'echo:',
      '[',
      '12:34:56 ',
      '\u001B[',
      '\u001B]',
      '\b',
      '(',
      'M1 (',
      'FIRMWARE_NAME:\n',
      '- ',
      '0',
      '$ ',
    ]) {
      const start = performance.now();
      readCapture(piece.repeat(Math.ceil(most / piece.length)), keys);
      expect(performance.now() - start, JSON.stringify(piece)).toBeLessThan(4000);
    }
  });
});

test('a capture of nothing but invisible characters leaves a record that can be read again', () => {
  for (const piece of [
    '\u202E'.repeat(200),
    '\u{E0041}'.repeat(100),
    '"\\'.repeat(100),
    '\u0001 '.repeat(100),
  ]) {
    const text = `LK_BOARD:tansy LK_RELEASE:30\nok\n> M503\n${`M92 X80 ;${piece}\n`.repeat(5000)}ok\n`;
    const { record } = recordCapture(readCapture(text, keys), tansy, {}, undefined);
    const read = readRecord(writeRecord(record, []), 'mine.yaml', tansy);
    expect(read.identity).toEqual(record.identity);
    expect(read.capture).toEqual(record.capture.slice(0, read.capture.length));
  }
});

test('a record of any content is written and read back as it was', () => {
  const text = fc.string({ unit: 'binary', maxLength: 40 });
  const word = fc.stringMatching(/^[A-Za-z0-9._-]{1,20}$/);
  const setting = fc.record(
    {
      word: fc.integer({ min: 0, max: 9999 }).map((number) => `M${number}`),
      letter: fc.constantFrom(...'ABEHNOSTXY'),
      value: fc.double({ noNaN: true, noDefaultInfinity: true }).map((value) => value + 0),
      unit: fc.constantFrom('mm', 'mm/s²', 'on', 'null', '1e3'),
      line: text,
    },
    { requiredKeys: ['word', 'letter', 'value', 'line'], noNullPrototype: true },
  );
  const records: fc.Arbitrary<MachineRecord> = fc.record({
    board: fc.constant('tansy'),
    revision: fc.integer({ min: 1, max: 99 }),
    options: fc.record(
      {
        supply: fc.constantFrom('small', '24V/6.5A', 'unsure'),
        installed: fc.constantFrom('1', '30', 'none'),
        sets: fc.constantFrom<Record<string, string>>({}, { loader: 'newer' }),
      },
      { requiredKeys: ['sets'], noNullPrototype: true },
    ),
    lastFileName: fc.string({ unit: 'binary', minLength: 1, maxLength: 100 }),
    identity: fc.dictionary(word, text, { maxKeys: 5, noNullPrototype: true }),
    settings: fc.array(setting, { maxLength: 5 }),
    capture: fc.array(text, { maxLength: 5 }),
  });
  fc.assert(
    fc.property(records, (record) => {
      expect(readRecord(writeRecord(record, ['what is\nmissing: \u202E']), 'mine.yaml', tansy)).toEqual(
        record,
      );
    }),
    { numRuns: 300 },
  );
});

// RS274/NGC (NISTIR 6556) 3.3.1: letters of either case, blanks anywhere.
test('a line of words is read the same in small letters and with blanks anywhere', () => {
  const word = fc.tuple(
    fc.constantFrom(...'XYZEPIDS'),
    fc.double({ min: -99999, max: 99999, noNaN: true }).map((value) => Number(value.toFixed(3)) + 0),
  );
  fc.assert(
    fc.property(
      fc.array(word, { minLength: 1, maxLength: 6 }),
      fc.constantFrom(' ', '\t', '  '),
      (all, blank) => {
        const plain = `M92${all.map(([letter, value]) => letter + decimalText(value)).join('')}`;
        const values = (text: string) => parseGcode(text).words.map(({ letter, value }) => [letter, value]);
        expect(values(plain)).toEqual([['M', 92], ...all]);
        expect(values([...plain.toLowerCase()].join(blank))).toEqual(values(plain));
      },
    ),
  );
});

test('a difference of decimals added up again is the number', () => {
  const decimal = fc.tuple(fc.integer({ min: -1e9, max: 1e9 }), fc.integer({ min: 0, max: 4 }));
  fc.assert(
    fc.property(decimal, decimal, ([a, left], [b, right]) => {
      // Whole numbers of ten-thousandths are exact, and the second opinion.
      const exact = (number: number, scale: number): number => number * 10 ** (4 - scale);
      const value = (number: number, scale: number): number => Number(`${number}e-${scale}`);
      const whole = exact(b, right) - exact(a, left);
      expect(decimalDifference(value(a, left), value(b, right))).toBe(Number(`${whole}e-4`));
    }),
  );
});
