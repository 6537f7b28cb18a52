import { describe, expect, it } from 'vitest';
import { readBootSector } from '../../src/card/fat/boot-sector.js';
import { fsInfoSignatures, fsInfoUnknown } from '../../src/card/fat/fs-info.js';
import { shortNameChecksum } from '../../src/card/fat/short-name.js';
import { fatMarks } from '../../src/card/fat/table.js';
import { widthByCount, widths } from '../../src/card/fat/width.js';

/** Values of the Microsoft FAT Specification (August 2005) and of published driver sources. */

describe('FAT width by cluster count (FAT specification, section 3.5)', () => {
  it.each([
    [1, 'FAT12'],
    [4084, 'FAT12'],
    [4085, 'FAT16'],
    [65524, 'FAT16'],
    [65525, 'FAT32'],
    [268_435_445, 'FAT32'],
  ] as const)('%i clusters are %s', (clusters, width) => {
    expect(widthByCount(clusters)).toBe(width);
  });
});

describe('FAT width by driver', () => {
  // fatfs: MAX_FAT12 0xFF5 and MAX_FAT16 0xFFF5 of ff.c. Linux: fs/fat/inode.c, MAX_FAT12 0xFF4, FAT32 by BPB_FATSz16.
  // Windows: the comment in dosfstools, mkfs.fat.c: below 4087 clusters is FAT12, FAT32 by BPB_FATSz16.
  it.each([
    [4084, 16, 'FAT12', 'FAT12', 'FAT12', 'FAT12', false],
    [4085, 16, 'FAT16', 'FAT12', 'FAT16', 'FAT12', true],
    [4086, 16, 'FAT16', 'FAT16', 'FAT16', 'FAT12', true],
    [4087, 16, 'FAT16', 'FAT16', 'FAT16', 'FAT16', false],
    [65524, 16, 'FAT16', 'FAT16', 'FAT16', 'FAT16', false],
    [65524, 32, 'FAT16', 'refused', 'FAT32', 'FAT32', true],
    [65525, 16, 'FAT32', 'FAT16', 'refused', 'refused', true],
    [65525, 32, 'FAT32', 'refused', 'FAT32', 'FAT32', true],
    [65526, 32, 'FAT32', 'FAT32', 'FAT32', 'FAT32', false],
    [65526, 16, 'FAT32', 'refused', 'refused', 'refused', true],
  ] as const)(
    '%i clusters, laid out as FAT%i',
    (clusters, layout, specification, fatfs, linux, windows, disputed) => {
      const fields =
        layout === 32 ? { fatSectors16: 0, rootEntryCount: 0 } : { fatSectors16: 256, rootEntryCount: 512 };
      expect(widths(clusters, fields)).toEqual({ specification, fatfs, linux, windows, disputed });
    },
  );
});

describe('the tables of cluster sizes (FAT specification, section 3.4)', () => {
  /** A boot sector with the FAT size that the specification's formula gives. */
  function bootSector(sectors: number, perCluster: number, bits: 16 | 32): Uint8Array {
    const bytes = new Uint8Array(512);
    const view = new DataView(bytes.buffer);
    const reserved = bits === 16 ? 1 : 32;
    const rootEntries = bits === 16 ? 512 : 0;
    bytes.set([0xeb, 0x58, 0x90]);
    view.setUint16(11, 512, true);
    bytes[13] = perCluster;
    view.setUint16(14, reserved, true);
    bytes[16] = 2;
    view.setUint16(17, rootEntries, true);
    bytes[21] = 0xf8;
    view.setUint32(32, sectors, true);
    const rest = sectors - (reserved + rootEntries / 16);
    const divisor = bits === 16 ? 256 * perCluster + 2 : (256 * perCluster + 2) / 2;
    const fatSectors = Math.floor((rest + divisor - 1) / divisor);
    if (bits === 16) view.setUint16(22, fatSectors, true);
    else {
      view.setUint32(36, fatSectors, true);
      view.setUint32(44, 2, true);
    }
    bytes[bits === 16 ? 38 : 66] = 0x29;
    bytes.set(new TextEncoder().encode(`FAT${bits}   `), bits === 16 ? 54 : 82);
    view.setUint16(510, 0xaa55, true);
    return bytes;
  }

  // DskTableFAT16 and DskTableFAT32: largest disk in sectors, sectors in a cluster. The row above starts each stretch.
  const table16 = [
    [8400, 0],
    [32_680, 2],
    [262_144, 4],
    [524_288, 8],
    [1_048_576, 16],
    [2_097_152, 32],
    [4_194_304, 64],
  ] as const;
  const table32 = [
    [66_600, 0],
    [532_480, 1],
    [16_777_216, 8],
    [33_554_432, 16],
    [67_108_864, 32],
    [0xffffffff, 64],
  ] as const;

  it.each([
    [16, table16],
    [32, table32],
  ] as const)(
    'give sound volumes of FAT%i from the smallest to the largest disk of each row',
    (bits, table) => {
      for (let row = 1; row < table.length; row++) {
        const [most, perCluster] = table[row] as readonly [number, number];
        const least = (table[row - 1] as readonly [number, number])[0] + 1;
        // The last row of the FAT16 table overshoots: 2 GiB to the sector come to 65527 clusters, too many for FAT16.
        const largest = bits === 16 ? Math.min(most, 4_194_000) : most;
        for (const sectors of [least, Math.floor((least + largest) / 2), largest]) {
          const boot = readBootSector(bootSector(sectors, perCluster, bits));
          expect(boot.problems, `${sectors} sectors`).toEqual([]);
          expect(boot.geometry).toMatchObject({
            fileSystem: `FAT${bits}`,
            entryBits: bits,
            clusterBytes: perCluster * 512,
          });
          expect(boot.geometry?.entryCount).toBe((boot.geometry?.clusterCount ?? 0) + 2);
        }
      }
    },
  );

  it('call a FAT16 layout with too many clusters a contradiction', () => {
    const boot = readBootSector(bootSector(4_194_304, 64, 16));
    expect(boot.geometry).toMatchObject({ fileSystem: 'FAT32', entryBits: 16, clusterCount: 65527 });
    expect(boot.problems.map((problem) => problem.code)).toContain('width-contradiction');
  });

  it('call a FAT32 layout with too few clusters a contradiction', () => {
    const boot = readBootSector(bootSector(66_000, 1, 32));
    expect(boot.geometry).toMatchObject({ fileSystem: 'FAT16', entryBits: 32 });
    expect(boot.problems.map((problem) => problem.code)).toContain('width-contradiction');
  });
});

describe('FAT entries (FAT specification, sections 4 and 4.2)', () => {
  it.each([
    [12, 0xff7, 0xff8, 0, 0],
    [16, 0xfff7, 0xfff8, 0x8000, 0x4000],
    [32, 0x0ffffff7, 0x0ffffff8, 0x08000000, 0x04000000],
  ] as const)('of FAT%i', (bits, badMark, endMark, cleanBit, noErrorBit) => {
    expect(fatMarks(bits)).toMatchObject({ badMark, endMark, cleanBit, noErrorBit });
  });
});

describe('FSInfo (FAT specification, section 5)', () => {
  it('has its three signatures', () => {
    expect(fsInfoSignatures).toEqual([
      [0, 0x41615252],
      [484, 0x61417272],
      [508, 0xaa550000],
    ]);
    expect(fsInfoUnknown).toBe(0xffffffff);
  });
});

describe('checksum of short names (FAT specification, section 7.2)', () => {
  // THEQUI~1FOX is the example name of section 7; mtools stored 0x42 for LONGFI~1.BIN.
  it.each([
    ['UPDATE  BIN', 0x26],
    ['LONGFI~1BIN', 0x42],
    ['README  TXT', 0x73],
    ['THEQUI~1FOX', 0x07],
    ['FILENAMEEXT', 0xf6],
    ['TANSY   BIN', 0x91],
  ])('%s has 0x%i', (name, sum) => {
    expect(shortNameChecksum(name)).toBe(sum);
  });
});
