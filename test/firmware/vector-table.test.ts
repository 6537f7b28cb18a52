import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { MemoryMap, singleSegment } from '../../src/firmware/memory-map.js';
import { hasVectorTable, isStackInRam, parseProcessors } from '../../src/firmware/processors.js';
import {
  codeAddress,
  findVectorTables,
  looksLikeVectorTable,
  lpcWordSeven,
  readVectors,
  vectorsOutside,
} from '../../src/firmware/vector-table.js';

const { table: processors } = parseProcessors(
  readFileSync(join(import.meta.dirname, '../../rules/processors.yaml'), 'utf8'),
);
const f103 = processors.get('STM32F103RC')!;

function words(...values: number[]): Uint8Array {
  const view = new DataView(new ArrayBuffer(values.length * 4));
  values.forEach((value, i) => {
    view.setUint32(i * 4, value, true);
  });
  return new Uint8Array(view.buffer);
}
/** A table of 16 words, reset at `code`, all handlers behind it, in a file of `length` bytes. */
function program(code: number, length: number, stack = 0x2000c000): Uint8Array {
  const file = new Uint8Array(length).fill(0x46);
  file.set(
    words(stack, code + 1, code + 5, code + 9, 0, 0, 0, 0, 0, 0, 0, code + 9, 0, 0, code + 9, code + 9),
  );
  return file;
}

describe('readVectors', () => {
  it('keeps the words as they are', () => {
    const table = readVectors(singleSegment(0x08000000, program(0x08000100, 0x400)), 0x08000000)!;
    expect(table).toMatchObject({
      at: 0x08000000,
      initialStack: 0x2000c000,
      reset: 0x08000101,
      stackAlignment: 8,
    });
    expect(table.vectors.map(({ name }) => name)).toEqual([
      'Reset',
      'NMI',
      'HardFault',
      'MemManage',
      'BusFault',
      'UsageFault',
      'SVCall',
      'DebugMonitor',
      'PendSV',
      'SysTick',
    ]);
    expect(vectorsOutside(table, f103.flash)).toEqual([]);
    expect(vectorsOutside(table, [{ start: 0x08000000, end: 0x08000104 }]).map(({ name }) => name)).toEqual([
      'NMI',
      'HardFault',
      'SVCall',
      'PendSV',
      'SysTick',
    ]);
  });

  it('tells shape without judging: alignment, Thumb bit, short images', () => {
    const table = readVectors(singleSegment(0, words(0x20000006, 0x100, 0)), 0)!;
    expect(table.stackAlignment).toBe(2);
    expect(table.withoutThumbBit).toEqual([{ index: 1, name: 'Reset', value: 0x100 }]);
    expect(table.vectors.length).toBe(2);
    expect(table.wordSum).toBeNull();
    expect(readVectors(singleSegment(0, words(0x20000000)), 0)).toBeNull();
    expect(readVectors(new MemoryMap([]), 0)).toBeNull();
    expect(codeAddress(0x101)).toBe(0x100);
  });

  it('sums the first eight words to zero when word 7 is right', () => {
    const head = [0x10008000, 0x169, 0x171, 0x173, 0x175, 0x177, 0x179];
    expect(readVectors(singleSegment(0, words(...head, lpcWordSeven(head))), 0)!.wordSum).toBe(0);
    expect(readVectors(singleSegment(0, words(...head, 0)), 0)!.wordSum).not.toBe(0);
    expect(lpcWordSeven([0, 0, 0, 0, 0, 0, 0])).toBe(0);
  });
});

describe('findVectorTables', () => {
  it('gives the addresses at which the program may have been linked', () => {
    const [found] = findVectorTables(singleSegment(0x08000000, program(0x08007100, 0x400)), f103);
    expect(found!.offset).toBe(0);
    // Vectors 08007100 to 08007108 must lie in the 0x400 bytes from the base on.
    expect(found!.linkBase).toEqual({ min: 0x08006d80, max: 0x08007100 });
    expect(found!.likelyBases).toEqual([]);
    const [atStart] = findVectorTables(singleSegment(0, program(0x08002040, 0x100)), f103);
    expect(atStart!.likelyBases).toEqual([0x08002000]);
  });

  it('finds a table behind a head of zeros', () => {
    const file = new Uint8Array(0x7000 + 0x400);
    file.set(program(0x08007100, 0x400), 0x7000);
    const found = findVectorTables(singleSegment(0x08000000, file), f103);
    expect(found.map(({ offset }) => offset)).toEqual([0x7000]);
  });

  it('finds a table at an aligned address behind an odd beginning, and at an odd beginning itself', () => {
    const file = new Uint8Array(0x410);
    file.set(program(0x08004100, 0x400), 0x10);
    const found = findVectorTables(singleSegment(0x08003ff0, file), f103);
    expect(found.map(({ table }) => table.at)).toEqual([0x08004000]);
    const shifted = findVectorTables(singleSegment(0x08003ff0, program(0x08004100, 0x400)), f103);
    expect(shifted.map(({ offset }) => offset)).toEqual([0]);
  });

  it('finds none where stack or code lie outside this processor', () => {
    const far = program(0x08000100, 0x400, 0x2000c004);
    expect(findVectorTables(singleSegment(0, far), f103)).toEqual([]);
    expect(findVectorTables(singleSegment(0, far), null).length).toBe(1);
    expect(findVectorTables(singleSegment(0, program(0x00080100, 0x400)), f103)).toEqual([]);
    expect(looksLikeVectorTable(new Uint8Array(64))).toBe(false);
    expect(looksLikeVectorTable(new Uint8Array(3))).toBe(false);
  });
});

describe('stack at the edges of RAM', () => {
  // A full-descending stack may begin at the end of RAM: the micro:bit program has 0x20004000 with 16 KiB.
  it('the end is inside, the start is not', () => {
    expect(isStackInRam(f103, 0x2000c000)).toBe(true);
    expect(isStackInRam(f103, 0x2000c004)).toBe(false);
    expect(isStackInRam(f103, 0x20000000)).toBe(false);
    expect(isStackInRam(f103, 0x20000004)).toBe(true);
    expect(hasVectorTable(f103)).toBe(true);
    expect(hasVectorTable(processors.get('ESP32')!)).toBe(false);
  });
});
