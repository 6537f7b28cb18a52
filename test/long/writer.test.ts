import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { nodeDigests } from '../../src/node/digests.js';
import { askFatFs, loadFatFs } from '../../src/node/fatfs-opinion.js';
import { FileSource } from '../../src/node/file-source.js';
import { type Made, makeCard, readBack, wishOf } from '../support/new-card.js';

let work: string;
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-writer-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

const clusterSizes = [512, 1024, 2048, 4096, 8192, 16384, 32768, 65536];
const sectorSizes = [512, 1024, 2048, 4096];
/** One size in each class of SD cards, and odd ones; null: the smallest that will do. */
const sizes = [
  null,
  7 * 2 ** 20,
  48 * 2 ** 20,
  200 * 2 ** 20 + 512,
  900 * 2 ** 20,
  1900 * 2 ** 20,
  4 * 2 ** 30,
  30 * 2 ** 30,
];
const grid = (['FAT12', 'FAT16', 'FAT32'] as const).flatMap((fileSystem) =>
  sectorSizes.flatMap((sectorBytes) =>
    clusterSizes.map((clusterBytes) => ({ fileSystem, sectorBytes, clusterBytes })),
  ),
);
const sha256 = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');

it('every width, cluster size, sector size and class of card is one that fsck.fat, sfdisk, mtools and FatFs accept', async () => {
  const fatFs = await loadFatFs();
  if (typeof fatFs === 'string') throw new Error(fatFs);
  let made = 0;
  for (const { fileSystem, sectorBytes, clusterBytes } of grid)
    for (const size of sizes) {
      const wish = wishOf({
        fileSystems: [fileSystem],
        sectorBytes: [sectorBytes],
        clusterBytes: [clusterBytes],
        fatCounts: [made % 2 === 0 ? 2 : 1],
        size,
      });
      const path = join(work, 'card.img');
      const card: Made | null = makeCard(path, wish);
      if (card === null) continue;
      made++;
      readBack(path, card);
      // The table counts in sectors of 512 bytes, which FatFs takes for its own.
      if (sectorBytes !== 512) continue;
      const source = FileSource.open(path);
      try {
        for (const { path: name, bytes } of card.files) {
          const answer = await askFatFs(fatFs, source, 512, name, nodeDigests);
          const file = { bytes: bytes.length, sha256: sha256(bytes) };
          expect({ fileSystem, clusterBytes, size, answer }).toMatchObject({
            answer: { mount: { code: 0 }, file },
          });
        }
      } finally {
        source.close();
      }
    }
  // Most sizes suit one width only; what is left is no accident.
  expect(made).toBeGreaterThan(150);
}, 900_000);
