import { describe, expect, it } from 'vitest';
import { type ByteSource, MemorySource, ReadProblem } from '../../src/bytes/byte-source.js';
import { limits } from '../../src/bytes/limits.js';
import {
  type PartitionTable,
  type Probe,
  readPartitionTable,
  takenPartition,
} from '../../src/card/partition-table/partition-table.js';
import { mbrSector } from '../support/disk-images.js';

const SECTORS = 4096;
type Entry = readonly [number, number, number, number] | null;

/** A medium of 2 MiB with these MBRs: sector -> its entries. */
function medium(records: Readonly<Record<number, readonly Entry[]>>, sectors = SECTORS): Uint8Array {
  const bytes = new Uint8Array(sectors * 512);
  for (const [sector, entries] of Object.entries(records))
    bytes.set(mbrSector(entries), Number(sector) * 512);
  return bytes;
}
const read = (bytes: Uint8Array): PartitionTable => readPartitionTable(new MemorySource(bytes));
const problems = (table: PartitionTable): [string, number][] =>
  table.problems.map(({ code, at }) => [code, at]);

/** Fails every read that touches one of these sectors. */
class Damaged implements ByteSource {
  readonly size: number;
  constructor(
    private readonly inner: ByteSource,
    private readonly sectors: readonly number[],
  ) {
    this.size = inner.size;
  }
  read(at: number, length: number): Uint8Array | ReadProblem {
    return this.sectors.some((sector) => at < (sector + 1) * 512 && at + length > sector * 512)
      ? new ReadProblem(at, length, 'read-error')
      : this.inner.read(at, length);
  }
}

describe('problems of an MBR, each with its place', () => {
  it.each<[string, readonly Entry[], [string, number][]]>([
    ['none', [[0, 0x0c, 63, 1000]], []],
    ['a boot flag that is neither 00 nor 80', [[0x01, 0x0c, 63, 1000]], [['boot-flag', 446]]],
    ['an entry that starts at sector 0', [[0, 0x0c, 0, 1000]], [['entry-at-sector-0', 454]]],
    ['an entry without a length', [[0, 0x0c, 63, 0]], [['entry-without-length', 458]]],
    ['a length without a type', [[0, 0x00, 63, 1000]], [['type-zero', 450]]],
    [
      'two active entries',
      [
        [0x80, 0x0c, 63, 1000],
        [0x80, 0x0c, 2000, 1000],
      ],
      [['two-active', 462]],
    ],
    ['an entry past the end', [null, [0, 0x0c, 63, SECTORS]], [['entry-past-end', 462]]],
    [
      'entries that overlap',
      [
        [0, 0x0c, 63, 1000],
        [0, 0x0c, 1062, 10],
      ],
      [
        ['entries-overlap', 446],
        ['entries-overlap', 462],
      ],
    ],
  ])('%s', (_name, entries, expected) => {
    const table = read(medium({ 0: entries }));
    expect(table.scheme).toBe('mbr');
    expect(problems(table)).toEqual(expected);
  });

  it('entries that touch do not overlap', () => {
    const table = read(
      medium({
        0: [
          [0, 0x0c, 63, 1000],
          [0, 0x0c, 1063, 10],
        ],
      }),
    );
    expect(table.entries.map(({ overlaps }) => overlaps)).toEqual([false, false]);
  });

  it('entries without the mark 55 AA are no table', () => {
    const bytes = medium({ 0: [[0, 0x0c, 63, 1000]] });
    bytes[511] = 0;
    const table = read(bytes);
    expect(table).toMatchObject({ scheme: 'none', entries: [] });
    expect(problems(table)).toEqual([['missing-signature', 510]]);
  });

  it('an odd boot flag among entries that make no sense is no table', () => {
    expect(read(medium({ 0: [[0x6e, 0x20, 0x74_6f_6e, 0x65_72_65_68]] })).scheme).toBe('none');
  });

  it('boot code: the first 440 bytes only', () => {
    const bytes = medium({ 0: [[0, 0x0c, 63, 1000]] });
    bytes[440] = 1;
    expect(read(bytes).bootCode).toBe(false);
    bytes[439] = 1;
    expect(read(bytes).bootCode).toBe(true);
  });

  it('a broken FAT boot sector is no table, and says what is broken', () => {
    const bytes = medium({ 0: [] });
    bytes.set([0xeb, 0x3c, 0x90]);
    bytes.set(new TextEncoder().encode('FAT16   '), 54);
    bytes.set([0, 2, 3, 1, 0, 2, 0, 2, 0, 16, 0xf8, 4, 0], 11); // 3 sectors in a cluster
    const table = read(bytes);
    expect(table).toMatchObject({ scheme: 'none', soundBootSector: false });
    expect(problems(table)).toEqual([['unsound-boot-sector', 13]]);
  });

  it('an entry of type EE without a GPT', () => {
    const table = read(medium({ 0: [[0, 0xee, 1, SECTORS - 1]] }));
    expect(table).toMatchObject({ scheme: 'gpt', entries: [] });
    expect(table.problems.map(({ code }) => code)).toEqual(['gpt-backup-missing', 'gpt-header-missing']);
  });

  it('a medium smaller than a sector, and none at all', () => {
    expect(read(new Uint8Array(511)).scheme).toBe('none');
    expect(read(new Uint8Array(0)).scheme).toBe('none');
  });

  it('sector 0 that cannot be read leaves the scheme open', () => {
    const table = readPartitionTable(
      new Damaged(new MemorySource(medium({ 0: [[0, 0x0c, 63, 1000]] })), [0]),
    );
    expect(table.scheme).toBeNull();
    expect(table.unread).toMatchObject({ at: 0, length: 512, cause: 'read-error' });
    expect(table.incomplete?.cause).toBe('damaged');
  });
});

describe('chains of logical partitions', () => {
  const extended: Entry = [0, 0x0f, 100, 2000];

  it('a chain that runs in a circle is cut', () => {
    const table = read(
      medium({
        0: [extended],
        100: [
          [0, 0x0c, 10, 50],
          [0, 0x05, 200, 100],
        ],
        300: [
          [0, 0x0c, 10, 50],
          [0, 0x05, 0, 100],
        ],
      }),
    );
    expect(table.entries.map(({ index, startByte }) => [index, startByte / 512])).toEqual([
      [1, 100],
      [5, 110],
      [6, 310],
    ]);
    expect(problems(table)).toEqual([['extended-loop', 300 * 512 + 446 + 16 + 8]]);
    expect(table.incomplete).toBeNull();
  });

  it('a chain that leads past the end, and one whose record lacks 55 AA', () => {
    const past = read(medium({ 0: [[0, 0x05, SECTORS, 10]] }));
    expect(past.problems.map(({ code }) => code)).toEqual(['extended-past-end', 'entry-past-end']);
    const unsigned = read(medium({ 0: [extended] }));
    expect(problems(unsigned)).toEqual([['extended-signature', 100 * 512 + 510]]);
  });

  it('a record that cannot be read makes the list incomplete', () => {
    const bytes = medium({ 0: [[0, 0x0c, 10, 50], extended], 100: [[0, 0x0c, 10, 50]] });
    const table = readPartitionTable(new Damaged(new MemorySource(bytes), [100]));
    expect(table.entries).toHaveLength(2);
    expect(table.incomplete?.cause).toBe('damaged');
  });

  it('a logical partition that leaves its container or starts at its own record', () => {
    const table = read(medium({ 0: [extended], 100: [[0, 0x0c, 0, 2001]] }));
    expect(table.problems.map(({ code }) => code)).toEqual(['entry-at-sector-0', 'logical-outside']);
  });

  it('a longer chain than the limit is cut and the list says so', () => {
    const records: Record<number, Entry[]> = { 0: [[0, 0x0f, 100, 3000]] };
    for (let i = 0; i < limits.logicalPartitions + 10; i++)
      records[100 + 4 * i] = [
        [0, 0x83, 1, 2],
        [0, 0x05, 4 * (i + 1), 4],
      ];
    const table = read(medium(records));
    expect(table.entries).toHaveLength(1 + limits.logicalPartitions);
    expect(table.incomplete?.cause).toBe('over-limit');
  });
});

describe('the partition that a boot loader takes', () => {
  const MEDIUM = SECTORS * 512;
  /** Answers by the start sector. */
  const probe =
    (kinds: Readonly<Record<number, ReturnType<Probe>>>): Probe =>
    (startByte) =>
      kinds[startByte / 512] ?? 'not recognised';
  const table = read(
    medium({
      0: [[0, 0x83, 50, 50], [0x80, 0x0c, 1000, 100], null, [0, 0x0f, 2000, 1000]],
      2000: [[0, 0x06, 10, 100]],
    }),
  );
  const startSector = (takes: string | undefined, kinds = probe({}), habits = {}): number | string => {
    const taken = takenPartition(table, takes, MEDIUM, kinds, habits);
    return taken.found ? taken.startByte / 512 : taken.unseen ? taken.unseen.cause : 'none';
  };

  it.each([
    ['first-slot', 50],
    ['slot-1', 50],
    ['slot-2', 1000],
    ['slot-3', 'none'],
    ['slot-4', 2000],
    ['slot-5', 2010],
    ['slot-6', 'none'],
    ['active', 1000],
    ['whole-card', 0],
    ['any', 'profile-silent'],
    [undefined, 'profile-silent'],
    ['first-fat', 'none'],
  ])('%s', (takes, expected) => expect(startSector(takes)).toBe(expected));

  it('first-fat takes the first entry in table order that holds FAT, whatever its type', () => {
    expect(startSector('first-fat', probe({ 1000: 'FAT', 2010: 'FAT' }))).toBe(1000);
    expect(startSector('first-fat', probe({ 50: 'FAT', 1000: 'FAT' }))).toBe(50);
    expect(startSector('first-fat', probe({ 50: 'exFAT', 2010: 'FAT' }))).toBe(2010);
    expect(startSector('first-fat', probe({ 50: 'exFAT', 2010: 'FAT' }), { readsExfat: true })).toBe(50);
    expect(startSector('first-fat', probe({ 2010: 'FAT' }), { logicalPartitions: false })).toBe('none');
    expect(startSector('slot-5', probe({}), { logicalPartitions: false })).toBe('none');
  });

  it('first-fat cannot tell when an earlier entry was not read', () => {
    const broken = new ReadProblem(0, 512, 'no-permission');
    expect(startSector('first-fat', probe({ 50: broken, 1000: 'FAT' }))).toBe('no-permission');
    expect(startSector('first-fat', probe({ 50: 'FAT', 1000: broken }))).toBe(50);
  });

  it('without a table the whole medium is taken if it starts with a sound boot sector, else nothing', () => {
    const bare = { ...table, scheme: 'none', entries: [], soundBootSector: true } as const;
    const found = takenPartition(bare, 'first-fat', MEDIUM, probe({}));
    expect(found).toEqual({ found: true, index: null, startByte: 0, bytes: MEDIUM, entry: null });
    const blank = takenPartition({ ...bare, soundBootSector: false }, 'first-slot', MEDIUM, probe({}));
    expect(blank).toMatchObject({ found: false, unseen: null, closest: { startByte: 0, bytes: MEDIUM } });
  });

  it('an unread sector 0 leaves all but whole-card open', () => {
    const unread = readPartitionTable(new Damaged(new MemorySource(new Uint8Array(MEDIUM)), [0]));
    expect(takenPartition(unread, 'first-slot', MEDIUM, probe({}))).toMatchObject({
      found: false,
      unseen: { cause: 'damaged' },
    });
    expect(takenPartition(unread, 'whole-card', MEDIUM, probe({})).found).toBe(true);
  });

  it('an incomplete list cannot prove that no entry is FAT', () => {
    const cut = readPartitionTable(
      new Damaged(new MemorySource(medium({ 0: [[0, 0x0f, 100, 500]], 100: [[0, 6, 10, 50]] })), [100]),
    );
    expect(takenPartition(cut, 'first-fat', MEDIUM, probe({}))).toMatchObject({
      found: false,
      unseen: { cause: 'damaged' },
    });
    // The first slot was read, so that answer stands.
    expect(takenPartition(cut, 'first-slot', MEDIUM, probe({}))).toMatchObject({ found: true, index: 1 });
  });
});
