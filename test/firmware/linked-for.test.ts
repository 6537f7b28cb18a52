import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { intelHex } from '../../src/firmware/encodings/intel-hex.js';
import { linkedFor } from '../../src/firmware/linked-for.js';
import { singleSegment } from '../../src/firmware/memory-map.js';
import { parseProcessors } from '../../src/firmware/processors.js';
import { buildProgram, Workshop } from '../oracle/firmware-tools.js';

const { table } = parseProcessors(
  readFileSync(join(import.meta.dirname, '../../rules/processors.yaml'), 'utf8'),
);
const f103 = table.get('STM32F103RC')!;
const place = (at: number, others: number[] = []) => ({ at, area: { start: at, end: 0x08040000 }, others });

/** Programs that the GNU linker placed; the answer is compared with the address that it was given. */
const bases = [0x08000000, 0x08002000, 0x08004000, 0x08007000, 0x08008000, 0x0800c000, 0x08010000];

describe('programs of arm-none-eabi-gcc', () => {
  const shop = new Workshop();
  beforeAll(() => {
    for (const base of bases) buildProgram(shop, `p${base}`, base);
  });
  afterAll(() => shop.remove());

  test.each(bases)('plain bytes linked for %i, held against every other place', (base) => {
    const bytes = shop.read(`p${base}.bin`);
    for (const at of bases)
      expect(linkedFor(singleSegment(at, bytes), f103, place(at))).toBe(
        // Both ends lie inside the area of a place further down: nobody can tell it from a program that is cut short.
        base === at ? null : base > at ? null : base,
      );
  });

  test.each(bases)('the same where the other places are known, also for %i', (base) => {
    const bytes = shop.read(`p${base}.bin`);
    for (const at of bases)
      expect(linkedFor(singleSegment(at, bytes), f103, place(at, bases))).toBe(base === at ? null : base);
  });

  test.each(bases)('Intel HEX names its own address, %i', (base) => {
    const { map } = intelHex.decode(shop.read(`p${base}.hex`));
    for (const at of bases) expect(linkedFor(map, f103, place(at))).toBe(base === at ? null : base);
  });

  test('a long program for a place further up, by the address of its own table', () => {
    const base = 0x0800c000;
    const bytes = new Uint8Array(0x10000).fill(0xff);
    bytes.set(shop.read(`p${base}.bin`));
    const view = new DataView(bytes.buffer);
    const held = (at: number) => linkedFor(singleSegment(at, bytes), f103, place(at, [base]));
    // Its vectors point into it at either place, and nothing else tells.
    expect(held(0x08008000)).toBeNull();
    view.setUint32(0x400, base, true);
    expect(held(0x08008000)).toBe(base);
    // A program that holds both addresses says nothing.
    view.setUint32(0x404, 0x08008000, true);
    expect(held(0x08008000)).toBeNull();
  });

  test('a program cut short is not taken for one of another place', () => {
    const bytes = shop.read('p134250496.bin').subarray(0, 64);
    expect(bytes.length).toBe(64);
    expect(linkedFor(singleSegment(0x08008000, bytes), f103, place(0x08008000))).toBeNull();
  });
});
