import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { compareValues, endPoints, inRange, parseRange, valueProblem } from '../../src/board/ranges.js';

describe('order', () => {
  test('integers by value, dotted numbers part by part, dates by the calendar', () => {
    expect(compareValues('9', '10', 'integer')).toBeLessThan(0);
    expect(compareValues('08', '8', 'integer')).toBe(0);
    expect(compareValues('1.10', '1.9', 'dotted')).toBeGreaterThan(0);
    expect(compareValues('1.10', '1.1', 'dotted')).toBeGreaterThan(0);
    expect(compareValues('1.0', '1', 'dotted')).toBe(0);
    expect(compareValues('1.0.1', '1', 'dotted')).toBeGreaterThan(0);
    expect(compareValues('2025-12-31', '2026-01-01', 'date')).toBeLessThan(0);
  });

  test('dotted numbers order as the built-in numeric collation orders their parts', () => {
    const part = fc.integer({ min: 0, max: 999 });
    const version = fc.array(part, { minLength: 3, maxLength: 3 }).map((parts) => parts.join('.'));
    const collator = new Intl.Collator('en', { numeric: true });
    fc.assert(
      fc.property(
        version,
        version,
        (a, b) => Math.sign(compareValues(a, b, 'dotted')) === Math.sign(collator.compare(a, b)),
      ),
    );
  });
});

describe('values', () => {
  test('a value of another numbering is refused', () => {
    expect(valueProblem('1.1', 'integer')).toContain('no whole number');
    expect(valueProblem('1.1b', 'dotted')).toContain('no dotted number');
    expect(valueProblem('1..1', 'dotted')).toContain('no dotted number');
    expect(valueProblem('31.12.2025', 'date')).toContain('no date');
    expect(valueProblem('anything', 'word')).toBeUndefined();
  });

  test('dates are days of the Gregorian calendar', () => {
    expect(valueProblem('2024-02-29', 'date')).toBeUndefined();
    expect(valueProblem('2000-02-29', 'date')).toBeUndefined();
    for (const day of ['2025-02-29', '1900-02-29', '2025-04-31', '2025-13-01', '2025-00-10', '2025-01-00'])
      expect(valueProblem(day, 'date'), day).toContain('no date');
  });
});

describe('ranges', () => {
  const holds: [string | string[], 'integer' | 'dotted' | 'date' | 'word', string[], string[]][] = [
    ['31', 'integer', ['31', '031'], ['30', '32', '310']],
    ['<31', 'integer', ['30', '0'], ['31', '32']],
    ['<=31', 'integer', ['31'], ['32']],
    ['>=31', 'integer', ['31', '100'], ['30', '9']],
    ['> 31', 'integer', ['32'], ['31']],
    ['>=20 <31', 'integer', ['20', '30'], ['19', '31']],
    ['>= 20  < 31', 'integer', ['20', '30'], ['19', '31']],
    [['30', '32'], 'integer', ['30', '32'], ['31']],
    ['<1.10', 'dotted', ['1.9', '1.9.99', '1'], ['1.10', '1.10.0', '2']],
    ['1.1', 'dotted', ['1.1', '1.1.0'], ['1.10', '1.11']],
    ['>=2025-06-01 <2026-01-01', 'date', ['2025-06-01', '2025-12-31'], ['2025-05-31', '2026-01-01']],
    ['A', 'word', ['A'], ['a', 'B']],
    [['A', 'B'], 'word', ['B'], ['C']],
  ];
  test.each(holds)('%j as %s', (range, numbering, inside, outside) => {
    for (const value of inside) expect(inRange(value, range, numbering), value).toBe(true);
    for (const value of outside) expect(inRange(value, range, numbering), value).toBe(false);
  });

  test('what is no range, or an empty one, is refused in plain words', () => {
    for (const text of ['', '<', '20 31', '=31', '<31 or 40', '<>3', '~31', '1.x'])
      expect(parseRange(text, 'integer').problem, text).toBeTypeOf('string');
    expect(parseRange('<B', 'word').problem).toContain('no order');
    for (const text of ['>=31 <20', '>31 <31', '>=31 <31', '>30 <31'])
      expect(parseRange(text, 'integer').problem, text).toContain('nothing lies in');
    expect(parseRange('>=31 <=31', 'integer').range).toBeDefined();
    expect(parseRange('>1.0 <1.1', 'dotted').range).toBeDefined();
  });

  test('end points are where a proof over all machines cuts', () => {
    expect(endPoints(parseRange('>=20 <31', 'integer').range!)).toEqual(['20', '31']);
    expect(endPoints(parseRange(['A', 'B'], 'word').range!)).toEqual(['A', 'B']);
  });
});
