import { describe, expect, test } from 'vitest';
import { readCapture } from '../../src/machine/capture.js';
import { compareSettings } from '../../src/machine/compare-settings.js';
import { decimalDifference, decimalText } from '../../src/machine/decimal.js';
import type { RecordedSetting } from '../../src/machine/record.js';
import { parseMove, stepsFor } from '../../src/machine/steps.js';
import { storedSettings } from '../../src/machine/stored-settings.js';

const settings = (...lines: string[]): readonly RecordedSetting[] =>
  storedSettings(readCapture(`> M503\n${lines.join('\n')}\nok\n`)).settings;
const compared = (before: string[], after: string[], renamed = {}) =>
  compareSettings(settings(...before), settings(...after), renamed).map(
    ({ key, comparison, difference }) => `${key} ${comparison} ${difference}`,
  );

describe('settings before and after', () => {
  test('numbers are decimals: 80.00 is 80, and 80.3 is 0.2 more than 80.1', () => {
    expect(compared(['M92 X80.00 Y80.1'], ['M92 X80 Y80.3'])).toEqual(['M92 X same 0', 'M92 Y differs 0.2']);
    expect(decimalDifference(0.1, 0.3)).toBe(0.2);
    expect(decimalText(1e-7)).toBe('0.0000001');
    expect(decimalText(-1e21)).toBe('-1000000000000000000000');
  });

  test('what is gone, and what is new', () => {
    expect(compared(['M92 X80', 'M206 X1'], ['M92 X80', 'M851 Z2'])).toEqual([
      'M92 X same 0',
      'M206 X gone null',
      'M851 Z added null',
    ]);
  });

  test('heaters and slots are told apart by their number, not by their order', () => {
    expect(compared(['M301 E0 P10', 'M301 E1 P20'], ['M301 E1 P20', 'M301 E0 P11'])).toEqual([
      'M301 E0 P differs 1',
      'M301 E1 P same 0',
    ]);
  });

  test('a renamed word, unless the report has both', () => {
    const renamed = { M665: 'M669' };
    expect(compared(['M665 S12'], ['M669 S12'], renamed)).toEqual(['M665 S same 0']);
    expect(compared(['M665 S12'], ['M665 S12', 'M669 S3'], renamed)).toEqual([
      'M665 S same 0',
      'M669 S added null',
    ]);
    expect(compared(['M665 S12'], ['M669 S12'])).toEqual(['M665 S gone null', 'M669 S added null']);
  });

  test('inches and millimetres are not compared', () => {
    expect(compared(['G21', 'M92 X80'], ['G20', 'M92 X2032'])).toEqual(['M92 X other-unit null']);
  });
});

// Check value: old × commanded ÷ measured; such machines can be up to 2 % off. Common practice, no published source.
describe('steps from a measured move', () => {
  const now = settings('M92 X80.00 Y80.00 E93.005');
  const move = (text: string) => parseMove(text)!;

  test('80 steps, 100 commanded, 98.5 measured: 81.22', () => {
    expect(stepsFor(move('x=100:98.5'), now, 0.02)).toMatchObject({
      before: 80,
      after: 81.22,
      answer: 'enter',
    });
  });

  test('as many decimals as the machine prints, and two at least', () => {
    expect(stepsFor(move('E=100:99'), now, 0.02).after).toBe(93.944);
  });

  test('the tolerance itself is inside, in both directions; more is not', () => {
    for (const [text, answer] of [
      ['X=100:98', 'enter'],
      ['X=100:102', 'enter'],
      ['X=50:51', 'enter'],
      ['X=100:97.9', 'measure-again'],
      ['X=100:102.1', 'measure-again'],
      ['X=100:100', 'keep'],
    ] as const)
      expect(stepsFor(move(text), now, 0.02).answer, text).toBe(answer);
  });

  test('without a tolerance of the profile, and without steps, there is nothing to enter', () => {
    expect(stepsFor(move('X=100:99'), now, undefined).answer).toBe('no-tolerance');
    expect(stepsFor(move('X=100:50'), now, 'any').answer).toBe('enter');
    expect(stepsFor(move('A=100:99'), now, 0.02).answer).toBe('no-steps');
    expect(stepsFor(move('E=100:99'), settings('M92 T0 E93', 'M92 T1 E93'), 0.02).answer).toBe('no-steps');
  });

  test('only what is a move is one', () => {
    for (const text of ['X=0:1', 'X=1:0', 'X=1', 'X=-1:1', 'XY=1:1', 'X=1:1:1', 'X=1e3:1', ''])
      expect(parseMove(text), text).toBeUndefined();
  });
});
