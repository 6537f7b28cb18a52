import { expect, test } from 'vitest';
import { parseHex, parseSize, parseTradeSize } from '../../src/board/units.js';

test('a size is a whole number of bytes, with the units of IEC 80000-13', () => {
  expect(parseSize('512')).toBe(512);
  expect(parseSize('512B')).toBe(512);
  expect(parseSize('28KiB')).toBe(28_672);
  expect(parseSize('1.5MiB')).toBe(1_572_864);
  expect(parseSize('2GiB')).toBe(2_147_483_648);
  expect(parseSize('4TiB')).toBe(4_398_046_511_104);
});

test('what is no size has no value', () => {
  for (const text of [
    '',
    'KiB',
    '4kb',
    '4Kib',
    '4 KB',
    '32GB',
    '-1',
    '1e3',
    '0.3B',
    '9007199254740993',
    '0x10',
    '1.KiB',
  ])
    expect(parseSize(text), text).toBeUndefined();
});

test('a trade size takes in cards that are a little larger', () => {
  // A card sold as 32 GB that holds 32,010,928,128 bytes is common.
  expect(parseTradeSize('32GB')).toEqual({ nominal: 32_000_000_000, most: 32_640_000_000 });
  expect(parseTradeSize('32GB')!.most).toBeGreaterThan(32_010_928_128);
  expect(parseTradeSize('2GiB')).toEqual({ nominal: 2_147_483_648, most: 2_147_483_648 });
  expect(parseTradeSize('big')).toBeUndefined();
});

test('an address is hexadecimal', () => {
  expect(parseHex('0x08007000')).toBe(134_246_400);
  expect(parseHex('0xFFFFFFFF')).toBe(4_294_967_295);
  for (const text of ['08007000', '0x', '0xG', '0x12345678901234'])
    expect(parseHex(text), text).toBeUndefined();
});
