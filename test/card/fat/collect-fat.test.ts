import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { MemorySource, ReadProblem } from '../../../src/bytes/byte-source.js';
import { readFatVolume } from '../../../src/card/fat/volume.js';
import { collectDamage, collectFatVolume } from '../../../src/facts/collect-fat.js';
import { Absent, type FactList, type FactRecord, Unseen } from '../../../src/facts/fact.js';
import { FactStore } from '../../../src/facts/fact-store.js';
import { Patch, Workshop } from '../../oracle/fat-tools.js';

const work = new Workshop();
afterAll(() => work.remove());
const startByte = 1024 * 1024;
let base: Uint8Array;

beforeAll(() => {
  const image = work.format('base.img', 6_000_000, '-F', '16', '-s', '2', '-n', 'my card');
  work.run('mmd', '-i', image, '::FLASH', '::.Trashes');
  const files = { 'update.bin': 'FLASH/update.bin', 'other.txt': 'other.txt', 'x.txt': '.Trashes/x.txt' };
  for (const [name, path] of Object.entries(files)) {
    work.write(name, 'x'.repeat(3000));
    work.run('mcopy', '-i', image, work.path(name), `::${path}`);
  }
  work.run('mcopy', '-i', image, work.path('other.txt'), '::FLASH/TPDATE.BIN');
  work.run('mattrib', '-i', image, '+r', '+h', '::other.txt');
  work.run('mdel', '-i', image, '::FLASH/TPDATE.BIN');
  base = work.read('base.img');
});

function collected(bytes: Uint8Array, options: { entry?: string | null; size?: number } = {}): FactStore {
  const source = new MemorySource(options.size === undefined ? bytes : bytes.subarray(0, options.size));
  const volume = readFatVolume(source);
  if (volume instanceof ReadProblem) throw new Error(volume.cause);
  const store = new FactStore();
  collectFatVolume(store, volume, startByte, source.size);
  const { entry: path = 'FLASH/update.bin' } = options;
  const entry = volume.entries.find((one) => one.path === path) ?? null;
  collectDamage(store, volume, startByte, { entry, wantedShortName: path === null ? 'UPDATE.BIN' : null });
  return store;
}

const listOf = (store: FactStore, path: string): FactList => store.value(path) as FactList;
const recordsOf = (store: FactStore, path: string): FactRecord[] => listOf(store, path).items as FactRecord[];

describe('facts of a sound volume', () => {
  it('tells what the formatter was asked for', () => {
    const store = collected(base);
    const facts = {
      'volume.fileSystem': 'FAT16',
      'volume.startByte': startByte,
      'volume.bytesPerSector': 512,
      'volume.clusterBytes': 1024,
      'volume.fatCount': 2,
      'volume.label': 'my card',
      'volume.labelEntryName': 'my card',
      'volume.serial': '1234ABCD',
      'volume.rootEntryCapacity': 512,
      'volume.rootEntries': 3,
      'volume.cleanShutdown': true,
      'volume.hardErrorsNoted': false,
      'volume.fatCopiesMatch': true,
      'volume.mirroring': true,
      'volume.endsInsidePartition': true,
      'volume.widthDisputed': false,
      'volume.widthByFatfs': 'FAT16',
      'damage.any': false,
      'damage.touchesUpdateFile': false,
      'damage.lostClusters': 0,
      'damage.bootSector': 0,
      filesTotal: 5,
    };
    for (const [path, value] of Object.entries(facts)) expect(store.value(path), path).toBe(value);
    expect(store.value('volume.bootBackupMatches')).toBeInstanceOf(Absent);
    expect(listOf(store, 'damage.list').items).toEqual([]);
    expect(listOf(store, 'files').incomplete).toBeUndefined();
    const { geometry } = readFatVolume(new MemorySource(base)) as Exclude<
      ReturnType<typeof readFatVolume>,
      ReadProblem
    >;
    expect(store.value('volume.dataStartByte')).toBe(startByte + geometry!.dataStart);
  });

  it('lists files with their attributes, and litter with what lies in it', () => {
    const records = recordsOf(collected(base), 'files');
    const byPath = new Map(records.map((record) => [record.path, record]));
    expect(byPath.get('other.txt')).toMatchObject({
      readOnly: true,
      hidden: true,
      system: false,
      depth: 0,
      folder: '',
    });
    expect(byPath.get('FLASH/update.bin')).toMatchObject({
      name: 'update.bin',
      shortName: 'UPDATE.BIN',
      hasLongName: false,
      folder: 'FLASH',
      depth: 1,
      bytes: 3000,
      entryIndex: 2,
      fragments: 1,
      litter: 'none',
    });
    expect(byPath.get('.Trashes')).toMatchObject({ litter: 'trash', isFolder: true });
    expect(byPath.get('.Trashes/x.txt')).toMatchObject({ litter: 'trash' });
  });

  it('compares deleted names with that of the update file', () => {
    const store = collected(base);
    expect(recordsOf(store, 'deletedEntries')).toMatchObject([
      { shortName: '?PDATE.BIN', folder: 'FLASH', entryIndex: 3, bytes: 3000, looksLikeUpdateFile: true },
    ]);
    expect(store.value('updateFile.deletedTwins')).toBe(1);
    const without = collected(base, { entry: null });
    expect(recordsOf(without, 'deletedEntries')).toMatchObject([{ looksLikeUpdateFile: true }]);
    expect(without.value('updateFile.deletedTwins')).toBeInstanceOf(Absent);
    const other = collected(base, { entry: 'other.txt' });
    expect(recordsOf(other, 'deletedEntries')).toMatchObject([{ looksLikeUpdateFile: false }]);
  });

  it('has no label where there is none', () => {
    const patch = new Patch(base);
    patch.bytes[patch.entry('my card    ')] = 0xe5;
    patch.bytes.set(new TextEncoder().encode('NO NAME    '), 43);
    const store = collected(patch.bytes);
    expect(store.value('volume.label')).toBeInstanceOf(Absent);
    expect(store.value('volume.labelEntryName')).toBeInstanceOf(Absent);
  });
});

describe('facts of a damaged volume', () => {
  const folder = 'FLASH      ';
  const inFlash = (patch: Patch): number =>
    patch.entry('UPDATE  BIN', patch.firstCluster(patch.entry(folder)));
  const other = 'OTHER   TXT';

  it.each<[string, boolean, (patch: Patch) => void]>([
    ['the chain of the update file', true, (p) => p.set(p.firstCluster(inFlash(p)), -1)],
    ['its entry', true, (p) => p.view.setUint32(inFlash(p) + 28, 0, true)],
    ['its folder', true, (p) => p.view.setUint32(p.entry(folder) + 28, 5, true)],
    [
      'the folder entries of its folder',
      true,
      (p) =>
        p.bytes.fill(
          7,
          p.clusterAt(p.firstCluster(p.entry(folder))) + 26,
          p.clusterAt(p.firstCluster(p.entry(folder))) + 27,
        ),
    ],
    [
      'a cluster of it that another file claims',
      true,
      (p) => p.setFirstCluster(p.entry(other), p.firstCluster(inFlash(p))),
    ],
    ['its FAT entries in the second copy', true, (p) => p.set(p.firstCluster(inFlash(p)), -1, [1])],
    ['the boot sector', true, (p) => p.view.setUint8(0, 0)],
    ['the chain of another file', false, (p) => p.set(p.firstCluster(p.entry(other)), -1)],
    ['lost clusters', false, (p) => p.set(2000, -1)],
    ['other FAT entries in the second copy', false, (p) => p.set(2000, -1, [1])],
    ['another entry', false, (p) => p.bytes.fill(0x3f, p.entry(other) + 2, p.entry(other) + 3)],
  ])('%s: touches the update file: %s', (_, touches, change) => {
    const patch = new Patch(base);
    change(patch);
    const store = collected(patch.bytes);
    expect(store.value('damage.any')).toBe(true);
    expect(store.value('damage.touchesUpdateFile')).toBe(touches);
    expect(recordsOf(store, 'damage.list')[0]?.touchesUpdateFile).toBe(touches);
  });

  it('leaves the list of files open when a folder has no clusters', () => {
    const patch = new Patch(base);
    patch.setFirstCluster(patch.entry(folder), 0);
    const store = collected(patch.bytes, { entry: null });
    expect(listOf(store, 'files').incomplete).toBeInstanceOf(Unseen);
    expect(store.value('filesTotal')).toBeInstanceOf(Unseen);
    expect(store.value('volume.rootEntries')).toBe(3);
    expect(store.value('damage.loops')).toBeInstanceOf(Unseen);
    expect(store.value('damage.any')).toBe(true);
  });

  it('is never free of damage when something was not seen', () => {
    // An image cut off behind the root folder: FLASH cannot be read.
    const store = collected(base, { entry: null, size: new Patch(base).data });
    expect(store.value('volume.endsInsidePartition')).toBe(false);
    expect(store.value('damage.any')).toBe(true);
    expect(listOf(store, 'files').incomplete).toBeInstanceOf(Unseen);
    expect(store.value('damage.lostClusters')).toBeInstanceOf(Unseen);
  });

  it('knows no volume where the boot sector describes none', () => {
    const patch = new Patch(base);
    patch.view.setUint16(11, 300, true);
    const store = collected(patch.bytes, { entry: null });
    expect(store.value('volume.fileSystem')).toBe('not recognised');
    expect(store.value('volume.clusterCount')).toBeInstanceOf(Unseen);
    expect(store.value('files')).toBeInstanceOf(Unseen);
    expect(store.value('damage.any')).toBe(true);
    expect(store.value('damage.bootSector')).toBe(1);
  });
});
