import { describe, expect, it } from 'vitest';
import { limits } from '../../src/bytes/limits.js';
import {
  alignUp,
  isAligned,
  MemoryMap,
  MemoryMapBuilder,
  singleSegment,
} from '../../src/firmware/memory-map.js';
import { ProblemList } from '../../src/firmware/problem.js';

const bytes = (...values: number[]): Uint8Array => Uint8Array.from(values);

function build(...pieces: [number, Uint8Array][]): {
  map: MemoryMap;
  problems: ProblemList;
  overLimit: boolean;
} {
  const problems = new ProblemList();
  const builder = new MemoryMapBuilder(problems);
  pieces.forEach(([start, part], i) => {
    builder.add(start, part, i * 100);
  });
  return { map: builder.build(), problems, overLimit: builder.overLimit };
}

describe('MemoryMapBuilder', () => {
  it('orders pieces and joins those that touch', () => {
    const { map, problems } = build([0x104, bytes(5, 6)], [0x100, bytes(1, 2, 3, 4)], [0x200, bytes(9)]);
    expect(map.segments).toEqual([
      { start: 0x100, bytes: bytes(1, 2, 3, 4, 5, 6) },
      { start: 0x200, bytes: bytes(9) },
    ]);
    expect(problems.items).toEqual([]);
  });

  it('lets the later piece stand where two overlap, and says where they differ', () => {
    const { map, problems } = build([0x100, bytes(1, 2, 3, 4)], [0x102, bytes(3, 9, 9)]);
    expect(map.segments).toEqual([{ start: 0x100, bytes: bytes(1, 2, 3, 9, 9) }]);
    expect(problems.items).toEqual([
      { code: 'overlap', text: 'address 0x00000103 is given twice, with different bytes', at: 100 },
    ]);
  });

  it('finds nothing wrong with the same bytes given twice', () => {
    expect(build([0x100, bytes(1, 2)], [0x101, bytes(2, 3)]).problems.items).toEqual([]);
  });

  it('reaches to the end of 32 bits and no further', () => {
    const { map, problems } = build(
      [0xfffffffe, bytes(1, 2)],
      [0xffffffff, bytes(1, 2)],
      [-1, bytes(1)],
      [0.5, bytes(1)],
    );
    expect(map.end).toBe(2 ** 32);
    expect(problems.items.map(({ code, at }) => [code, at])).toEqual([
      ['address-past-32-bits', 100],
      ['address-past-32-bits', 200],
      ['address-past-32-bits', 300],
    ]);
  });

  it('does not change the arrays that it was given', () => {
    const first = bytes(1, 2);
    build([0, first], [2, bytes(3)], [0, bytes(7)]);
    expect(first).toEqual(bytes(1, 2));
  });

  it('stops at the limit of separate pieces', () => {
    const problems = new ProblemList();
    const builder = new MemoryMapBuilder(problems);
    for (let i = 0; i < limits.programPieces + 5; i++) builder.add(i * 2, bytes(1), i);
    expect(builder.overLimit).toBe(true);
    expect(builder.build().segments.length).toBe(limits.programPieces);
    expect(problems.total).toBe(1);
  });
});

describe('MemoryMap', () => {
  const map = new MemoryMap([
    { start: 0x08000000, bytes: bytes(1, 2, 3, 4, 5) },
    { start: 0xfffffff0, bytes: bytes(0xff, 0xff, 0xff, 0xff) },
  ]);

  it('reads what is there and nothing else', () => {
    expect(map.read(0x08000001, 2)).toEqual(bytes(2, 3));
    expect(map.read(0x08000003, 3)).toBeNull();
    expect(map.read(0x07ffffff, 1)).toBeNull();
    expect(map.word(0x08000000)).toBe(0x04030201);
    expect(map.word(0xfffffff0)).toBe(0xffffffff);
    expect(map.word(0x08000002)).toBeNull();
    expect(new MemoryMap([]).start).toBeNull();
    expect(new MemoryMap([]).end).toBeNull();
  });

  it('tells what lies inside and outside an area, to the byte', () => {
    expect(map.outside(0x08000000, 0x08000005)).toEqual([{ start: 0xfffffff0, end: 0xfffffff4 }]);
    expect(map.outside(0x08000001, 0xfffffff3)).toEqual([
      { start: 0x08000000, end: 0x08000001 },
      { start: 0xfffffff3, end: 0xfffffff4 },
    ]);
    expect(map.inside(0x08000004, 0xfffffff1)).toEqual([
      { start: 0x08000004, end: 0x08000005 },
      { start: 0xfffffff0, end: 0xfffffff1 },
    ]);
    expect(map.slice(0x08000001, 0x08000003).segments).toEqual([{ start: 0x08000001, bytes: bytes(2, 3) }]);
    expect(map.outside(0, 2 ** 32)).toEqual([]);
    expect(map.byteCount).toBe(9);
  });

  it('finds bytes', () => {
    expect(map.find(bytes(3, 4))).toBe(0x08000002);
    expect(map.find(bytes(4, 3))).toBeNull();
    expect(map.find(bytes())).toBeNull();
    expect(singleSegment(0, bytes()).segments).toEqual([]);
  });

  it('aligns', () => {
    expect(alignUp(0x80000001, 16)).toBe(0x80000010);
    expect(alignUp(32, 16)).toBe(32);
    expect(isAligned(0xfffffffc, 4)).toBe(true);
    expect(isAligned(0xfffffffe, 4)).toBe(false);
  });
});
