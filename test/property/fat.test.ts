import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type ByteSource, isInside, ReadProblem } from '../../src/bytes/byte-source.js';
import { readFatVolume, readFile } from '../../src/card/fat/volume.js';
import { collectDamage, collectFatVolume } from '../../src/facts/collect-fat.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { Patch, someBytes, Workshop } from '../oracle/fat-tools.js';

const work = new Workshop();
afterAll(() => work.remove());
const bases = new Map<number, Uint8Array>();

beforeAll(() => {
  work.write('a.bin', someBytes(20_000, 1));
  work.write('a longer name.txt', someBytes(3000, 2));
  for (const [bits, size] of [
    [12, 700 * 1024],
    [16, 4_400_000],
    [32, 34_300_000],
  ] as const) {
    const image = work.format(`${bits}.img`, size, '-F', `${bits}`, '-s', '1', '-n', 'CARD');
    work.run('mmd', '-i', image, '::SUB', '::SUB/IN');
    for (const to of ['::', '::SUB', '::SUB/IN'])
      work.run('mcopy', '-i', image, work.path('a.bin'), work.path('a longer name.txt'), to);
    bases.set(bits, work.read(`${bits}.img`));
  }
});

/** Bytes with some of them changed, which are not copied for that. */
class Changed implements ByteSource {
  constructor(
    private readonly base: Uint8Array,
    private readonly changes: ReadonlyMap<number, number>,
    readonly size = base.length,
  ) {}
  read(at: number, length: number): Uint8Array | ReadProblem {
    if (!isInside(at, length, this.size)) return new ReadProblem(at, length, 'past-end');
    const bytes = new Uint8Array(length);
    if (at < this.base.length) bytes.set(this.base.subarray(at, Math.min(at + length, this.base.length)));
    for (const [place, value] of this.changes)
      if (place >= at && place < at + length) bytes[place - at] = value;
    return bytes;
  }
}

/** Everything that is ever done with a volume. */
function readWhole(source: ByteSource): void {
  const volume = readFatVolume(source);
  if (volume instanceof ReadProblem) return;
  const store = new FactStore();
  collectFatVolume(store, volume, 0, source.size);
  collectDamage(store, volume, 0, { entry: volume.entries[0] ?? null, wantedShortName: null });
  for (const [path, { value }] of store.all()) if (path.startsWith('damage.')) expect(value).toBeDefined();
  for (const entry of volume.entries.slice(0, 20))
    if (!entry.isFolder && entry.bytes < 2 ** 24) readFile(volume, entry, () => undefined);
}

/** Nothing may take longer than this, in milliseconds: honest volumes of this size take a few. */
const patience = 2000;

function timed(source: ByteSource): void {
  const started = performance.now();
  readWhole(source);
  expect(performance.now() - started).toBeLessThan(patience);
}

describe.each([
  [12, 120],
  [16, 120],
  [32, 40],
] as const)('FAT%i with changed bytes', (bits, numRuns) => {
  it('never throws and never takes long', () => {
    const base = bases.get(bits) as Uint8Array;
    const patch = new Patch(base);
    const sub = patch.clusterAt(patch.firstCluster(patch.entry('SUB        ')));
    const place = fc.oneof(
      fc.integer({ min: 0, max: 89 }),
      fc.integer({ min: 510, max: 1100 }),
      fc.integer({ min: patch.fatAt(0), max: patch.fatAt(0) + 500 }),
      fc.integer({ min: patch.fatAt(1), max: patch.fatAt(1) + 500 }),
      fc.integer({ min: patch.root, max: patch.root + 400 }),
      fc.integer({ min: sub, max: sub + 400 }),
    );
    const change = fc.tuple(place, fc.integer({ min: 0, max: 255 }));
    fc.assert(
      fc.property(fc.array(change, { minLength: 1, maxLength: 30 }), (changes) => {
        timed(new Changed(base, new Map(changes)));
      }),
      { numRuns },
    );
  });
});

describe('boot sectors of any kind', () => {
  it('never throw and never take long, whatever size they claim', () => {
    const field = (bits: 8 | 16 | 32, ...usual: number[]) =>
      fc.oneof(fc.constantFrom(...usual), fc.integer({ min: 0, max: 2 ** bits - 1 }));
    const fields = fc.record({
      sector: field(16, 512, 1024, 4096),
      perCluster: field(8, 1, 8, 128),
      reserved: field(16, 1, 32),
      fats: field(8, 1, 2),
      root: field(16, 0, 512),
      total16: field(16, 0, 0xffff),
      total32: field(32, 100_000, 0xffffffff),
      fat16: field(16, 0, 1, 200),
      fat32: field(32, 600, 0x1_0000, 0x80_0000),
      rootCluster: field(32, 2),
      flags: field(16, 0, 0x81),
      fill: field(8, 0, 0xff, 0x41, 0x0f),
      size: fc.constantFrom(4096, 1024 * 1024, 2 ** 33, 2 ** 42),
    });
    fc.assert(
      fc.property(fields, (value) => {
        const start = new Uint8Array(64 * 1024).fill(value.fill);
        const view = new DataView(start.buffer);
        start.set([0xeb, 0x58, 0x90]);
        view.setUint16(11, value.sector, true);
        start[13] = value.perCluster;
        view.setUint16(14, value.reserved, true);
        start[16] = value.fats;
        view.setUint16(17, value.root, true);
        view.setUint16(19, value.total16, true);
        start[21] = 0xf8;
        view.setUint16(22, value.fat16, true);
        view.setUint32(32, value.total32, true);
        view.setUint32(36, value.fat32, true);
        view.setUint16(40, value.flags, true);
        view.setUint32(44, value.rootCluster, true);
        timed(new Changed(start, new Map(), value.size));
      }),
      { numRuns: 120 },
    );
  });
});

describe('folders filled with anything', () => {
  it('never throw and never take long', () => {
    const base = bases.get(16) as Uint8Array;
    const { root } = new Patch(base);
    const slot = fc.oneof(
      fc.uint8Array({ minLength: 32, maxLength: 32 }),
      fc.uint8Array({ minLength: 32, maxLength: 32 }).map((bytes) => {
        bytes[11] = 0x0f;
        return bytes;
      }),
      fc.integer({ min: 0, max: 10_000 }).map((cluster) => {
        const bytes = new Uint8Array(32).fill(0x41);
        bytes[11] = 0x10;
        new DataView(bytes.buffer).setUint16(26, cluster, true);
        return bytes;
      }),
    );
    fc.assert(
      fc.property(fc.array(slot, { minLength: 1, maxLength: 60 }), (slots) => {
        const changes = new Map<number, number>();
        for (const [index, bytes] of slots.entries())
          for (const [i, byte] of bytes.entries()) changes.set(root + index * 32 + i, byte);
        timed(new Changed(base, changes));
      }),
      { numRuns: 100 },
    );
  });
});
