import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { limits } from '../../src/bytes/limits.js';
import { checksumKinds, checksumOf } from '../../src/firmware/checksums.js';
import { detectEncodings, encodingRegistry } from '../../src/firmware/encodings/registry.js';
import { lookAlike } from '../../src/firmware/look-alike.js';
import { MemoryMapBuilder } from '../../src/firmware/memory-map.js';
import { ProblemList } from '../../src/firmware/problem.js';
import { parseProcessors } from '../../src/firmware/processors.js';
import { findVectorTables, readVectors } from '../../src/firmware/vector-table.js';

const ascii = (text: string): number[] => Array.from(text, (c) => c.charCodeAt(0));
/** Beginnings that lead each decoder past its first test. */
const heads: readonly number[][] = [
  [],
  [0x7f, 0x45, 0x4c, 0x46, 1, 1, 1],
  [0x7f, 0x45, 0x4c, 0x46, 1, 2, 1],
  [0xe9, 3, 2, 0x20],
  [0xea, 4],
  [...ascii('DfuSe'), 1],
  ascii('UF2\n').concat([0x57, 0x51, 0x5d, 0x9e]),
  [0x1f, 0x8b, 8, 0x0c],
  ascii(':020000040800F2\n:'),
  ascii('S00600004844521B\nS3'),
];
const noise = fc
  .tuple(fc.constantFrom(...heads), fc.uint8Array({ maxLength: 1500 }))
  .map(([head, rest]) => Uint8Array.from([...head, ...rest]));
/** Bytes that a text decoder goes on with. */
const digits = fc
  .array(fc.constantFrom(...ascii('0123456789ABCDEFabcdef:S\n\r ')), { maxLength: 600 })
  .map((list) => Uint8Array.from(list));
/** UF2 blocks with all magic numbers right and everything else by chance. */
const blocks = fc
  .array(fc.uint8Array({ minLength: 512, maxLength: 512 }), { minLength: 1, maxLength: 4 })
  .map((list) => {
    const file = new Uint8Array(list.length * 512);
    list.forEach((bytes, i) => {
      file.set(bytes, i * 512);
      file.set([0x55, 0x46, 0x32, 0x0a, 0x57, 0x51, 0x5d, 0x9e], i * 512);
      file.set([0x00, 0x01, 0, 0], i * 512 + 16);
      file.set([0x30, 0x6f, 0xb1, 0x0a], i * 512 + 508);
    });
    return file;
  });

describe('any bytes', () => {
  it('through every decoder: no throw, a map in order, not more program than the file can hold', () => {
    fc.assert(
      fc.property(fc.oneof(noise, digits, blocks), (bytes) => {
        for (const encoding of encodingRegistry) {
          expect(encoding.detect(bytes).because).not.toBe('');
          const { map, problems, problemsTotal, encoding: id } = encoding.decode(bytes, { sha256: () => '' });
          expect(id).toBe(encoding.id);
          let last = -1;
          for (const { start, bytes: part } of map.segments) {
            expect(start).toBeGreaterThan(last);
            expect(part.length).toBeGreaterThan(0);
            last = start + part.length;
            expect(last).toBeLessThanOrEqual(2 ** 32);
          }
          // Only ELF may name the same bytes of the file more than once.
          if (id !== 'elf') expect(map.byteCount).toBeLessThanOrEqual(bytes.length);
          expect(problems.length).toBe(Math.min(problemsTotal, limits.problems));
          for (const { at } of problems) {
            expect(at).toBeGreaterThanOrEqual(0);
            expect(Number.isSafeInteger(at)).toBe(true);
          }
          if (map.start !== null) readVectors(map, map.start);
          findVectorTables(map, null);
        }
        detectEncodings(bytes);
        for (const kind of checksumKinds) checksumOf(kind, bytes);
      }),
      { numRuns: 400 },
    );
  });

  it('is a look-alike by its content alone, the same each time', () => {
    fc.assert(
      fc.property(noise, (bytes) => {
        expect(lookAlike(bytes.slice(), bytes.length)).toEqual(lookAlike(bytes, bytes.length));
      }),
      { numRuns: 200 },
    );
  });

  it('as a table of processors is refused and does not throw', () => {
    fc.assert(
      fc.property(fc.oneof(fc.string(), fc.json()), (text) => {
        expect(parseProcessors(text).errors.length).toBeGreaterThan(0);
      }),
      { numRuns: 200 },
    );
  });
});

describe('MemoryMapBuilder', () => {
  it('holds at every address the byte that was written there last', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 0, max: 60 }), fc.uint8Array({ minLength: 1, maxLength: 20 })), {
          maxLength: 12,
        }),
        (pieces) => {
          const expected = new Map<number, number>();
          const builder = new MemoryMapBuilder(new ProblemList());
          for (const [start, bytes] of pieces) {
            builder.add(start, bytes, 0);
            bytes.forEach((byte, i) => {
              expected.set(start + i, byte);
            });
          }
          const map = builder.build();
          expect(map.byteCount).toBe(expected.size);
          for (const [address, byte] of expected) expect(map.read(address, 1)?.[0]).toBe(byte);
        },
      ),
      { numRuns: 300 },
    );
  });

  it('reports an overlap exactly when a byte is written over with another', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(
            fc.integer({ min: 0, max: 20 }),
            fc.array(fc.integer({ min: 0, max: 1 }), { minLength: 1, maxLength: 6 }),
          ),
          {
            maxLength: 6,
          },
        ),
        (pieces) => {
          const problems = new ProblemList();
          const builder = new MemoryMapBuilder(problems);
          const written = new Map<number, number>();
          let differs = false;
          for (const [start, bytes] of pieces) {
            builder.add(start, Uint8Array.from(bytes), 0);
            bytes.forEach((byte, i) => {
              const before = written.get(start + i);
              if (before !== undefined && before !== byte) differs = true;
              written.set(start + i, byte);
            });
          }
          builder.build();
          expect(problems.total > 0).toBe(differs);
        },
      ),
      { numRuns: 300 },
    );
  });
});
