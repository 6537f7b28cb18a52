import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect } from 'vitest';
import { cardPieces } from '../../src/card/writer/card-image.js';
import { type CardLayout, type CardWish, layOut } from '../../src/card/writer/layout.js';
import { lengthsIn, treeOf } from '../../src/card/writer/tree.js';
import { type FilePiece, writeSparseFile } from '../../src/node/write-sparse-file.js';

export interface TestFile {
  readonly path: string;
  readonly bytes: Uint8Array;
}

export interface Made {
  readonly layout: CardLayout;
  readonly files: readonly TestFile[];
  readonly pieces: readonly FilePiece[];
}

/** A wish that leaves everything open but what is given. */
export const wishOf = (wish: Partial<CardWish>): CardWish => ({
  scheme: 'mbr',
  fileSystems: ['FAT12', 'FAT16', 'FAT32'],
  clusterBytes: null,
  sectorBytes: null,
  fatCounts: null,
  reservedSectors: null,
  dataAlignment: null,
  volumeBytes: {},
  cardBytes: {},
  size: null,
  realCardBytes: null,
  ...wish,
});

/** An update file, a companion with a long name, one in a folder, and an empty one. */
export function filesForCards(): TestFile[] {
  const pattern = (length: number, step: number): Uint8Array =>
    Uint8Array.from({ length }, (_, at) => (at * step + (at >> 8)) & 0xff);
  return [
    { path: 'UPDATE.BIN', bytes: pattern(70_001, 7) },
    { path: 'A companion file.txt', bytes: pattern(513, 3) },
    { path: 'FOLDER/INNER.DAT', bytes: pattern(5000, 11) },
    { path: 'EMPTY.TXT', bytes: new Uint8Array(0) },
  ];
}

/** Lays a card out, and writes it when a path is given; null when there is no such layout. */
export function makeCard(
  path: string | null,
  wish: CardWish,
  files: readonly TestFile[] = filesForCards(),
): Made | null {
  const root = treeOf(files, false);
  const layout = layOut(wish, { lengths: lengthsIn(root), rootSlots: root.slots, freeClusters: 1 });
  if (layout === null) return null;
  const type = { FAT12: 0x01, FAT16: 0x06, FAT32: 0x0c }[layout.fileSystem];
  const partition = layout.scheme === 'none' ? null : { slot: 1, type, bootFlag: 0 };
  const pieces = cardPieces({ layout, partition, root, label: null, serial: files.length });
  if (path !== null) writeSparseFile(path, layout.bytes, pieces, true);
  return { layout, files, pieces };
}

/**
 * Holds a card against independent tools: fsck.fat finds nothing to repair and counts the same clusters, sfdisk reads the
 * partition back, and mtools gives every file back byte for byte.
 */
export function readBack(path: string, { layout, files, pieces }: Made): void {
  const folder = mkdtempSync(join(tmpdir(), 'flashworthy-volume-'));
  try {
    const volume = join(folder, 'volume');
    // fsck.fat knows no offset, and copying the holes of a large image takes long.
    const inside = pieces
      .filter(({ at }) => at >= layout.startByte)
      .map(({ at, bytes }) => ({ at: at - layout.startByte, bytes }));
    writeSparseFile(volume, layout.totalSectors * layout.bytesPerSector, inside, false);
    const { status, stdout } = spawnSync('fsck.fat', ['-n', '-v', volume], { encoding: 'utf8' });
    expect({ status, stdout }).toMatchObject({
      status: 0,
      stdout: expect.stringContaining(`${layout.clusterCount} data clusters`),
    });
    if (layout.scheme === 'mbr') {
      const table = execFileSync('sfdisk', ['-d', path], { encoding: 'utf8' });
      const sectors = (layout.totalSectors * layout.bytesPerSector) / 512;
      expect(table.replaceAll(/ +/g, ' ')).toContain(
        `start= ${layout.startByte / 512}, size= ${sectors}, type=`,
      );
    }
    for (const file of files) {
      const copy = join(folder, 'copy');
      execFileSync('mcopy', ['-n', '-o', '-i', `${path}@@${layout.startByte}`, `::${file.path}`, copy], {
        env: { ...process.env, MTOOLS_SKIP_CHECK: '1' },
      });
      expect(Buffer.compare(readFileSync(copy), file.bytes)).toBe(0);
    }
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
