import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { identityKeys, makeRecord } from '../../src/core/make-record.js';
import { readCapture } from '../../src/machine/capture.js';
import { parseGcode } from '../../src/machine/gcode.js';
import { readRecord } from '../../src/machine/record.js';
import { storedSettings } from '../../src/machine/stored-settings.js';
import { recordText } from '../../src/machine/write-record.js';
import { type Profile, readBoard } from '../support/board.js';

const root = join(import.meta.dirname, '../..');
const tansy: Profile = readBoard('tansy');
const sample = (name: string): string => readFileSync(join(root, `samples/captures/${name}.txt`), 'utf8');
const keys = Object.values(identityKeys(tansy));
const settingsOf = (text: string): string[] =>
  storedSettings(readCapture(text, keys)).settings.map(
    ({ word, letter, value }) => `${word} ${letter}${value}`,
  );

// RS274/NGC (Kramer, NISTIR 6556, section 3.3): the examples of the standard and its rules for numbers and comments.
describe('a line of G-code', () => {
  const wordsOf = (line: string): string =>
    parseGcode(line)
      .words.map(({ letter, value }) => `${letter}${value}`)
      .join(' ');
  it.each([
    ['G0X +0. 12 34Y 7', 'G0 X0.1234 Y7'],
    ['g0 x+0.1234 y7', 'G0 X0.1234 Y7'],
    ['G1 X+.5 Y5. Z-0', 'G1 X0.5 Y5 Z0'],
    ['/N10 G1 (a comment) X1 ; to the end', 'G1 X1'],
    ['M92 X80.00(steps)Y80', 'M92 X80 Y80'],
  ])('%s', (line, words) => {
    expect(wordsOf(line)).toBe(words);
    expect(parseGcode(line).fault).toBeNull();
  });

  it.each(['G1 X1.2.3', 'G1 (open', 'G1 X--1', 'G1 (a (nested) one) X1', '=G1', `G1 X${'1'.repeat(300)}`])(
    'is told where it breaks the grammar: %s',
    (line) => {
      const { fault, words } = parseGcode(line);
      // Two numbers with one point each are a word and the start of something that is none.
      expect(fault !== null || words.some(({ isSplit }) => isSplit)).toBe(true);
    },
  );

  // XOR of all bytes before the asterisk; common practice on serial lines: "N1 M115" gives 39.
  it('has a checksum that is checked', () => {
    expect(parseGcode('N1 M115*39')).toMatchObject({ checksum: 'right', lineNumber: 1 });
    expect(parseGcode('N1 M115*38')).toMatchObject({ checksum: 'wrong' });
  });
});

describe('a capture', () => {
  const report = 'M92 X80.00 Y80.00\nM851 Z-1.20\nok\n';
  const wanted = ['M92 X80', 'M92 Y80', 'M851 Z-1.2'];

  it.each([
    ['as it is', report],
    ['with echo', report.replaceAll(/^M/gm, 'echo:  M')],
    ['with time stamps', report.replaceAll(/^/gm, '[12:34:56.789] ').replace(/\[[^\]]*\] $/, '')],
    ['with Recv:', report.replaceAll(/^(?=.)/gm, 'Recv: ')],
    ['with carriage returns', report.replaceAll('\n', '\r\n')],
    ['with old line ends', report.replaceAll('\n', '\r')],
    ['with lines that came twice', report.replace('M851', 'M92 X80.00 Y80.00\nM851')],
    [
      'with a line that broke off and came again',
      report.replace('M92 X80.00 Y80.00', 'M92 X80.00 Y8\nM92 X80.00 Y80.00'),
    ],
    ['with comments and headings', `; Steps per unit:\n${report.replace('Y80.00', 'Y80.00 ; (steps)')}`],
    ['after its question', `>>> M503\n${report}`],
  ])('is read %s', (_how, text) => {
    const stored = storedSettings(readCapture(text));
    expect(settingsOf(text)).toEqual(wanted);
    expect(stored).toMatchObject({ state: 'known', isCut: false, problems: [] });
  });

  it('keeps letters that nobody knows, and gives a unit only to those that are known', () => {
    const { settings } = storedSettings(readCapture('M92 X80 Q7\nM999 R3\nok\n'));
    expect(settings).toMatchObject([
      { word: 'M92', letter: 'X', unit: 'steps/mm' },
      { word: 'M92', letter: 'Q', value: 7 },
      { word: 'M999', letter: 'R', value: 3 },
    ]);
    expect(settings[1]?.unit).toBeUndefined();
  });

  it('has an identity with blanks, colons and brackets in its values', () => {
    const { replies } = readCapture(
      'FIRMWARE_NAME:Some Name 2.0 (Jan 1 2026) SOURCE_CODE_URL:https://x.example/y PROTOCOL_VERSION:1.0\nok\n',
    );
    expect(replies[0]?.pairs).toEqual({
      FIRMWARE_NAME: 'Some Name 2.0 (Jan 1 2026)',
      SOURCE_CODE_URL: 'https://x.example/y',
      PROTOCOL_VERSION: '1.0',
    });
  });

  it('never throws, whatever it holds, and ends soon', () => {
    const piece = fc.constantFrom(
      'M92 X80',
      'ok',
      'echo:',
      'M503',
      'M500',
      'Recv: ',
      'LK_RELEASE:28 ',
      '[12:00:00] ',
      '\u001B[31m',
      '\b',
      '\r',
      '\n',
      ' ',
      '*39',
      'N1 ',
      '(',
      ';',
      '\u0000',
      '\uFFFD',
      'e9',
      '-.',
    );
    fc.assert(
      fc.property(
        fc.oneof(
          fc.string({ unit: 'binary' }),
          fc.array(piece, { maxLength: 60 }).map((all) => all.join('')),
        ),
        (text) => {
          const capture = readCapture(text, keys);
          storedSettings(capture);
          makeRecord(capture, tansy, {});
        },
      ),
      { numRuns: 500 },
    );
    const started = performance.now();
    for (const text of [
      'M92 '.repeat(300_000),
      '(('.repeat(500_000),
      'a\n'.repeat(500_000),
      '\b'.repeat(1_000_000),
      `${'M1 X1\n'.repeat(60_000)}ok`,
    ])
      storedSettings(readCapture(text, keys));
    expect(performance.now() - started).toBeLessThan(10_000);
  });
});

describe('what a machine keeps', () => {
  const stateOf = (text: string) => {
    const { state, settings } = storedSettings(readCapture(text));
    return { state, values: settings.map(({ value }) => value) };
  };
  it('is not what was changed and not saved', () => {
    expect(stateOf('>>> M92 X81\nok\n>>> M503\necho:M92 X81\nok\n').state).toBe('unsaved');
    expect(stateOf('>>> M92 X81\nok\n>>> M500\nok\n>>> M503\necho:M92 X81\nok\n')).toEqual({
      state: 'known',
      values: [81],
    });
    expect(stateOf('>>> M503\necho:M92 X80\nok\n>>> M92 X81\nok\n>>> M501\nok\n').state).not.toBe('known');
  });
  it('is not known when two reports differ and nothing says why', () => {
    expect(stateOf('echo:M92 X80\nok\necho:M92 X81\nok\n').state).toBe('unsaved');
  });
  it('is not known when the report is cut off', () => {
    const stored = storedSettings(readCapture('>>> M503\necho:M92 X80.00\necho:M301 P21.4'));
    expect(stored.isCut).toBe(true);
    expect(stored.settings.map(({ word }) => word)).toEqual(['M92']);
  });
});

describe('a record', () => {
  it('is whole, or says what lacks', () => {
    const lacksOf = (name: string, stated = {}): string[] =>
      makeRecord(readCapture(sample(name), keys), tansy, stated).lacks.map(({ what }) => what);
    expect(lacksOf('tansy-before', { supply: '24V/6.5A' })).toEqual([]);
    expect(lacksOf('tansy-before')).toEqual(['supply']);
    expect(lacksOf('tansy-cut-off')).toEqual(expect.arrayContaining(['unsaved', 'cut-off', 'supply']));
    const nothing = makeRecord(readCapture('hello\n'), tansy, { supply: '24V/6.5A' }).lacks.map(
      ({ what }) => what,
    );
    expect(nothing).toEqual(expect.arrayContaining(['identity', 'settings']));
  });

  it('is not made of what contradicts itself', () => {
    const capture = readCapture(sample('tansy-before'), keys);
    expect(makeRecord(capture, tansy, { installed: '31' })).toMatchObject({ record: null });
    expect(makeRecord(capture, readBoard('clinker'), {}).record).not.toBeNull();
    const other = readCapture(sample('tansy-before').replace('LK_BOARD:tansy', 'LK_BOARD:twin'), keys);
    expect(makeRecord(other, tansy, {}).contradictions.join()).toContain('twin');
    // Before and after a flash in one capture: nobody can tell which is meant.
    const both = readCapture(sample('tansy-before') + sample('tansy-after'), keys);
    const { record, lacks } = makeRecord(both, tansy, {});
    expect(record?.options.installed).toBeUndefined();
    expect(lacks.map(({ what }) => what)).toContain('release');
  });

  it('comes back as it was written, whatever stands in it', () => {
    const line = fc.oneof(
      fc.string({ unit: 'binary', maxLength: 60 }),
      fc.constantFrom('- a: b', '# no', "'", '"', 'null', '~', '\t', '1e3', '0x10'),
    );
    fc.assert(
      fc.property(
        fc.array(line, { maxLength: 8 }),
        fc.dictionary(fc.stringMatching(/^[A-Z_]{1,10}$/), line, { maxKeys: 4 }),
        fc.double({ noNaN: true, noDefaultInfinity: true }),
        (capture, identity, value) => {
          const record = {
            board: 'tansy',
            revision: 7,
            options: { supply: '24V/6.5A', installed: '28', sets: {} },
            identity,
            settings: [{ word: 'M92', letter: 'X', value: value + 0, unit: 'steps/mm', line: 'M92 X1' }],
            capture,
          };
          expect(readRecord(recordText(record), 'record.yaml', tansy)).toEqual(record);
        },
      ),
      { numRuns: 300 },
    );
  });
});
