import { describe, expect, it } from 'vitest';
import type { LoaderProfile, ResolvedProfile } from '../../src/board/profile.js';
import { type ByteSource, MemorySource, ReadProblem } from '../../src/bytes/byte-source.js';
import { recognise } from '../../src/card/recognise.js';
import { collectPartitions, collectRecognised, collectResidues } from '../../src/facts/collect-partitions.js';
import { Absent, FactList, type FactRecord, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { factSchema } from '../../src/facts/schema.js';
import { unseenFrom } from '../../src/facts/unseen-from.js';
import { mbrSector, run, sfdisk, withImage, withSource } from '../support/disk-images.js';

const MiB = 1024 * 1024;
const board = (loader: Partial<LoaderProfile>, open: ResolvedProfile['open'] = {}): ResolvedProfile =>
  ({ id: 'tansy', title: 'Tansy', revision: 1, loader, open }) as ResolvedProfile;

function collected(source: ByteSource, profile: ResolvedProfile | null): FactStore {
  const store = new FactStore();
  collectPartitions(store, source, profile);
  return store;
}
const items = (store: FactStore, path: string): FactRecord[] => {
  const list = store.value(path);
  if (!(list instanceof FactList)) throw new Error(`${path} is no list`);
  return list.items as FactRecord[];
};
const paths = (prefix: string): string[] =>
  Object.keys(factSchema).filter((path) => path.startsWith(`${prefix}.`));

describe('facts about partitions', () => {
  it('an MBR card with a small FAT and a Linux partition', () =>
    withImage(64 * MiB, (path) => {
      sfdisk(path, ['start=2048, size=65536, type=e', 'start=67584, type=83']);
      run('mkfs.fat', ['-F', '16', '--offset', '2048', path, '32768']);
      withSource(path, (source) => {
        const store = collected(source, board({ takesPartition: 'first-slot' }));
        expect(store.value('partitionTable.scheme')).toBe('mbr');
        expect(store.value('partitionTable.bothDescribed')).toBe(false);
        expect(items(store, 'partitionTable.problems')).toEqual([]);
        const entries = items(store, 'partitionTable.entries');
        expect(entries).toEqual([
          {
            index: 1,
            kind: 'primary',
            type: 0x0e,
            typeName: 'FAT16 (LBA)',
            bootFlag: 0,
            startByte: 2048 * 512,
            bytes: 32 * MiB,
            pastEnd: false,
            overlaps: false,
            fileSystem: 'FAT16',
            taken: true,
          },
          expect.objectContaining({ index: 2, type: 0x83, fileSystem: 'empty', taken: false }),
        ]);
        const declared = Object.keys(factSchema['partitionTable.entries']?.item ?? {}).sort();
        for (const entry of entries) expect(Object.keys(entry).sort()).toEqual(declared);
        expect(paths('partition').map((fact) => [fact, store.value(fact)])).toEqual([
          ['partition.index', 1],
          ['partition.kind', 'primary'],
          ['partition.type', 0x0e],
          ['partition.bootFlag', 0],
          ['partition.startByte', 2048 * 512],
          ['partition.bytes', 32 * MiB],
          ['partition.pastEnd', false],
          ['partition.overlaps', false],
          ['partition.found', true],
          ['partition.othersUsed', 1],
        ]);
        expect(store.get('partition.type').where).toEqual({ offset: 446, length: 16 });
      });
    }));

  it('without a board, or with one that is silent, no partition is known to be taken', () => {
    const source = new MemorySource(new Uint8Array(MiB));
    for (const profile of [null, board({}), board({ takesPartition: 'any' })]) {
      const store = collected(source, profile);
      for (const path of paths('partition'))
        expect(store.value(path), path).toMatchObject({ cause: 'profile-silent' });
      expect(store.value('partitionTable.scheme')).toBe('none');
    }
  });

  it('a profile that waits for an answer', () => {
    const open = {
      'loader.takesPartition': { axes: ['loader'], text: 'depends on the loader', settle: 'say which' },
    };
    const store = collected(new MemorySource(new Uint8Array(MiB)), board({}, open));
    expect(store.value('partition.found')).toEqual(
      new Unseen('not-told', 'depends on the loader', 'say which'),
    );
  });

  it('not found: all but that is absent', () => {
    const bytes = new Uint8Array(MiB);
    bytes.set(mbrSector([null, [0, 0x0c, 100, 500]]));
    const store = collected(new MemorySource(bytes), board({ takesPartition: 'first-slot' }));
    expect(store.value('partition.found')).toBe(false);
    for (const path of paths('partition').filter((path) => path !== 'partition.found'))
      expect(store.value(path), path).toBeInstanceOf(Absent);
    expect(items(store, 'partitionTable.entries')[0]?.taken).toBe(false);
  });

  it('a medium without a table, taken as a whole', () =>
    withImage(32 * MiB, (path) => {
      run('mkfs.fat', ['-F', '16', path]);
      withSource(path, (source) => {
        const store = collected(source, board({ takesPartition: 'first-fat' }));
        expect(store.value('partition.found')).toBe(true);
        expect(store.value('partition.startByte')).toBe(0);
        expect(store.value('partition.bytes')).toBe(32 * MiB);
        expect(store.value('partition.othersUsed')).toBe(0);
        for (const path of ['index', 'kind', 'type', 'bootFlag', 'pastEnd', 'overlaps'])
          expect(store.value(`partition.${path}`), path).toBeInstanceOf(Absent);
      });
    }));

  it('a partition that lies past the end of the medium', () => {
    const bytes = new Uint8Array(MiB);
    bytes.set(mbrSector([[0, 0x0c, 4096, 500]]));
    const store = collected(new MemorySource(bytes), board({ takesPartition: 'first-slot' }));
    expect(store.value('partition.pastEnd')).toBe(true);
    expect(items(store, 'partitionTable.entries')[0]?.fileSystem).toMatchObject({ cause: 'damaged' });
  });

  it('sector 0 that cannot be read', () => {
    const source: ByteSource = {
      size: MiB,
      read: (at, length) => new ReadProblem(at, length, 'no-permission'),
    };
    const store = collected(source, board({ takesPartition: 'first-slot' }));
    for (const path of [...paths('partitionTable'), ...paths('partition')])
      expect(store.value(path), path).toMatchObject({ cause: 'no-permission' });
  });

  it('an entry may lack: neither "no others" nor "no overlap" is claimed', () => {
    const bytes = new Uint8Array(MiB);
    bytes.set(
      mbrSector([
        [0, 0x0c, 10, 50],
        [0, 0x0f, 100, 500],
      ]),
    );
    const inner = new MemorySource(bytes);
    const source: ByteSource = {
      size: inner.size,
      read: (at, length) =>
        at <= 51200 && at + length > 51200
          ? new ReadProblem(at, length, 'read-error')
          : inner.read(at, length),
    };
    const store = collected(source, board({ takesPartition: 'first-slot' }));
    expect(store.value('partition.overlaps')).toBeInstanceOf(Unseen);
    expect((store.value('partitionTable.entries') as FactList).incomplete?.cause).toBe('damaged');
  });
});

describe('facts about a volume that is not FAT', () => {
  it('exFAT: sizes, label and dirty mark, all else unseen', () =>
    withImage(32 * MiB, (path) => {
      run('mkfs.exfat', ['-c', '32768', '-L', 'CARD', path]);
      withSource(path, (source) => {
        const store = new FactStore();
        collectRecognised(store, recognise(source));
        const known = paths('volume').filter((path) => !(store.value(path) instanceof Unseen));
        expect(Object.fromEntries(known.map((path) => [path, store.value(path)]))).toMatchObject({
          'volume.fileSystem': 'exFAT',
          'volume.startByte': 0,
          'volume.bytesPerSector': 512,
          'volume.clusterBytes': 32768,
          'volume.bytes': 32 * MiB,
          'volume.label': 'CARD',
          'volume.cleanShutdown': true,
        });
        for (const path of [
          // That it does not begin with a FAT boot sector is seen, so no field of one can be wrong.
          ...paths('damage').filter((path) => path !== 'damage.bootSector'),
          'files',
          'filesTotal',
          'volume.freeClusters',
          'updateFile.path',
        ])
          expect(store.value(path), path).toEqual(
            new Unseen('not-visible', 'flashworthy reads FAT; this volume is exFAT'),
          );
      });
    }));

  it('a blank volume is known to be blank', () => {
    const store = new FactStore();
    collectRecognised(store, recognise(new MemorySource(new Uint8Array(MiB))), 512);
    expect(store.value('volume.fileSystem')).toBe('empty');
    expect(store.value('volume.startByte')).toBe(512);
    expect(store.value('volume.label')).toBeInstanceOf(Unseen);
  });

  it('of FAT nothing is set here', () => {
    const store = new FactStore();
    collectRecognised(store, { fileSystem: 'FAT', at: 0, exfat: null, fatFaults: [] });
    expect(store.value('volume.fileSystem')).toMatchObject({ text: 'this was not looked at' });
  });

  it('a volume that could not be read, with offsets on the medium', () => {
    const store = new FactStore();
    collectRecognised(store, new ReadProblem(0, 512, 'read-error'), 1000);
    expect(store.value('volume.fileSystem')).toMatchObject({
      cause: 'damaged',
      text: expect.stringContaining('1000 to 1511'),
    });
  });

  it('residues become a list', () => {
    const store = new FactStore();
    collectResidues(store, [{ what: 'GPT', at: 512 }]);
    expect(items(store, 'volume.residues')).toEqual([{ what: 'GPT', at: 512 }]);
  });
});

describe('why bytes were not seen', () => {
  it.each([
    ['read-error', 'damaged'],
    ['damaged', 'damaged'],
    ['past-end', 'damaged'],
    ['no-permission', 'no-permission'],
    ['over-limit', 'over-limit'],
  ] as const)('%s is %s', (cause, expected) => {
    expect(unseenFrom(new ReadProblem(10, 20, cause, 'EIO')).cause).toBe(expected);
    expect(unseenFrom(new ReadProblem(10, 20, cause, 'EIO')).text).toMatch(/^bytes 10 to 29 .*EIO/);
  });
});
