import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { compareSettings, linesToEnter } from '../../src/machine/compare-settings.js';
import { decimalDifference, decimalText } from '../../src/machine/decimal.js';
import { parseMeasured, stepsFrom } from '../../src/machine/steps.js';
import type { Confirmation } from '../../src/report/confirmation.js';
import { readBoard } from '../support/board.js';
import { runCommand } from '../support/run-command.js';

const root = join(import.meta.dirname, '..', '..');
const release = join(root, 'samples/releases/tansy-31');
const capture = (name: string): string => join(root, `samples/captures/${name}.txt`);
const validate = new Ajv2020({ allErrors: true, allowUnionTypes: true }).compile(
  JSON.parse(readFileSync(join(root, 'src/report/schema/confirmation.schema.json'), 'utf8')) as object,
);
const tansy = readBoard('tansy');

let work: string;
let record: string;
beforeAll(async () => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-confirm-'));
  record = join(work, 'record.yaml');
  const { code } = await runCommand(
    'record',
    capture('tansy-before'),
    '--board',
    release,
    '--supply',
    '24V/6.5A',
    '--output',
    record,
  );
  expect(code).toBe(0);
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

/** A capture from after the flash with something changed. */
function changed(from: string | RegExp, to: string | ((line: string) => string)): string {
  const path = join(work, 'after.txt');
  const text = readFileSync(capture('tansy-after'), 'utf8').replace(from, to as string);
  writeFileSync(path, text);
  return path;
}

async function confirmed(path: string, ...argv: string[]): Promise<{ code: number; report: Confirmation }> {
  const { code, out, notes } = await runCommand(
    'confirm',
    record,
    path,
    '--board',
    release,
    ...argv,
    '--format',
    'json',
  );
  expect(notes).toEqual([]);
  const report = JSON.parse(out) as Confirmation;
  validate(report);
  expect(validate.errors).toBeNull();
  return { code, report };
}

describe('record', () => {
  it('writes to standard output too, and tells the rest beside it', async () => {
    const { code, out, notes } = await runCommand('record', capture('tansy-cut-off'), '--board', release);
    expect(code).toBe(2);
    expect(out).toMatch(/^# .*\n\nschema: flashworthy-machine\/1/);
    expect(notes.join()).toContain('M500');
    expect(
      (await runCommand('record', capture('tansy-before'), '--board', release, '--installed', '31')).code,
    ).toBe(64);
    expect((await runCommand('record', capture('tansy-before'))).code).toBe(64);
    expect((await runCommand('record', join(work, 'nothing.txt'), '--board', release)).code).toBe(66);
    expect(
      (await runCommand('record', capture('tansy-before'), '--board', release, '--output', record)).code,
    ).toBe(74);
  });

  it('takes UTF-16, and bytes that are no text', async () => {
    const path = join(work, 'odd.txt');
    writeFileSync(path, Buffer.from(`\uFEFF${readFileSync(capture('tansy-before'), 'utf8')}`, 'utf16le'));
    expect((await runCommand('record', path, '--board', release, '--supply', '24V/6.5A')).code).toBe(0);
    writeFileSync(path, Buffer.concat([Buffer.from([0xff, 0xfe, 0xfd]), Buffer.alloc(1000, 0x80)]));
    expect((await runCommand('record', path, '--board', release)).code).toBe(2);
  });
});

describe('confirm', () => {
  it('says that the flash took, and which lines to enter again', async () => {
    const { code, report } = await confirmed(capture('tansy-after'));
    expect(code).toBe(1);
    expect(report).toMatchObject({
      outcome: 'differs',
      release: { meant: '31', before: '28', now: '31' },
      lacks: [],
    });
    expect(report.lines).toEqual([
      'M92 X80.00 Y80.00 Z400.00 E95.30',
      'M206 X0.00 Y0.00 Z-0.25',
      'M851 X-32.00 Y4.50 Z-1.37',
      'M500',
    ]);
    // Renamed words are compared under their new name, and nothing is entered that the maker has not said.
    expect(report.settings.filter(({ key }) => key.startsWith('M665')).map(({ state }) => state)).toEqual([
      'same',
      'same',
    ]);
    expect(report.lines.join()).not.toContain('M201');
    expect(report.remarks.join()).toMatch(/M201: the maker has not said/);
  });

  it('is content when everything is as it was', async () => {
    const old: Record<string, string> = {
      'M92 ': 'M92 X80.00 Y80.00 Z400.00 E95.30',
      M206: 'M206 X0.00 Y0.00 Z-0.25',
      M851: 'M851 X-32.00 Y4.50 Z-1.37',
    };
    const path = changed(/(?:M92|M206|M851) .*/g, (line) => old[line.slice(0, 4)] ?? line);
    expect(await confirmed(path)).toMatchObject({ code: 0, report: { outcome: 'as-meant', lines: [] } });
  });

  it('knows a flash that did not take, another release and another board, and enters nothing then', async () => {
    for (const [from, to, words] of [
      ['LK_RELEASE:31', 'LK_RELEASE:28', /did not take/],
      ['LK_RELEASE:31', 'LK_RELEASE:30', /30 runs, and 31 was meant/],
      ['LK_BOARD:tansy', 'LK_BOARD:clinker', /another board/],
    ] as const) {
      const { code, report } = await confirmed(changed(from, to), '--steps', 'X=100:100');
      expect(code).toBe(1);
      expect(report.text).toMatch(words);
      expect(report.lines).toEqual([]);
    }
  });

  it('cannot tell from half a capture', async () => {
    const half = changed(/Recv: echo: {2}M304[\s\S]*/, '');
    const { code, report } = await confirmed(half);
    expect([1, 2]).toContain(code);
    expect(report.lacks.length).toBeGreaterThan(0);
    expect(report.lines).toEqual([]);
    const nothing = await confirmed(changed(/[\s\S]*/, 'hello'));
    expect(nothing).toMatchObject({ code: 2, report: { outcome: 'cannot-tell', settings: [] } });
  });

  it('writes the lines alone to a file, over nothing that is there', async () => {
    const lines = join(work, 'enter.gcode');
    const argv = [
      'confirm',
      record,
      capture('tansy-after'),
      '--board',
      release,
      '--lines',
      lines,
      '--steps',
      'X=100:98.7',
    ];
    expect((await runCommand(...argv)).code).toBe(1);
    const code = readFileSync(lines, 'utf8')
      .split('\n')
      .filter((line) => line !== '' && !line.startsWith(';'));
    expect(code).toEqual([
      'M92 X80.00 Y80.00 Z400.00 E95.30',
      'M206 X0.00 Y0.00 Z-0.25',
      'M851 X-32.00 Y4.50 Z-1.37',
      'M500',
      'M92 X81.05',
      'M500',
    ]);
    expect((await runCommand(...argv)).code).toBe(74);
    const over = [
      'confirm',
      record,
      capture('tansy-after'),
      '--board',
      release,
      '--lines',
      record,
      '--force',
    ];
    expect((await runCommand(...over)).code).toBe(64);
    expect(existsSync(record)).toBe(true);
  });

  it('reads like a page of 80 columns', async () => {
    const { out } = await runCommand(
      'confirm',
      record,
      capture('tansy-after'),
      '--board',
      release,
      '--steps',
      'E=100:91',
    );
    expect(out).toContain('THE FLASH TOOK');
    expect(out).toContain('Measure again');
    expect(Math.max(...out.split('\n').map((line) => line.length))).toBeLessThanOrEqual(80);
  });
});

describe('comparing', () => {
  const line = (text: string): { word: string; letter: string; value: number; line: string }[] =>
    text
      .split(' ')
      .slice(1)
      .map((part) => ({
        word: text.split(' ')[0] ?? '',
        letter: part.charAt(0),
        value: Number(part.slice(1)),
        line: text,
      }));
  it('takes the lines of one word for several heaters apart', () => {
    const before = [...line('M301 E0 P10 I1'), ...line('M301 E1 P20 I2')];
    const changes = compareSettings(before, [...line('M301 E0 P10 I1'), ...line('M301 E1 P21 I2')], tansy);
    expect(changes.filter(({ state }) => state === 'differs').map(({ key }) => key)).toEqual(['M301 E1 P']);
    expect(linesToEnter(changes)).toEqual(['M301 E1 P20 I2']);
  });
  it('says nothing of numbers in different units', () => {
    const before = [{ word: 'M206', letter: 'X', value: 1, unit: 'in', line: 'M206 X1' }];
    const now = [{ word: 'M206', letter: 'X', value: 25.4, unit: 'mm', line: 'M206 X25.4' }];
    const changes = compareSettings(before, now, tansy);
    expect(changes).toMatchObject([{ state: 'other-unit', difference: null }]);
    expect(linesToEnter(changes)).toEqual([]);
  });
  it('subtracts as on paper', () => {
    expect(decimalDifference(80.1, 80.3)).toBe(0.2);
    fc.assert(
      fc.property(fc.integer({ min: -1e7, max: 1e7 }), fc.integer({ min: -1e7, max: 1e7 }), (a, b) => {
        expect(decimalDifference(a / 100, b / 100)).toBe((b - a) / 100);
        expect(Number(decimalText(a / 1000))).toBe(a / 1000);
      }),
    );
  });
});

// Check value, common practice, no published source: old × commanded ÷ measured; such machines can be up to 2 % off.
describe('steps', () => {
  const settings = [{ word: 'M92', letter: 'X', value: 80, line: 'M92 X80' }];
  it('are corrected inside the tolerance only', () => {
    expect(stepsFrom({ axis: 'X', commanded: 100, measured: 98 }, settings, 0.02)).toMatchObject({
      result: 81.63,
      isInside: true,
      line: 'M92 X81.63',
    });
    expect(stepsFrom({ axis: 'X', commanded: 100, measured: 97.9 }, settings, 0.02)).toMatchObject({
      isInside: false,
      line: null,
    });
    expect(stepsFrom({ axis: 'X', commanded: 100, measured: 99 }, settings, null)).toMatchObject({
      isInside: null,
      line: null,
    });
    expect(stepsFrom({ axis: 'Y', commanded: 100, measured: 99 }, settings, 0.02)).toMatchObject({
      old: null,
      result: null,
      line: null,
    });
  });
  it('want an axis and two lengths', () => {
    expect(parseMeasured('x=100:98.7')).toEqual({ axis: 'X', commanded: 100, measured: 98.7 });
    for (const text of ['X', 'X=100', 'X=0:1', 'X=1:0', 'XY=1:1', 'X=-1:1', 'X=1e9:1', ''])
      expect(parseMeasured(text)).toBeNull();
  });
});
