import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { boundaryUnit } from '../../src/card/writer/layout.js';
import { treeOf } from '../../src/card/writer/tree.js';
import { filesForCards, type Made, makeCard, readBack, wishOf } from '../support/new-card.js';

let work: string;
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-writer-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

const path = (): string => join(work, 'card.img');
const MiB = 2 ** 20;

describe('a new card', () => {
  it.each([
    ['FAT12', 512, 512],
    ['FAT12', 4096, 512],
    ['FAT16', 512, 512],
    ['FAT16', 2048, 512],
    ['FAT16', 32768, 512],
    ['FAT16', 4096, 4096],
    ['FAT32', 512, 512],
    ['FAT32', 4096, 512],
    ['FAT32', 2048, 2048],
  ] as const)(
    '%s with clusters of %i and sectors of %i bytes is one that the tools accept',
    (fileSystem, clusterBytes, sectorBytes) => {
      const made = makeCard(
        path(),
        wishOf({ fileSystems: [fileSystem], clusterBytes: [clusterBytes], sectorBytes: [sectorBytes] }),
      );
      expect(made?.layout).toMatchObject({ fileSystem, clusterBytes, bytesPerSector: sectorBytes });
      readBack(path(), made as Made);
    },
  );

  it('stays sixteen clusters away from where drivers differ, has one partition, and begins where the size class wants', () => {
    fc.assert(
      fc.property(
        fc.constantFrom('FAT12', 'FAT16', 'FAT32'),
        fc.constantFrom(512, 1024, 4096, 8192, 32768),
        fc.option(fc.integer({ min: 1, max: 4096 })),
        fc.constantFrom(1, 2),
        (fileSystem, clusterBytes, mebibytes, fatCount) => {
          const wish = wishOf({
            fileSystems: [fileSystem as 'FAT16'],
            clusterBytes: [clusterBytes],
            fatCounts: [fatCount],
            size: mebibytes === null ? null : mebibytes * MiB,
          });
          const made = makeCard(null, wish);
          if (made === null) return;
          const { layout } = made;
          // FAT specification, section 3.5: a count within 16 of either edge is asking for trouble.
          for (const edge of [4085, 65525])
            expect(Math.abs(layout.clusterCount - edge)).toBeGreaterThanOrEqual(16);
          const width =
            layout.clusterCount < 4085 ? 'FAT12' : layout.clusterCount < 65525 ? 'FAT16' : 'FAT32';
          expect(width).toBe(fileSystem);
          expect(layout.startByte % boundaryUnit(layout.bytes)).toBe(0);
          expect(layout.dataByte % boundaryUnit(layout.bytes)).toBe(0);
          expect(layout.startByte + layout.totalSectors * layout.bytesPerSector).toBeLessThanOrEqual(
            layout.bytes,
          );
        },
      ),
      { numRuns: 300 },
    );
  });

  // Boundary units in sectors: open formatters that follow the SD File System Specification, version 3.
  it.each([
    [8, 16],
    [64, 32],
    [256, 64],
    [1024, 128],
    [2048, 128],
    [32 * 1024, 8192],
    [128 * 1024, 32768],
    [512 * 1024, 65536],
  ])('a card of %i MiB begins its parts on multiples of %i sectors', (mebibytes, sectors) => {
    expect(boundaryUnit(mebibytes * MiB)).toBe(sectors * 512);
  });

  it('is the same for the same files, and another one for others', () => {
    const sum = (): string => createHash('sha256').update(readFileSync(path())).digest('hex');
    const wish = wishOf({ fileSystems: ['FAT16'] });
    makeCard(path(), wish);
    const first = sum();
    makeCard(path(), wish);
    expect(sum()).toBe(first);
    makeCard(path(), wish, filesForCards().slice(1));
    expect(sum()).not.toBe(first);
  });

  it('holds the update file first, in one piece, and everything in the first clusters', () => {
    const made = makeCard(path(), wishOf({ fileSystems: ['FAT16'], clusterBytes: [2048] })) as Made;
    const at = `${path()}@@${made.layout.startByte}`;
    const [first] = filesForCards();
    const chain = execFileSync('mshowfat', ['-i', at, `::${first?.path}`], { encoding: 'utf8' });
    expect(chain).toMatch(/<\d+-\d+>/);
    expect(chain.match(/</g)).toHaveLength(1);
    const [line] = execFileSync('mdir', ['-i', at, '-b', '::'], { encoding: 'utf8' }).split('\n');
    expect(line).toBe(`::/${first?.path}`);
  });

  it('refuses names that no card can hold, or not beside each other', () => {
    const bytes = new Uint8Array(1);
    for (const name of [
      'a/b?c',
      'CON:',
      'x\u0001',
      '',
      'a//b',
      '..',
      `${'x'.repeat(256)}.BIN`,
      'end.',
      'end ',
    ])
      expect(() => treeOf([{ path: name, bytes }], false)).toThrow();
    expect(() =>
      treeOf(
        [
          { path: 'A.BIN', bytes },
          { path: 'a.bin', bytes },
        ],
        false,
      ),
    ).toThrow();
    expect(() =>
      treeOf(
        [
          { path: 'A.BIN', bytes },
          { path: 'B/A.BIN', bytes },
        ],
        false,
      ),
    ).not.toThrow();
  });
});
