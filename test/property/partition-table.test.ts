import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type ByteSource, isInside, MemorySource, ReadProblem } from '../../src/bytes/byte-source.js';
import { limits } from '../../src/bytes/limits.js';
import { gptCrc32 } from '../../src/card/partition-table/gpt.js';
import { readPartitionTable } from '../../src/card/partition-table/partition-table.js';
import { recognise, residues, residuesOfMedium } from '../../src/card/recognise.js';
import { collectPartitions, collectRecognised } from '../../src/facts/collect-partitions.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { mbrSector, noise } from '../support/disk-images.js';

/** Counts reads, and refuses one that is not inside: nothing may be asked for past the end of the medium. */
class Counting implements ByteSource {
  reads = 0;
  constructor(
    private readonly inner: ByteSource,
    private readonly bad: (at: number, length: number) => boolean = () => false,
  ) {}
  get size(): number {
    return this.inner.size;
  }
  read(at: number, length: number): Uint8Array | ReadProblem {
    this.reads++;
    if (!isInside(at, length, this.inner.size)) throw new Error(`asked for ${length} bytes at ${at}`);
    return this.bad(at, length) ? new ReadProblem(at, length, 'read-error') : this.inner.read(at, length);
  }
}

/** Everything that this part does with a medium; none of it may throw, and the reads are bounded. */
function readAll(source: Counting): void {
  const table = readPartitionTable(source);
  expect(table.problems.length).toBeLessThanOrEqual(limits.problems);
  for (const entry of table.entries) {
    expect(Number.isSafeInteger(entry.startByte)).toBe(true);
    expect(Number.isSafeInteger(entry.bytes)).toBe(true);
  }
  const store = new FactStore();
  const { taken } = collectPartitions(store, source, null);
  expect(taken.found).toBe(false);
  collectRecognised(store, recognise(source));
  residues(source, () => true);
  const first = table.entries[0] ?? { startByte: 0, bytes: source.size };
  residuesOfMedium(source, table, first, () => true);
  expect(source.reads).toBeLessThan(20_000);
}

const SECTORS = 256;
const base = (): Uint8Array => {
  const bytes = noise(SECTORS * 512, 7);
  bytes.set(mbrSector([[0x80, 0x0c, 8, 100], null, null, [0, 0x0f, 120, 100]]));
  bytes.set(
    mbrSector([
      [0, 0x06, 2, 20],
      [0, 0x05, 30, 40],
    ]),
    120 * 512,
  );
  bytes.set(mbrSector([[0, 0x06, 2, 20]]), 150 * 512);
  return bytes;
};
/** A GPT on the same medium: header and array made by hand, checksums wrong unless they are repaired. */
const gpt = (): Uint8Array => {
  const bytes = noise(SECTORS * 512, 9);
  bytes.set(mbrSector([[0, 0xee, 1, SECTORS - 1]]));
  bytes.set(new TextEncoder().encode('EFI PART'), 512);
  bytes.set(new TextEncoder().encode('EFI PART'), (SECTORS - 1) * 512);
  return bytes;
};
const exfat = (): Uint8Array => {
  const bytes = noise(SECTORS * 512, 11);
  bytes.fill(0, 0, 512);
  bytes.set(new TextEncoder().encode('EXFAT   '), 3);
  const view = new DataView(bytes.buffer);
  view.setUint32(72, SECTORS, true);
  view.setUint32(80, 24, true);
  view.setUint32(84, 4, true);
  view.setUint32(88, 32, true);
  view.setUint32(92, 100, true);
  view.setUint32(96, 4, true);
  bytes.set([9, 1, 1, 0x80], 108);
  bytes.set([0x55, 0xaa], 510);
  return bytes;
};

describe('no input makes the readers throw, hang or read past the end', () => {
  it('random bytes in sector 0', () => {
    fc.assert(
      fc.property(
        fc.uint8Array({ minLength: 512, maxLength: 512 }),
        fc.integer({ min: 0, max: 64 }),
        (head, more) => {
          const bytes = new Uint8Array(head.length + more * 512);
          bytes.set(head);
          bytes.set([0x55, 0xaa], 510);
          readAll(new Counting(new MemorySource(bytes)));
        },
      ),
      { numRuns: 200 },
    );
  });

  it.each([
    ['MBR with a chain', base, 120 * 512 + 510],
    ['GPT', gpt, 2048],
    ['exFAT', exfat, 30 * 512],
  ] as const)('flipped bytes: %s', (_name, make, within) => {
    const place = fc.oneof(
      fc.integer({ min: 446, max: 511 }),
      fc.integer({ min: 512, max: 640 }),
      fc.integer({ min: 0, max: within }),
    );
    fc.assert(
      fc.property(fc.array(fc.tuple(place, fc.integer({ min: 0, max: 255 })), { maxLength: 12 }), (flips) => {
        const bytes = make();
        for (const [at, value] of flips) bytes[at] = value;
        readAll(new Counting(new MemorySource(bytes)));
      }),
      { numRuns: 150 },
    );
  });

  it.each([
    ['MBR with a chain', base],
    ['GPT', gpt],
    ['exFAT', exfat],
  ] as const)('sectors that cannot be read: %s', (_name, make) => {
    const bytes = make();
    fc.assert(
      fc.property(fc.uniqueArray(fc.integer({ min: 0, max: SECTORS - 1 }), { maxLength: 8 }), (bad) => {
        const touches = (at: number, length: number): boolean =>
          bad.some((sector) => at < (sector + 1) * 512 && at + length > sector * 512);
        readAll(new Counting(new MemorySource(bytes), touches));
      }),
      { numRuns: 80 },
    );
  });

  it('a GPT with right checksums over any fields and entries', () => {
    const number = fc.oneof(
      fc.bigInt({ min: 0n, max: 300n }),
      fc.bigInt({ min: 0n, max: 2n ** 64n - 1n }),
      fc.constantFrom(2n ** 53n, 2n ** 53n / 512n, 2n ** 64n - 1n),
    );
    const count = fc.oneof(
      { weight: 4, arbitrary: fc.integer({ min: 1, max: 200 }) },
      { weight: 1, arbitrary: fc.integer({ min: 0, max: 2 ** 32 - 1 }) },
    );
    const size = fc.oneof(
      { weight: 4, arbitrary: fc.constant(128) },
      { weight: 1, arbitrary: fc.constantFrom(256, 129, 0) },
      { weight: 1, arbitrary: fc.integer({ min: 0, max: 2 ** 32 - 1 }) },
    );
    const fields = fc.record({
      other: number,
      usable: fc.tuple(number, number),
      array: fc.oneof({ weight: 3, arbitrary: fc.constant(2n) }, { weight: 1, arbitrary: number }),
      count,
      size,
      entries: fc.array(fc.tuple(number, number), { maxLength: 8 }),
    });
    let used = 0;
    fc.assert(
      fc.property(fields, ({ other, usable, array, count, size, entries }) => {
        const bytes = gpt();
        const view = new DataView(bytes.buffer);
        bytes.fill(0, 1024, 1024 + 200 * 128);
        entries.forEach(([first, last], i) => {
          bytes[1024 + i * 128] = 1;
          view.setBigUint64(1024 + i * 128 + 32, first, true);
          view.setBigUint64(1024 + i * 128 + 40, last, true);
        });
        view.setUint32(512 + 12, 92, true);
        [1n, other, ...usable].forEach((value, i) => {
          view.setBigUint64(512 + 24 + i * 8, value, true);
        });
        view.setBigUint64(512 + 72, array, true);
        view.setUint32(512 + 80, count, true);
        view.setUint32(512 + 84, size, true);
        const end = 1024 + count * size;
        view.setUint32(512 + 88, end <= bytes.length ? gptCrc32(bytes.subarray(1024, end)) : 0, true);
        view.setUint32(512 + 16, 0, true);
        view.setUint32(512 + 16, gptCrc32(bytes.subarray(512, 512 + 92)), true);
        if (readPartitionTable(new MemorySource(bytes)).entries.length > 0) used++;
        readAll(new Counting(new MemorySource(bytes)));
      }),
      { numRuns: 300, seed: 20 },
    );
    // The generator must reach the entries, or it would prove nothing about them.
    expect(used).toBeGreaterThan(20);
  });

  it('the chain of logical partitions as a graph of any shape ends', () => {
    const links = fc.array(fc.integer({ min: 0, max: 90 }), { minLength: 20, maxLength: 20 });
    fc.assert(
      fc.property(links, (targets) => {
        const bytes = new Uint8Array(SECTORS * 512);
        bytes.set(mbrSector([[0, 0x0f, 100, 150]]));
        targets.forEach((target, i) => {
          bytes.set(
            mbrSector([
              [0, 0x06, 1, 1],
              [0, 0x05, target, 5],
            ]),
            (100 + i * 4) * 512,
          );
        });
        const source = new Counting(new MemorySource(bytes));
        const table = readPartitionTable(source);
        expect(table.entries.length).toBeLessThanOrEqual(1 + targets.length);
        expect(source.reads).toBeLessThan(2 * targets.length + 10);
      }),
      { numRuns: 100 },
    );
  });
});
