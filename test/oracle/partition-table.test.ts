import { truncateSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { readPartitionTable } from '../../src/card/partition-table/partition-table.js';
import { noise, peek, poke, run, sfdisk, withImage, withSource } from '../support/disk-images.js';

const MiB = 1024 * 1024;
const codes = (table: { problems: readonly { code: string }[] }): string[] =>
  table.problems.map((p) => p.code);

/** Partitions as `sfdisk --json` reads them, in bytes. */
function bySfdisk(
  path: string,
): { start: number; bytes: number; type: number | string; bootable: boolean }[] {
  const { partitiontable } = JSON.parse(run('sfdisk', ['--json', path])) as {
    partitiontable: {
      label: string;
      sectorsize?: number;
      partitions?: { start: number; size: number; type: string; bootable?: boolean }[];
    };
  };
  const sector = partitiontable.sectorsize ?? 512;
  return (partitiontable.partitions ?? []).map(({ start, size, type, bootable }) => ({
    start: start * sector,
    bytes: size * sector,
    type: partitiontable.label === 'dos' ? Number.parseInt(type, 16) : type,
    bootable: bootable ?? false,
  }));
}

/** Start and length in sectors of every partition that The Sleuth Kit's `mmls` lists. */
function byMmls(path: string): [number, number][] {
  return [...run('mmls', [path]).matchAll(/^\d+:\s+(\d\d\d(?::\d\d\d)?)\s+(\d+)\s+\d+\s+(\d+)/gm)].map(
    ([, , start, length]) => [Number(start), Number(length)],
  );
}

describe('MBR tables made by sfdisk', () => {
  it('primary, extended and logical partitions are what sfdisk and mmls read', () =>
    withImage(64 * MiB, (path) => {
      sfdisk(path, [
        'start=2048, size=20480, type=c, bootable',
        'start=22528, size=10240, type=83',
        'start=40960, size=81920, type=5',
        'start=43008, size=8192, type=6',
        'start=53248, size=4096, type=b',
        'start=59392, size=4096, type=82',
      ]);
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect(table.scheme).toBe('mbr');
        expect(table.problems).toEqual([]);
        expect(table.incomplete).toBeNull();
        const expected = bySfdisk(path);
        expect(expected).toHaveLength(6);
        expect(
          table.entries.map((entry) => ({
            start: entry.startByte,
            bytes: entry.bytes,
            type: entry.type,
            bootable: entry.bootFlag === 0x80,
          })),
        ).toEqual(expected);
        expect(table.entries.map((entry) => [entry.index, entry.kind])).toEqual([
          [1, 'primary'],
          [2, 'primary'],
          [3, 'extended'],
          [5, 'logical'],
          [6, 'logical'],
          [7, 'logical'],
        ]);
        const sleuthKit = byMmls(path);
        for (const entry of table.entries.filter(({ kind }) => kind !== 'extended'))
          expect(sleuthKit).toContainEqual([entry.startByte / 512, entry.bytes / 512]);
      });
    }));

  it('an empty table is an MBR without entries', () =>
    withImage(16 * MiB, (path) => {
      sfdisk(path, []);
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect([table.scheme, table.entries, table.problems]).toEqual(['mbr', [], []]);
      });
    }));

  it('a table on a medium that was cut short runs past the end', () =>
    withImage(64 * MiB, (path) => {
      sfdisk(path, ['start=2048, size=100000, type=c']);
      truncateSync(path, 32 * MiB);
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect(table.entries[0]).toMatchObject({ pastEnd: true, overlaps: false });
        expect(codes(table)).toEqual(['entry-past-end']);
      });
    }));

  it('blkid says dos where we say mbr', () =>
    withImage(16 * MiB, (path) => {
      sfdisk(path, ['start=2048, type=e']);
      expect(run('blkid', ['-p', '-o', 'value', '-s', 'PTTYPE', path]).trim()).toBe('dos');
      withSource(path, (source) => expect(readPartitionTable(source).scheme).toBe('mbr'));
    }));
});

describe('GPT made by sfdisk and sgdisk', () => {
  // sgdisk waits a second after it has written, so most tables are made by sfdisk and only checked by sgdisk.
  const makeGpt = (path: string): string =>
    run(
      'sfdisk',
      ['-q', '--no-tell-kernel', path],
      [
        'label: gpt',
        'first-lba: 34',
        '1: start=2048, size=16384, type=EBD0A0A2-B9E5-4433-87C0-68B6B72699C7, name="DATA"',
        '3: start=18432, size=8192, type=C12A7328-F81F-11D2-BA4B-00A0C93EC93B',
        '',
      ].join('\n'),
    );
  const withSgdisk = (path: string, ...more: string[]): string =>
    run('sgdisk', [
      '-o',
      '-n',
      '1:2048:+8M',
      '-t',
      '1:0700',
      '-c',
      '1:DATA',
      '-n',
      '3:0:+4M',
      '-t',
      '3:ef00',
      ...more,
      path,
    ]);

  it('entries are what sfdisk reads, without a problem', () =>
    withImage(32 * MiB, (path) => {
      withSgdisk(path);
      expect(run('sgdisk', ['-v', path])).toContain('No problems found');
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect([table.scheme, table.problems, table.sectorBytes]).toEqual(['gpt', [], 512]);
        expect(
          table.entries.map(({ startByte, bytes, type }) => ({
            start: startByte,
            bytes,
            type,
            bootable: false,
          })),
        ).toEqual(bySfdisk(path));
        expect(table.entries.map(({ index, name, typeName }) => [index, name, typeName])).toEqual([
          [1, 'DATA', 'Microsoft basic data'],
          [3, '', 'EFI system'],
        ]);
      });
    }));

  it('with a broken first header the backup is read, as sgdisk does', () =>
    withImage(32 * MiB, (path) => {
      makeGpt(path);
      const expected = bySfdisk(path);
      poke(path, 512 + 56, [0xff, 0xff]);
      expect(run('sgdisk', ['-p', path])).toMatch(/corrupt GPT/);
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect(codes(table)).toEqual(['gpt-header-crc', 'gpt-backup-used']);
        expect(table.entries.map(({ startByte }) => startByte)).toEqual(expected.map(({ start }) => start));
      });
    }));

  it('with a broken first array the backup is read', () =>
    withImage(32 * MiB, (path) => {
      makeGpt(path);
      poke(path, 1024 + 56, [0xff]);
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect(table.problems.map(({ code, at }) => [code, at])).toEqual([
          ['gpt-array-crc', 512 + 88],
          ['gpt-backup-used', 32 * MiB - 512],
        ]);
        expect(table.entries[0]?.name).toBe('DATA');
      });
    }));

  it('with both headers broken there are no entries and the list is incomplete', () =>
    withImage(32 * MiB, (path) => {
      makeGpt(path);
      poke(path, 512 + 56, [0xff, 0xff]);
      poke(path, 32 * MiB - 512 + 56, [0xff, 0xff]);
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect(table.scheme).toBe('gpt');
        expect(table.entries).toEqual([]);
        expect(table.incomplete?.cause).toBe('damaged');
        expect(codes(table)).toEqual(['gpt-header-crc', 'gpt-header-crc', 'gpt-unusable']);
      });
    }));

  it('an erased backup is missing; on a larger medium it is not in the last sector', () =>
    withImage(32 * MiB, (path) => {
      makeGpt(path);
      truncateSync(path, 48 * MiB);
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect(table.problems.map(({ code, at }) => [code, at])).toEqual([
          ['gpt-backup-not-last', 32 * MiB - 512],
        ]);
        expect(table.entries).toHaveLength(2);
      });
      poke(path, 32 * MiB - 512, new Uint8Array(8));
      withSource(path, (source) => expect(codes(readPartitionTable(source))).toEqual(['gpt-backup-missing']));
    }));

  it('a backup of another table differs', () =>
    withImage(32 * MiB, (path) => {
      makeGpt(path);
      const tail = peek(path, 32 * MiB - 33 * 512, 33 * 512);
      makeGpt(path); // a second time: with another identifier
      poke(path, 32 * MiB - 33 * 512, tail);
      withSource(path, (source) => expect(codes(readPartitionTable(source))).toEqual(['gpt-backup-differs']));
    }));

  it('hybrid: MBR entries first, then those that only the GPT has', () =>
    withImage(32 * MiB, (path) => {
      withSgdisk(path, '-h', '1');
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect(table.scheme).toBe('hybrid');
        expect(table.problems).toEqual([]);
        expect(table.entries.map(({ kind, startByte, bytes }) => [kind, startByte, bytes])).toEqual([
          ['primary', 2048 * 512, 8 * MiB],
          ['gpt', 2048 * 512 + 8 * MiB, 4 * MiB],
        ]);
      });
    }));

  it('a table of 4096-byte blocks is found with that block size', () =>
    withImage(8 * MiB, (path) => {
      // The numbers in a GPT count blocks, so the table of a medium of 512-byte blocks, laid out anew, is one of
      // as many blocks of 4096 bytes.
      const blocks = (8 * MiB) / 512;
      run('sfdisk', ['-q', '--no-tell-kernel', path], 'label: gpt\nfirst-lba: 34\nstart=2048, size=2048\n');
      expect(run('sgdisk', ['-v', path])).toContain('No problems found');
      const small = peek(path, 0, 8 * MiB);
      withImage(blocks * 4096, (large) => {
        const lay = (block: number, bytes: number): void =>
          poke(large, block * 4096, small.subarray(block * 512, block * 512 + bytes));
        lay(0, 512);
        lay(1, 512);
        lay(2, 128 * 128);
        lay(blocks - 33, 128 * 128);
        lay(blocks - 1, 512);
        withSource(large, (source) => {
          const table = readPartitionTable(source);
          expect([table.scheme, table.sectorBytes, codes(table)]).toEqual(['gpt', 4096, []]);
          expect(table.entries.map(({ startByte, bytes }) => [startByte, bytes])).toEqual([
            [2048 * 4096, 2048 * 4096],
          ]);
        });
      });
    }));
});

describe('media without a table', () => {
  it.each([
    ['mkfs.fat', ['-I', '-F', '12'], 4],
    ['mkfs.fat', ['-I', '-F', '16'], 32],
    ['mkfs.fat', ['-I', '-F', '32', '-s', '1'], 64],
    ['mkfs.exfat', [], 32],
    ['mkfs.ntfs', ['-F', '-q', '-Q'], 32],
  ] as const)('%s %j makes a sound boot sector and no table', (tool, options, size) =>
    withImage(size * MiB, (path) => {
      run(tool, [...options, path]);
      withSource(path, (source) => {
        const table = readPartitionTable(source);
        expect(table).toMatchObject({
          scheme: 'none',
          entries: [],
          problems: [],
          soundBootSector: true,
          bothDescribed: false,
          bootCode: true,
        });
      });
    }),
  );

  it("the table that mkfs.fat fakes in a volume's own boot sector starts at sector 0 and does not count", () =>
    withImage(32 * MiB, (path) => {
      run('mkfs.fat', ['-I', '-F', '16', '--mbr=y', path]);
      expect(peek(path, 446 + 4, 1)[0]).not.toBe(0);
      withSource(path, (source) =>
        expect(readPartitionTable(source)).toMatchObject({ scheme: 'none', bothDescribed: false }),
      );
    }));

  it('a boot sector that also holds a sound table is described twice', () =>
    withImage(32 * MiB, (path) => {
      run('mkfs.fat', ['-I', '-F', '16', path]);
      const boot = peek(path, 0, 446);
      sfdisk(path, ['start=2048, size=4096, type=c']);
      poke(path, 0, boot);
      withSource(path, (source) =>
        expect(readPartitionTable(source)).toMatchObject({ scheme: 'none', bothDescribed: true }),
      );
    }));

  it('a blank medium and one full of noise have none', () =>
    withImage(MiB, (path) => {
      withSource(path, (source) =>
        expect(readPartitionTable(source)).toMatchObject({
          scheme: 'none',
          soundBootSector: false,
          problems: [],
        }),
      );
      poke(path, 0, noise(MiB));
      poke(path, 510, [0x55, 0xaa]);
      withSource(path, (source) => expect(readPartitionTable(source).scheme).toBe('none'));
    }));
});
