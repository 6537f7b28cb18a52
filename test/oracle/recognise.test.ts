import { writeFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { MemorySource, ReadProblem } from '../../src/bytes/byte-source.js';
import { readPartitionTable } from '../../src/card/partition-table/partition-table.js';
import { type Recognised, recognise, residues, residuesOfMedium } from '../../src/card/recognise.js';
import { noise, peek, poke, run, sfdisk, withImage, withSource } from '../support/disk-images.js';

const MiB = 1024 * 1024;

function recognised(path: string): Recognised {
  return withSource(path, (source) => {
    const result = recognise(source);
    if (result instanceof ReadProblem) throw new Error(`read problem: ${result.cause}`);
    return result;
  });
}

/** What util-linux says of the same image. */
const byBlkid = (path: string): string => run('blkid', ['-p', '-o', 'value', '-s', 'TYPE', path]).trim();

describe('volumes made by real formatters', () => {
  it.each([
    ['mkfs.fat', ['-F', '12'], 4, 'FAT', 'vfat'],
    ['mkfs.fat', ['-F', '16'], 32, 'FAT', 'vfat'],
    ['mkfs.fat', ['-F', '32', '-s', '1'], 64, 'FAT', 'vfat'],
    ['mkfs.exfat', [], 32, 'exFAT', 'exfat'],
    ['mkfs.ntfs', ['-F', '-q', '-Q'], 32, 'NTFS', 'ntfs'],
    ['mke2fs', ['-q', '-t', 'ext2'], 16, 'ext2', 'ext2'],
    ['mke2fs', ['-q', '-t', 'ext3'], 16, 'ext3', 'ext3'],
    ['mke2fs', ['-q', '-t', 'ext4'], 16, 'ext4', 'ext4'],
    ['mkudffs', ['-b', '512'], 16, 'UDF', 'udf'],
    ['mkudffs', ['-b', '2048'], 16, 'UDF', 'udf'],
    ['mkswap', [], 4, 'swap', 'swap'],
    ['mkfs.minix', ['-1'], 4, 'Minix', 'minix'],
    ['mkfs.minix', ['-3'], 4, 'Minix', 'minix'],
  ] as const)('%s %j', (tool, options, size, ours, theirs) =>
    withImage(size * MiB, (path) => {
      run(tool, [...options, path]);
      expect(byBlkid(path)).toBe(theirs);
      expect(recognised(path).fileSystem).toBe(ours);
    }),
  );

  it('genisoimage', () =>
    withImage(0, (path) => {
      run('genisoimage', ['-quiet', '-o', path, '-graft-points', `hello.txt=${import.meta.filename}`]);
      expect(byBlkid(path)).toBe('iso9660');
      expect(recognised(path)).toMatchObject({ fileSystem: 'ISO9660', at: 0x8000 });
    }));

  it('the boot sector decides, and what lies behind it is no more than a residue', () =>
    withImage(64 * MiB, (path) => {
      run('mkfs.fat', ['-F', '16', '-s', '4', '-R', '512', path]);
      poke(path, 0x8001, new TextEncoder().encode('CD001'));
      expect(recognised(path).fileSystem).toBe('FAT');
      withSource(path, (source) =>
        expect(residues(source, (at) => at >= 512)).toEqual([{ what: 'ISO9660', at: 0x8000 }]),
      );
    }));
});

describe('exFAT', () => {
  const field = (dump: string, name: string): string =>
    new RegExp(`^${name}[^:\\n]*:[ \\t]*(.*)$`, 'm').exec(dump)?.[1]?.trim() ?? `no ${name}`;

  it.each([
    [['-c', '4096', '-L', 'TANSY CARD'], 'TANSY CARD'],
    [['-c', '32768'], null],
    [['-c', '131072', '-L', 'µ-card'], 'µ-card'],
  ] as const)('sizes are those of dump.exfat, the label the one given: %j', (options, label) =>
    withImage(128 * MiB, (path) => {
      run('mkfs.exfat', [...options, path]);
      const dump = run('dump.exfat', [path]);
      const exfat = recognised(path).exfat;
      expect(exfat).toMatchObject({ label, dirty: false, fatCount: 1, checksumRight: true });
      const sector = 2 ** Number(field(dump, 'Sector Size Bits'));
      expect(exfat?.bytesPerSector).toBe(sector);
      expect(exfat?.clusterBytes).toBe(Number(field(dump, 'Cluster size')));
      expect(exfat?.clusterCount).toBe(Number(field(dump, 'Total Clusters')));
      expect(exfat?.bytes).toBe(Number(field(dump, 'Volume Length')) * sector);
      expect(`0x${exfat?.serial}`).toBe(`0x${field(dump, 'Volume Serial').slice(2).padStart(8, '0')}`);
      expect(exfat?.clusterBytes).toBe(Number(options[1]));
    }),
  );

  it('the dirty flag, and a boot sector that no longer fits its checksum', () =>
    withImage(16 * MiB, (path) => {
      run('mkfs.exfat', [path]);
      poke(path, 106, [0x02]);
      expect(recognised(path).exfat).toMatchObject({ dirty: true, checksumRight: true });
      poke(path, 100, [0x12]);
      expect(recognised(path).exfat).toMatchObject({ checksumRight: false });
    }));
});

describe('residues', () => {
  /** Clusters that a freshly made FAT volume with no files leaves free: everything behind its root folder. */
  const freeBehind = (dataStart: number) => (at: number) => at >= dataStart;

  it('an old ext superblock, GPT and boot sector are found where nothing is kept', () =>
    withImage(64 * MiB, (path) => {
      run('mke2fs', ['-q', '-t', 'ext4', path]);
      sfdisk(path, ['start=8192, type=c']);
      run('mkfs.fat', [
        '-F',
        '32',
        '-s',
        '1',
        '--offset',
        '8192',
        path,
        String((64 * MiB - 8192 * 512) / 1024),
      ]);
      // Leave behind what quick formats leave: the superblock, the last sector, a boot sector in the gap.
      const old = peek(path, 8192 * 512, 512);
      old[13] = 8;
      poke(path, 2048 * 512, old);
      poke(path, 64 * MiB - 512, new TextEncoder().encode('EFI PART'));
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect(table.scheme).toBe('mbr');
        const entry = table.entries[0];
        if (!entry) throw new Error('no entry');
        const found = residuesOfMedium(source, table, entry, freeBehind(2 * MiB));
        expect(found).toContainEqual({ what: 'FAT', at: 2048 * 512 });
        expect(found).toContainEqual({ what: 'GPT', at: 64 * MiB - 512 });
        expect(found.map(({ what }) => what).sort()).toEqual(['FAT', 'GPT', 'ext4']);
        expect(found).toContainEqual({ what: 'ext4', at: 0x400 });
      });
    }));

  it('the backup of an earlier exFAT boot sector in free clusters', () =>
    withImage(32 * MiB, (path) => {
      run('mkfs.exfat', [path]);
      const backup = peek(path, 12 * 512, 512);
      run('mkfs.fat', ['-F', '32', '-s', '1', path]);
      poke(path, 12 * 512, backup);
      // Sectors 9 to 31 of a FAT32 volume are reserved and hold nothing.
      const isFree = (at: number, length: number): boolean => at >= 9 * 512 && at + length <= 32 * 512;
      withSource(path, (source) =>
        expect(residues(source, isFree)).toEqual([{ what: 'exFAT', at: 12 * 512 }]),
      );
    }));

  it('places that are owned are not looked at', () => {
    const volume = new Uint8Array(MiB);
    volume.set([0x53, 0xef], 0x438);
    volume.set(new TextEncoder().encode('_BHRfS_M'), 0x10040);
    expect(residues(new MemorySource(volume), () => false)).toEqual([]);
    expect(residues(new MemorySource(volume), () => true)).toEqual([{ what: 'Btrfs', at: 0x10040 }]);
  });

  it.each([
    ['12', 4, 4],
    ['16', 32, 4],
    ['32', 64, 1],
  ])('no alarm on FAT%s volumes full of files of noise', (width, size, perCluster) =>
    withImage(size * MiB, (path) => {
      run('mkfs.fat', ['-F', width, '-s', String(perCluster), path]);
      const file = `${path}.bin`;
      for (let i = 1; i <= 3; i++) {
        writeFileSync(file, noise((size * MiB) / 5, i));
        run('mcopy', ['-i', path, file, `::file${i}.bin`]);
      }
      for (let i = 1; i <= 3; i++) run('mdel', ['-i', path, `::file${i}.bin`]);
      withSource(path, (source) => {
        const boot = source.read(0, 512) as Uint8Array;
        const reserved = ((boot[14] ?? 0) + (boot[15] ?? 0) * 256) * 512;
        // Not even when all but the boot sectors and the FATs is called free, or noise is taken for free.
        expect(residues(source, (at) => at >= reserved)).toEqual([]);
        expect(
          residuesOfMedium(
            source,
            readPartitionTable(source),
            { startByte: 0, bytes: source.size },
            (at) => at >= 512,
          ),
        ).toEqual([]);
      });
    }),
  );
});
