import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { parseGcode } from '../../src/machine/gcode.js';
import type { ConfirmationReport } from '../../src/report/confirmation.js';
import { runCommand } from '../support/run-command.js';

const root = join(import.meta.dirname, '../..');
const captures = join(root, 'samples/captures');
const release = join(root, 'samples/releases/tansy-31');
const board = (id: string): string => join(root, 'samples/boards', `${id}.yaml`);
const capture = (name: string): string => join(captures, `${name}.txt`);
const hidden = /[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/u;
const isPlain = (text: string): boolean => !hidden.test(text.replaceAll('\n', ''));

let work: string;
let files = 0;
const file = (text: string | Uint8Array): string => {
  const path = join(work, `file-${files++}.txt`);
  writeFileSync(path, text);
  return path;
};
/** A record of a sample capture; gives its path. */
async function recorded(name: string, ...options: string[]): Promise<string> {
  const path = join(work, `record-${files++}.yaml`);
  await runCommand(
    'record',
    capture(name),
    '--board',
    release,
    '--supply',
    'small',
    '--output',
    path,
    ...options,
  );
  return path;
}
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-record-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

const validate = new Ajv2020({ allErrors: true, allowUnionTypes: true }).compile(
  JSON.parse(readFileSync(join(root, 'src/report/schema/confirmation.schema.json'), 'utf8')),
);
/** The confirmation as JSON, held against the published schema. */
async function confirmed(record: string, path: string, ...options: string[]) {
  const { code, out, notes } = await runCommand('confirm', record, path, ...options, '--format', 'json');
  const report = JSON.parse(out) as ConfirmationReport;
  validate(report);
  expect(validate.errors).toBeNull();
  return { code, report, notes };
}
const adviceOf = ({ settings }: ConfirmationReport): Record<string, string> =>
  Object.fromEntries(
    settings.filter(({ advice }) => advice !== 'none').map(({ key, advice }) => [key, advice]),
  );

describe('record', () => {
  test('the record goes to standard output alone, and what to know to standard error', async () => {
    const { code, out, notes } = await runCommand(
      'record',
      capture('tansy-30'),
      '--board',
      release,
      '--supply',
      '24V/6.5A',
      '--last-file',
      'TANSY.LKF',
    );
    expect(code).toBe(0);
    const record = parse(out);
    expect(record).toMatchObject({
      schema: 'flashworthy-machine/1',
      board: 'tansy',
      supply: '24V/6.5A',
      installed: '30',
      lastFileName: 'TANSY.LKF',
    });
    expect(record.settings).toHaveLength(34);
    expect(record.settings).toContainEqual({ word: 'M790', letter: 'K', value: 3, line: 'M790 K3 L0' });
    expect(record.capture.join('\n')).toBe(readFileSync(capture('tansy-30'), 'utf8').trimEnd());
    expect(notes.join('\n')).toContain('THE RECORD OF THIS MACHINE IS WHOLE');
    for (const line of notes.join('\n').split('\n'))
      if (!line.startsWith('    ')) expect(line.length).toBeLessThan(81);
  });

  test('with --output the notes are what is printed, and choose takes the record', async () => {
    const path = join(work, 'mine.yaml');
    const { code, out, notes } = await runCommand(
      ...['record', capture('tansy-30'), '--board', release, '--supply', 'small', '--output', path],
    );
    expect({ code, notes }).toEqual({ code: 0, notes: [] });
    const next = `choose ${release} --machine ${path}`;
    expect(out).toContain(`    flashworthy ${next}\n`);
    const chosen = await runCommand(...next.split(' '), '--format', 'json');
    expect(chosen.code).toBe(0);
    expect(JSON.parse(chosen.out)).toMatchObject({ build: 'limited-newer' });
    // Never over a file that is there.
    const second = await runCommand('record', capture('tansy-30'), '--board', release, '--output', path);
    expect(second.code).toBe(74);
    expect(readFileSync(path, 'utf8')).toContain('supply: small');
  });

  test('a report that was interrupted: told, with the lines to send, and written as far as it goes', async () => {
    const { code, out, notes } = await runCommand(
      ...['record', capture('tansy-30-interrupted'), '--board', release, '--supply', 'small'],
    );
    expect(code).toBe(2);
    expect(parse(out).settings.map(({ word, letter }: never) => `${word} ${letter}`)).toEqual([
      'M92 X',
      'M92 Y',
      'M92 Z',
      'M92 E',
    ]);
    const text = notes.join('\n');
    expect(text).toContain('LACKS SOMETHING: do not flash yet');
    expect(text).toContain('cut off');
    expect(text).toMatch(/^ {4}M115 .*\n {4}M503 /m);
    expect(text).not.toContain('M500');
    // Neither does a check take it for a list of what to enter again.
    const path = file(out);
    const { out: checked } = await runCommand(
      ...['check', join(root, 'samples/cards/tansy-fit.img.gz'), '--board', release, '--machine', path],
      ...['--installed', '23', '--format', 'json'],
    );
    expect(JSON.parse(checked).facts.release.settingsNoted).toBe(false);
  });

  test('the samples of the other machines', async () => {
    const clinker = await runCommand(
      ...['record', capture('clinker-2.10'), '--board', board('clinker'), '--supply', 'board'],
      ...['--set', 'boardRevision=B'],
    );
    expect(parse(clinker.out)).toMatchObject({ board: 'clinker', installed: '2.10', boardRevision: 'B' });
    expect(clinker.out).toContain('word: M870, letter: Z, value: 2');
    expect(clinker.code).toBe(0);
    const burr = await runCommand('record', capture('burr'), '--board', board('burr'));
    expect(burr.code).toBe(2);
    expect(parse(burr.out).settings).toHaveLength(6);
    expect(burr.notes.join('\n')).toContain('Which supply is fitted');
  });

  test('another machine, another release, and wrong use: nothing is written', async () => {
    const twin = file(readFileSync(capture('tansy-30'), 'utf8').replace('LK_BOARD:tansy', 'LK_BOARD:twin'));
    for (const [code, message, ...words] of [
      [64, 'its board is twin', twin, '--board', release],
      [
        64,
        'release 28 runs, and the machine says that it is 30',
        capture('tansy-30'),
        '--board',
        release,
        '--installed',
        '28',
      ],
      [64, '--board', capture('tansy-30')],
      [64, '--supply', capture('tansy-30'), '--board', release, '--supply', 'much'],
      [66, 'no such file', join(work, 'none.txt'), '--board', release],
      [64, 'is not a file', work, '--board', release],
      [
        74,
        'there is no folder',
        capture('tansy-30'),
        '--board',
        release,
        '--output',
        join(work, 'no/where.yaml'),
      ],
    ] as const) {
      const result = await runCommand('record', ...words);
      expect({ code: result.code, out: result.out }, message).toEqual({ code, out: '' });
      expect(result.notes.join('\n')).toContain(message);
    }
  });

  test('UTF-16 of a Windows shell, and bytes that are no text', async () => {
    const text = readFileSync(capture('tansy-30'), 'utf8').replaceAll('\n', '\r\n');
    const wide = file(Buffer.from(`\uFEFF${text}`, 'utf16le'));
    expect(parse((await runCommand('record', wide, '--board', release)).out).settings).toHaveLength(34);
    const torn = Buffer.from(text, 'latin1');
    torn[text.indexOf('X250.00') + 2] = 0xb1;
    const { code, out, notes } = await runCommand(
      'record',
      file(torn),
      '--board',
      release,
      '--supply',
      'small',
    );
    expect(code).toBe(2);
    expect(notes.join('\n')).toContain('garbled');
    expect(out).not.toContain('word: M203');
    expect(out).toContain('word: M201');
  });

  test('hostile captures obey nobody', async () => {
    const hostile = file(
      'LK_BOARD:tansy LK_RELEASE:30 \u001B]0;x\u0007FIRMWARE_NAME:\u202Egnp\u001B[2J \u009B2J\nok\n> M503\nM92 X80 ; \u202E\nM790 K1\nerror: \u001B[1A\u2028\nok\n',
    );
    const { out, notes } = await runCommand('record', hostile, '--board', release);
    expect(isPlain(out)).toBe(true);
    expect(isPlain(notes.join('\n'))).toBe(true);
    const record = file(out);
    const report = await runCommand('confirm', record, hostile, '--board', release);
    expect(isPlain(report.out + report.notes.join('\n'))).toBe(true);
  });
});

describe('confirm', () => {
  test('as meant: nothing more to do', async () => {
    const record = await recorded('tansy-30');
    const options = ['--board', board('tansy'), '--release', '30'];
    const { code, report } = await confirmed(record, capture('tansy-30'), ...options);
    expect({ code, outcome: report.outcome, lines: report.lines }).toEqual({
      code: 0,
      outcome: 'as-meant',
      lines: [],
    });
    expect(report.settings.every(({ comparison }) => comparison === 'same')).toBe(true);
    const { out } = await runCommand('confirm', record, capture('tansy-30'), ...options);
    expect(out).toMatch(/^AS MEANT/);
    expect(out).toContain('Nothing more.');
  });

  test('settings that differ: lines for the words of settings.carry alone, and every setting in the table', async () => {
    const record = await recorded('tansy-30');
    const lines = join(work, 'lines.gcode');
    const { code, report } = await confirmed(
      record,
      capture('tansy-31-after'),
      '--board',
      release,
      '--lines',
      lines,
    );
    expect(code).toBe(1);
    expect(report.checks.map(({ state }) => state)).toEqual(['as-meant', 'as-meant']);
    expect(adviceOf(report)).toMatchObject({ 'M92 E': 'enter', 'M851 Z': 'enter', 'M203 E': 'not-said' });
    expect(report.settings.find(({ key }) => key === 'M92 E')).toMatchObject({
      before: 138.2,
      after: 140,
      difference: 1.8,
      unit: 'steps/mm',
    });
    expect(readFileSync(lines, 'utf8')).toBe(
      '; Settings as they were recorded before the flash\nM92 X100 Y100 Z640 E138.2\nM851 X-26 Y3.5 Z-1.85\nM500\n',
    );
    for (const line of readFileSync(lines, 'utf8').trimEnd().split('\n'))
      expect(parseGcode(line).fault).toBeNull();
    const { out } = await runCommand('confirm', record, capture('tansy-31-after'), '--board', release);
    for (const { key } of report.settings) expect(out).toMatch(new RegExp(`^ {2}${key} `, 'm'));
    expect(out).toContain('the maker has not said that this carries over');
    for (const line of out.split('\n')) if (!line.startsWith('    ')) expect(line.length).toBeLessThan(81);
    // Never over a file that is there.
    const again = await runCommand(
      'confirm',
      record,
      capture('tansy-31-after'),
      '--board',
      release,
      '--lines',
      lines,
    );
    expect(again.code).toBe(74);
  });

  test('another layout of the settings: renamed, dropped, and nothing entered by guess', async () => {
    const record = await recorded('tansy-23');
    const { code, report } = await confirmed(record, capture('tansy-31-from-23'), '--board', release);
    expect(code).toBe(1);
    expect(report.layouts).toMatchObject({ before: 'one', after: 'two', changes: true });
    const renamed = report.settings.filter(({ word }) => word === 'M665');
    expect(renamed).toMatchObject([
      { letter: 'S', renamedTo: 'M669', comparison: 'same' },
      { letter: 'D', renamedTo: 'M669', advice: 'not-said', difference: 0.1 },
    ]);
    expect(adviceOf(report)).toMatchObject({ 'M145 S0 H': 'expected' });
    expect(report.lines.filter((line) => /M665|M669|M145/.test(line))).toEqual([]);
    expect(report.lines.at(-1)).toBe('M500');
  });

  test('a card that was not taken, and another machine: nothing to enter', async () => {
    const record = await recorded('tansy-30');
    const before = readFileSync(capture('tansy-31-after'), 'utf8');
    const old = await confirmed(
      record,
      file(before.replace('LK_RELEASE:31', 'LK_RELEASE:30')),
      '--board',
      release,
    );
    expect({ code: old.code, lines: old.report.lines }).toEqual({ code: 1, lines: [] });
    expect(old.report.text).toContain('release 30 runs as before, and 31 was meant: the card was not taken');
    expect(old.report.next.command).toBe(`flashworthy rehearse CARD --board ${release} --machine ${record}`);
    const other = await confirmed(
      record,
      file(before.replace('LK_BOARD:tansy', 'LK_BOARD:twin')),
      '--board',
      release,
    );
    expect({ code: other.code, lines: other.report.lines }).toEqual({ code: 1, lines: [] });
  });

  test('what was not seen is no difference and no good news', async () => {
    const record = await recorded('tansy-30');
    const cut = await confirmed(record, capture('tansy-30-interrupted'), '--board', release);
    expect({ code: cut.code, outcome: cut.report.outcome }).toEqual({ code: 2, outcome: 'cannot-tell' });
    expect(adviceOf(cut.report)['M851 Z']).toBe('not-seen');
    const nobody = await confirmed(record, capture('tansy-30'), '--board', board('tansy'));
    expect(nobody.code).toBe(2);
    expect(nobody.report.next.command).toContain('--release RELEASE');
    const unsaved = `${readFileSync(capture('tansy-31-after'), 'utf8')}> M92 E138.2\nok\n`;
    const changed = await confirmed(record, file(unsaved), '--board', release);
    expect(changed.code).toBe(2);
    expect(changed.report.next.send).toEqual(['M115', 'M500', 'M503']);
    // A record that was cut off lets nothing be called new, or whole.
    const part = await recorded('tansy-30-interrupted', '--installed', '30');
    const after = await confirmed(part, capture('tansy-30'), '--board', board('tansy'), '--release', '30');
    expect(after.code).toBe(2);
    expect(adviceOf(after.report)['M851 Z']).toBe('not-seen');
    const empty = file('schema: flashworthy-machine/1\nboard: tansy\n');
    const none = await confirmed(empty, capture('tansy-30'), '--board', board('tansy'), '--release', '30');
    expect(none.code).toBe(2);
  });

  test('steps from a measured move: apart from the rest, and only inside the tolerance', async () => {
    const record = await recorded('tansy-30');
    const lines = join(work, 'steps.gcode');
    const options = ['--board', board('tansy'), '--release', '30', '--lines', lines];
    const { code, report } = await confirmed(
      ...([record, capture('tansy-30'), ...options, '--steps', 'X=100:99.2', '--steps', 'Y=100:90'] as const),
    );
    expect(code).toBe(0);
    expect(report.steps).toMatchObject([
      { axis: 'X', before: 100, after: 100.81, answer: 'enter', tolerance: 0.02 },
      { axis: 'Y', answer: 'measure-again', line: null },
    ]);
    expect(report.next.command).toBe(`flashworthy record CAPTURE --board ${board('tansy')} --supply small`);
    expect(readFileSync(lines, 'utf8')).toBe('; Steps calculated from a measured move\nM92 X100.81\nM500\n');
    // The old steps come back first.
    const pending = await confirmed(
      record,
      capture('tansy-31-after'),
      '--board',
      release,
      '--steps',
      'E=100:99',
    );
    expect(pending.report).toMatchObject({ stepsLines: [], steps: [{ axis: 'E', line: null }] });
  });

  test('no lines, no file', async () => {
    const record = await recorded('tansy-30');
    const lines = join(work, 'nothing.gcode');
    const { notes } = await confirmed(
      ...([
        record,
        capture('tansy-30'),
        '--board',
        board('tansy'),
        '--release',
        '30',
        '--lines',
        lines,
      ] as const),
    );
    expect(existsSync(lines)).toBe(false);
    expect(notes.join()).toContain('no lines to enter');
  });

  test('wrong use', async () => {
    const record = await recorded('tansy-30');
    const after = capture('tansy-31-after');
    for (const [code, message, ...words] of [
      [64, 'name a machine record and a capture', record],
      [64, '--board', record, after],
      [64, 'the release manifest is of release 31', record, after, '--board', release, '--release', '30'],
      [64, '--release', record, after, '--board', board('tansy'), '--release', 'beta'],
      [64, '--steps wants', record, after, '--board', release, '--steps', 'X=0:1'],
      [64, 'given twice', record, after, '--board', release, '--steps', 'X=1:1', '--steps', 'x=1:1'],
      [64, 'for the board tansy', record, after, '--board', board('clinker')],
      [64, 'is read or written already', record, after, '--board', release, '--lines', record],
      [66, 'no such file', join(work, 'none.yaml'), after, '--board', release],
    ] as const) {
      const result = await runCommand('confirm', ...words);
      expect({ code: result.code, out: result.out }, message).toEqual({ code, out: '' });
      expect(result.notes.join('\n')).toContain(message);
    }
  });
});

test('the built program does both, and leaves the samples as they are', () => {
  const before = readdirSync(captures).map((name) => `${name} ${statSync(join(captures, name)).mtimeMs}`);
  const run = (...words: string[]) =>
    spawnSync(process.execPath, ['dist/flashworthy.js', ...words], { cwd: root, encoding: 'utf8' });
  const path = join(work, 'built.yaml');
  const made = run(
    'record',
    'samples/captures/tansy-30.txt',
    '--board',
    release,
    '--supply',
    'small',
    '--output',
    path,
  );
  expect({ status: made.status, stderr: made.stderr }).toEqual({ status: 0, stderr: '' });
  const after = run('confirm', path, 'samples/captures/tansy-31-after.txt', '--board', release);
  expect({ status: after.status, stderr: after.stderr }).toEqual({ status: 1, stderr: '' });
  expect(readdirSync(captures).map((name) => `${name} ${statSync(join(captures, name)).mtimeMs}`)).toEqual(
    before,
  );
});
