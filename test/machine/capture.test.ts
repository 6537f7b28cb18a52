import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { readCapture } from '../../src/machine/capture.js';
import { machineIdentity } from '../../src/machine/machine-identity.js';
import { recordCapture, settingsTroubles } from '../../src/machine/record-capture.js';
import { storedSettings } from '../../src/machine/stored-settings.js';
import { sample } from '../board/profiles.js';

const tansy = sample('tansy');
const keys = ['LK_RELEASE', 'LK_BOARD'];
const captured = readFileSync(join(import.meta.dirname, '../../samples/captures/tansy-30.txt'), 'utf8');

/** `M92 X 100` of every number that is kept. */
const numbers = (text: string): string[] =>
  storedSettings(readCapture(text, keys)).settings.map(
    ({ word, letter, value }) => `${word} ${letter} ${value}`,
  );
const stateOf = (text: string) => storedSettings(readCapture(text, keys)).state;
const troubles = (text: string): string[] =>
  settingsTroubles(readCapture(text, keys)).map(({ what }) => what);
const lacks = (text: string, options = {}): string[] =>
  recordCapture(readCapture(text, keys), tansy, options, undefined).lacks.map(({ what }) => what);

describe('one report, however a terminal shows it', () => {
  // Counted by hand in the file.
  const expected = 34;
  const lines = captured.trimEnd().split('\n');
  const asMachine = (prefix: string): string =>
    lines.map((line) => (line.startsWith('> ') ? line : prefix + line)).join('\n');
  const shown: Record<string, string> = {
    'as it is': captured,
    'with CR LF': captured.replaceAll('\n', '\r\n'),
    'with CR': captured.replaceAll('\n', '\r'),
    'with empty lines between': captured.replaceAll('\n', '\n\n'),
    'without echo:': captured.replaceAll('echo:', ''),
    'behind Recv:': `${asMachine('Recv: ')}\n`,
    'behind a time stamp': `${asMachine('14:02:11.310 ')}\n`,
    'behind a date and an arrow': `${asMachine('[2025-11-02 14:02:11] <- ')}\n`,
    'behind seconds since the start': `${asMachine('[  123.456] ')}\n`,
    'in colours': captured.replaceAll('M92', '\u001B[1;32mM92\u001B[0m'),
    'behind a prompt': captured.replaceAll('> M', 'me@bench:~$ M'),
    'with line numbers and checksums': captured
      .replace('> M115', 'N1 M115*39')
      // 34: M503 differs from M115 in three characters; exclusive or done by hand, byte by byte.
      .replace('> M503', 'N2 M503*34'),
    'each line twice': lines
      .flatMap((line) => (line === 'ok' || line.startsWith('> ') ? [line] : [line, line]))
      .join('\n')
      .concat('\n'),
    'a line that breaks off, and then stands there whole': captured.replace(
      'echo:  M301',
      'echo:  M301 P19.35 I1\necho:  M301',
    ),
  };
  for (const [name, text] of Object.entries(shown))
    test(name, () => {
      expect(numbers(text)).toEqual(numbers(captured));
      expect(numbers(text)).toHaveLength(expected);
      expect(troubles(text)).toEqual([]);
      expect(machineIdentity(readCapture(text, keys), tansy)).toMatchObject({
        release: '30',
        board: 'tansy',
        problems: [],
      });
    });
});

describe('the identity reply', () => {
  test('values hold blanks, colons and brackets; the last one runs to the end', () => {
    const reply =
      'FIRMWARE_NAME:Some Name 2.0 (Jan 1 2026 10:11:12) SOURCE_CODE_URL:https://larkfield.example/x MACHINE_TYPE:My Machine LK_RELEASE:31\nok\n';
    expect(readCapture(reply, keys).replies[0]?.pairs).toEqual({
      FIRMWARE_NAME: 'Some Name 2.0 (Jan 1 2026 10:11:12)',
      SOURCE_CODE_URL: 'https://larkfield.example/x',
      MACHINE_TYPE: 'My Machine',
      LK_RELEASE: '31',
    });
  });

  test('a reply that ends with the capture does not say a release that may be cut short', () => {
    for (const end of ['', '\n']) {
      const identity = machineIdentity(readCapture(`LK_BOARD:tansy LK_RELEASE:3${end}`, keys), tansy);
      expect(identity.release).toBeNull();
      expect(identity.problems).not.toEqual([]);
    }
  });

  test('two releases in one capture: neither is believed', () => {
    const both = 'LK_BOARD:tansy LK_RELEASE:30\nok\nLK_BOARD:tansy LK_RELEASE:31\nok\n';
    expect(machineIdentity(readCapture(both, keys), tansy)).toMatchObject({ release: null, board: 'tansy' });
  });

  test('a garbled reply says nothing', () => {
    expect(
      machineIdentity(readCapture('LK_BOARD:tansy LK_RELEASE:3\uFFFD\nok\n', keys), tansy).release,
    ).toBeNull();
  });
});

describe('what a report does not say for certain', () => {
  const report = (steps: string): string => `> M503\necho:  M92 ${steps}\necho:  M851 Z-1.85\nok\n`;

  test('a report without its ok is cut off, and its last line is not believed', () => {
    const cut = '> M503\necho:  M92 X80.00\necho:  M851 Z-1.8\n';
    expect(troubles(cut)).toContain('cut-off');
    expect(numbers(cut)).toEqual(['M92 X 80']);
  });

  test('two reports that disagree, with nothing between them', () => {
    expect(stateOf(report('X80') + report('X81'))).toBe('unsaved');
  });

  test('a change that was not saved; then it is saved, and printed again', () => {
    const changed = `${report('X80')}> M92 X81\nok\n`;
    expect(troubles(changed)).toContain('unsaved');
    expect(troubles(`${changed}${report('X81')}`)).toContain('unsaved');
    // Saved, but not printed again: what else changed is not known.
    expect(troubles(`${changed}> M500\nok\n`)).toContain('unsaved');
    const saved = `${changed}> M500\nok\n${report('X81')}`;
    expect(troubles(saved)).toEqual([]);
    expect(numbers(saved)).toContain('M92 X 81');
  });

  test('a save that was refused is none', () => {
    expect(
      troubles(`${report('X80')}> M92 X81\nok\n> M500\nerror: cannot write\nok\n${report('X81')}`),
    ).toContain('unsaved');
  });

  test('defaults that were loaded are not saved by that', () => {
    expect(troubles(`${report('X80')}> M502\nok\n${report('X100')}`)).toContain('unsaved');
  });

  test('one number with two values in one report', () => {
    expect(troubles('> M503\nM92 X80\nM92 X81\nok\n')).toContain('damaged');
    expect(numbers('> M503\nM92 X80 Y80\nM92 X81\nok\n')).toEqual(['M92 Y 80']);
  });

  test('lines for several heaters, slots and zones are no contradiction', () => {
    expect(numbers('> M503\nM145 S0 H200\nM145 S1 H240\nM870 Z1 C1250\nM870 Z2 C1180\nok\n')).toEqual([
      'M145 S 0',
      'M145 H 200',
      'M145 S 1',
      'M145 H 240',
      'M870 Z 1',
      'M870 C 1250',
      'M870 Z 2',
      'M870 C 1180',
    ]);
    expect(troubles('> M503\nM145 S0 H200\nM145 S1 H240\nM870 Z1 C1250\nM870 Z2 C1180\nok\n')).toEqual([]);
  });

  test('an unknown word that changed between two reports is a contradiction, and no second slot', () => {
    expect(stateOf('> M503\nM790 K3 L0\nok\n> M503\nM790 K4 L0\nok\n')).toBe('unsaved');
  });

  test('units: millimetres, inches, and degrees of an axis that turns', () => {
    const unit = (text: string): unknown =>
      storedSettings(readCapture(text)).settings.map((one) => one.unit ?? null);
    expect(unit('> M503\nG21\nM92 X80 A10\nM206 X1\nM790 K3\nok\n')).toEqual([
      'steps/mm',
      'steps/deg',
      'mm',
      null,
    ]);
    expect(unit('> M503\nG20\nM92 X2032 A10\nM206 X1\nok\n')).toEqual(['steps/in', 'steps/deg', 'in']);
  });
});

describe('a record says what it lacks', () => {
  test('of the samples', () => {
    expect(lacks(captured, { supply: 'small' })).toEqual([]);
    expect(lacks(captured)).toEqual(['supply']);
    expect(lacks(captured, { supply: 'unsure' })).toEqual(['supply']);
    const broken = readFileSync(
      join(import.meta.dirname, '../../samples/captures/tansy-30-interrupted.txt'),
      'utf8',
    );
    expect(lacks(broken, { supply: 'small' })).toEqual(['identity', 'cut-off', 'damaged']);
    expect(lacks('', { supply: 'small' })).toEqual(['identity', 'settings']);
  });

  test('a release that is none of this board', () => {
    expect(lacks('LK_BOARD:tansy LK_RELEASE:beta\nok\n', { supply: 'small' })).toContain('identity');
  });

  test('what the machine and its owner say differently is never written', () => {
    const against = (text: string, options: object): number =>
      recordCapture(readCapture(text, keys), tansy, options, undefined).contradictions.length;
    expect(against(captured, { installed: '30' })).toBe(0);
    expect(against(captured, { installed: '28' })).toBe(1);
    expect(against(captured, { sets: { installed: '28' } })).toBe(1);
    expect(against(captured, { installed: 'none' })).toBe(1);
    expect(against(captured, { installed: 'none', was: '30' })).toBe(0);
    expect(against(captured, { installed: 'none', was: '28' })).toBe(1);
    expect(against(captured.replace('LK_BOARD:tansy', 'LK_BOARD:twin'), {})).toBe(1);
    expect(against(captured.replace('LK_BOARD:tansy', 'LK_BOARD:TANSY'), {})).toBe(0);
  });
});
