import { describe, expect, test } from 'vitest';
import { commandOf, parseGcode } from '../../src/machine/gcode.js';

/** Letter and number of each word. */
const words = (text: string): [string, number][] => {
  const { words: found, fault } = parseGcode(text);
  expect(fault, text).toBeNull();
  return found.map(({ letter, value }) => [letter, value]);
};

// The RS274/NGC Interpreter, version 3 (Kramer, Proctor, Messina, NISTIR 6556, August 2000), section 3.3.
describe('lines after RS274/NGC', () => {
  test('blanks and tabs stand anywhere, and letters are capital or small (3.3.1, its own example)', () => {
    expect(words('G0X +0. 12 34Y 7')).toEqual(words('g0 x+0.1234 y7'));
    expect(words('g0\tx+0.1234\ty7')).toEqual([
      ['G', 0],
      ['X', 0.1234],
      ['Y', 7],
    ]);
  });

  test('a number has a sign, digits, and at most one point, and at least one digit (3.3.2.1)', () => {
    expect(words('M92 X+.5 Y5. Z-0.25 E007')).toEqual([
      ['M', 92],
      ['X', 0.5],
      ['Y', 5],
      ['Z', -0.25],
      ['E', 7],
    ]);
    for (const text of ['M92 X.', 'M92 X-', 'M92 X+.']) expect(parseGcode(text).fault, text).not.toBeNull();
    expect(parseGcode('M92 X1.2.3').fault).not.toBeNull();
    expect(parseGcode('M92 X1-2').fault).not.toBeNull();
  });

  test('a line number, a slash in front, and comments say nothing about the settings (3.3.1, 3.3.4)', () => {
    const plain = words('M92 X80');
    for (const text of ['N10 M92 X80', '/M92 X80', 'M92 (steps) X80', 'M92 X80 (of the axis)'])
      expect(words(text), text).toEqual(plain);
    expect(parseGcode('N10 M92 X80').lineNumber).toBe(10);
  });

  test('a comment closes on its line and holds no other one (3.3.4)', () => {
    expect(parseGcode('M92 (steps X80').fault).not.toBeNull();
    expect(parseGcode('M92 (a (b) c) X80').fault).not.toBeNull();
  });

  test('a line has 256 characters at most (3.3.1)', () => {
    const line = (length: number): string => `M92 X80${' '.repeat(length - 7)}`;
    expect(parseGcode(line(256)).fault).toBeNull();
    expect(parseGcode(line(257)).fault).not.toBeNull();
  });
});

// Common practice on serial lines, no published source.
describe('what controllers added', () => {
  test('a comment from a semicolon to the end', () => {
    expect(words('M92 X80 ; (steps for (each mm')).toEqual(words('M92 X80'));
  });

  test('a checksum: all bytes before the asterisk by exclusive or', () => {
    // 39 stands in captures of this line, and it is what the bytes give by hand.
    expect(parseGcode('N1 M115*39').checksum).toBe('right');
    expect(parseGcode('N1 M115*38').checksum).toBe('wrong');
    expect(parseGcode('N1 M115').checksum).toBe('none');
    expect(parseGcode('N1 M115*').fault).not.toBeNull();
  });

  test('a letter without a number is kept beside the words', () => {
    expect(parseGcode('M84 X Y')).toMatchObject({ flags: ['X', 'Y'], fault: null });
  });

  test('a command is what the line begins with, whatever zeros it has', () => {
    expect(commandOf(parseGcode('m092 x80'))).toBe('M92');
    expect(commandOf(parseGcode('X80'))).toBeNull();
  });
});
