import { mkdirSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { shortNameText } from '../../src/card/fat/short-name.js';
import { chainOf, type FatVolume, fragmentsOf, readFile } from '../../src/card/fat/volume.js';
import { widths } from '../../src/card/fat/width.js';
import { ImageFile, pokeFile, someBytes, throughFatFs, volumeOf, Workshop } from './fat-tools.js';

/**
 * Volumes of real formatters and copiers, read by us and by independent programs: fsck.fat, mdir, minfo, mshowfat,
 * mcopy (mtools), fsstat (The Sleuth Kit), and the driver fatfs compiled to WebAssembly (js-fatfs).
 */

const MiB = 1024 * 1024;

interface Layout {
  readonly bits: 12 | 16 | 32;
  readonly sector: number;
  readonly perCluster: number;
  readonly bytes: number;
  readonly options?: string[];
}

const layouts: Layout[] = [
  { bits: 12, sector: 512, perCluster: 1, bytes: 1440 * 1024 },
  { bits: 12, sector: 512, perCluster: 128, bytes: 64 * MiB },
  { bits: 12, sector: 1024, perCluster: 4, bytes: 8 * MiB, options: ['-f', '1'] },
  { bits: 12, sector: 4096, perCluster: 1, bytes: 8 * MiB, options: ['-M', '0xf0'] },
  { bits: 16, sector: 512, perCluster: 1, bytes: 8 * MiB },
  { bits: 16, sector: 512, perCluster: 8, bytes: 32 * MiB, options: ['-R', '8', '-r', '256'] },
  { bits: 16, sector: 2048, perCluster: 4, bytes: 64 * MiB },
  { bits: 16, sector: 4096, perCluster: 16, bytes: 512 * MiB },
  { bits: 32, sector: 512, perCluster: 1, bytes: 40 * MiB },
  { bits: 32, sector: 512, perCluster: 8, bytes: 300 * MiB },
  { bits: 32, sector: 512, perCluster: 128, bytes: 4400 * MiB },
  { bits: 32, sector: 1024, perCluster: 8, bytes: 600 * MiB, options: ['-f', '1'] },
  { bits: 32, sector: 4096, perCluster: 1, bytes: 300 * MiB },
];

const work = new Workshop();
afterAll(() => work.remove());

const contents = new Map<string, Uint8Array>([
  ['update.bin', someBytes(70_001, 1)],
  ['MIXed.Bin', someBytes(513, 2)],
  ['empty.txt', new Uint8Array(0)],
  ['A long name with spaces, dots.and more.text', someBytes(4096, 3)],
  ['grüße – ☃ 漢字.txt', someBytes(100, 4)],
  [`${'x'.repeat(250)}.bin`, someBytes(1, 5)],
  ['exactly13char', someBytes(20, 6)],
  ['twenty-six-characters.0001', someBytes(30, 7)],
  ['sub/one.txt', someBytes(2000, 8)],
  ['sub/deeper/and/deeper still/two.bin', someBytes(66_000, 9)],
]);

beforeAll(() => {
  mkdirSync(work.path('tree/sub/deeper/and/deeper still'), { recursive: true });
  mkdirSync(work.path('tree/many'));
  for (const [name, bytes] of contents) work.write(`tree/${name}`, bytes);
  for (let i = 0; i < 70; i++) work.write(`tree/many/file number ${i}.gcode`, 'G28\n'.repeat(i));
  work.write('filler.bin', someBytes(3 * MiB, 10));
  work.write('pieces.bin', someBytes(400_000, 11));
});

/** A volume with the tree, deleted entries, and a file in several pieces. */
function fill(image: string, { bytes, perCluster, sector }: Layout): void {
  const at = work.path('tree');
  work.run('mcopy', '-s', '-i', image, `${at}/update.bin`, `${at}/MIXed.Bin`, '::');
  work.run('mcopy', '-s', '-i', image, ...['many', 'sub', 'empty.txt'].map((name) => `${at}/${name}`), '::');
  // mtools gives up on a name that takes more entries than a cluster of the root folder holds.
  const rest = [...contents.keys()].filter(
    (name) =>
      !name.includes('/') &&
      !/^(update|MIX|empty)/.test(name) &&
      (perCluster * sector > 512 || name.length < 100),
  );
  work.run('mcopy', '-i', image, ...rest.map((name) => `${at}/${name}`), '::');
  const holes = [3, 20, 40, 41, 60].map((i) => `::many/file number ${i}.gcode`);
  work.run('mdel', '-i', image, ...holes);
  // A file that fills the holes has as many pieces as there are stretches of free clusters.
  if (bytes < 9 * MiB && perCluster * sector <= 4096)
    work.run('mcopy', '-i', image, work.path('pieces.bin'), '::PIECES.BIN');
}

const lines = (text: string): string[] => text.split('\n').filter((line) => line !== '');
const number = (text: string, pattern: RegExp): number => Number(pattern.exec(text)?.[1]);

const widthName = (bits: number): string => `FAT${bits}`;

describe.each(layouts)('FAT$bits, $sector bytes a sector, $perCluster sectors a cluster', (layout) => {
  const name = `${layout.bits}-${layout.sector}-${layout.perCluster}.img`;
  let image: string;
  let source: ImageFile;
  let volume: FatVolume;
  beforeAll(() => {
    const { bits, sector, perCluster, bytes, options = [] } = layout;
    image = work.format(
      name,
      bytes,
      ...['-F', `${bits}`, '-S', `${sector}`, '-s', `${perCluster}`, '-n', 'CARD 1'],
      ...options,
    );
    fill(image, layout);
    source = new ImageFile(image);
    volume = volumeOf(source);
  });
  afterAll(() => source.close());

  it('is as fsck.fat describes it, and sound', () => {
    const { code, text } = work.fsck(name);
    expect(code).toBe(0);
    expect(volume.damage).toEqual([]);
    expect(volume.incomplete).toBeNull();
    expect(volume.lostClusters).toBe(0);
    expect(volume.geometry).toMatchObject({
      bytesPerSector: number(text, /(\d+) bytes per logical sector/),
      clusterBytes: number(text, /(\d+) bytes per cluster/),
      fatCount: number(text, /(\d+) FATs?, \d+ bit entries/),
      entryBits: number(text, /FATs?, (\d+) bit entries/),
      fatStart: number(text, /First FAT starts at byte (\d+)/),
      fatBytes: number(text, /(\d+) bytes per FAT/),
      dataStart: number(text, /Data area starts at byte (\d+)/),
      clusterCount: number(text, /(\d+) data clusters/),
      fileSystem: widthName(layout.bits),
    });
    const [, files, used, total] = /: (\d+) files, (\d+)\/(\d+) clusters/.exec(text) ?? [];
    // fsck.fat counts the label as a file, and of FAT32 neither the root folder's cluster as a file.
    expect(volume.entries.length + volume.labels.length).toBe(Number(files));
    expect(volume.geometry?.clusterCount).toBe(Number(total));
    expect(Number(total) - (volume.freeClusters as number)).toBe(Number(used));
  });

  it('holds the fields that minfo prints', () => {
    const text = work.run('minfo', '-i', image, '::');
    const { boot } = volume;
    expect(boot.bytesPerSector).toBe(number(text, /sector size: (\d+) bytes/));
    expect(boot.sectorsPerCluster).toBe(number(text, /cluster size: (\d+) sectors/));
    expect(boot.reservedSectors).toBe(number(text, /reserved \(boot\) sectors: (\d+)/));
    expect(boot.fatCount).toBe(number(text, /fats: (\d+)/));
    expect(boot.rootEntryCount).toBe(number(text, /max available root directory slots: (\d+)/));
    expect(boot.media).toBe(Number.parseInt(/media descriptor byte: 0x(\w+)/.exec(text)?.[1] ?? '', 16));
    expect(boot.serial).toBe(Number.parseInt(/serial number: (\w+)/.exec(text)?.[1] ?? '', 16));
    expect(boot.labelBytes).toEqual(new TextEncoder().encode(/disk label="(.{11})"/.exec(text)?.[1]));
  });

  it('lists what mdir lists', () => {
    const listed = lines(work.run('mdir', '-/', '-b', '-i', image, '::')).map((line) =>
      line.replace(/^::\//, '').replace(/\/$/, ''),
    );
    expect(volume.entries.map((entry) => entry.path).sort()).toEqual(listed.sort());
  });

  it('has the ranges that fsstat finds', () => {
    const text = work.run('fsstat', image);
    expect(text).toContain(`File System Type: ${widthName(layout.bits)}`);
    const geometry = volume.geometry!;
    const [, first, last] = /Cluster Area: (\d+) - (\d+)/.exec(text) ?? [];
    expect(geometry.dataStart).toBe(Number(first) * layout.sector);
    expect(geometry.dataStart + geometry.clusterCount * geometry.clusterBytes).toBe(
      (Number(last) + 1) * layout.sector,
    );
    expect(geometry.clusterCount + 1).toBe(number(text, /Total Cluster Range: 2 - (\d+)/));
  });

  it('follows chains as mshowfat does', () => {
    const files = volume.entries.filter((entry) => !entry.isFolder && entry.bytes > 0);
    const chosen = files.filter((entry) => !entry.path.startsWith('many/') || entry.bytes > 250);
    for (const entry of chosen) {
      const text = work.run('mshowfat', '-i', image, `::${entry.path}`);
      const ranges = [...text.matchAll(/<(\d+)(?:-(\d+))?>/g)].map(([, from, to]) => [
        Number(from),
        Number(to ?? from),
      ]);
      const { dataStart, clusterBytes, clusterCount } = volume.geometry!;
      const ours = chainOf(volume, entry).map(({ at, length }) => {
        const from = 2 + (at - dataStart) / clusterBytes;
        return [from, from + length / clusterBytes - 1];
      });
      expect(ours, entry.path).toEqual(ranges);
      expect(entry.chain?.fragments).toBe(ranges.length);
      expect(fragmentsOf(volume, entry)).toBe(ranges.length);
      expect(entry.chain?.whole).toBe(true);
      const highest = Math.max(...ranges.flat());
      expect(entry.chain?.usesLastCluster).toBe(highest === clusterCount + 1);
      expect(entry.chain?.endByte).toBe(dataStart + (highest - 1) * clusterBytes);
    }
  });

  it('holds the bytes, names and attributes that fatfs and mcopy give', async () => {
    const seen = await throughFatFs(source);
    expect(seen.width).toBe(widthName(layout.bits));
    const ours = volume.entries.map((entry) => ({
      path: entry.path,
      shortName: entry.shortName,
      bytes: entry.bytes,
      attributes: entry.attributes,
    }));
    // fatfs, built for one code page, shows names outside of it by their short name; the rest must be equal.
    const plain = (path: string): boolean => /^[\x20-\x7e]*$/.test(path) && !/~/.test(path);
    const byPath = (a: { path: string }, b: { path: string }): number => (a.path < b.path ? -1 : 1);
    expect(ours.filter(({ path }) => plain(path)).sort(byPath)).toEqual(
      seen.files.filter(({ path }) => plain(path)).sort(byPath),
    );
    expect(ours).toHaveLength(seen.files.length);
    for (const entry of volume.entries.filter((one) => !one.isFolder)) {
      const pieces: Uint8Array[] = [];
      expect(readFile(volume, entry, (piece) => pieces.push(piece.slice()))).toBe(true);
      const bytes = new Uint8Array(Buffer.concat(pieces));
      const wanted = contents.get(entry.path) ?? seen.content.get(entry.path);
      expect(Buffer.compare(bytes, wanted as Uint8Array), entry.path).toBe(0);
      if (seen.content.has(entry.path))
        expect(Buffer.compare(bytes, seen.content.get(entry.path) as Uint8Array)).toBe(0);
    }
    const unicode = volume.entries.find((entry) => entry.name.startsWith('grüße'));
    const copied = work.bytesOf('mcopy', '-i', image, `::${unicode?.path}`, '-');
    expect([...copied].join()).toBe([...(contents.get(unicode?.path ?? '') ?? [])].join());
  });

  it('counts the deleted entries that fls finds', () => {
    const deleted = lines(work.run('fls', '-r', '-d', image)).filter((line) => line.includes('.gcode'));
    expect(volume.deleted).toHaveLength(deleted.length);
    for (const entry of volume.deleted) {
      expect(entry.folderPath).toBe('many');
      expect(entry.shortName).toMatch(/^\?ILENU~\d+\.GCO$|^\?[A-Z0-9~]+\.GCO$/);
    }
  });
});

describe('the bands in which drivers disagree about the width', () => {
  /** Cuts a volume to a number of clusters by the total in its boot sector, as a hand-made image would have it. */
  function cutTo(name: string, clusters: number, bits: 12 | 16 | 32): ImageFile {
    const bytes = bits === 32 ? 36 * MiB : clusters > 60_000 ? 36 * MiB : 3 * MiB;
    const made = bits === 32 ? ['-F', '32', '-s', '1'] : ['-F', `${bits}`, '-s', '1', '-a'];
    const path = work.format(name, bits === 12 ? 2 * MiB : bytes, ...made);
    const { geometry } = volumeOf(new ImageFile(path));
    const total = geometry!.dataStart / 512 + clusters;
    const field = new Uint8Array(4);
    new DataView(field.buffer).setUint32(0, total, true);
    if (total < 65536 && bits !== 32) {
      pokeFile(path, 19, field.subarray(0, 2));
      pokeFile(path, 32, new Uint8Array(4));
    } else {
      pokeFile(path, 19, new Uint8Array(2));
      pokeFile(path, 32, field);
    }
    return new ImageFile(path);
  }

  it.each([
    [4084, 16],
    [4085, 16],
    [4086, 16],
    [4087, 16],
    [65523, 32],
    [65524, 32],
    [65525, 32],
    [65526, 32],
    [65527, 32],
  ] as const)('%i clusters in the layout of FAT%i: fatfs decides as we say', async (clusters, bits) => {
    const source = cutTo('band.img', clusters, bits);
    const volume = volumeOf(source);
    expect(volume.geometry?.clusterCount).toBe(clusters);
    const decided = widths(clusters, volume.boot);
    expect((await throughFatFs(source)).width).toBe(decided.fatfs);
    const { text } = work.fsck('band.img');
    expect(volume.geometry?.entryBits).toBe(number(text, /FATs?, (\d+) bit entries/));
    source.close();
  });
});

describe('code page 437', () => {
  it('is decoded as iconv decodes it', () => {
    const bytes = Uint8Array.from({ length: 128 }, (_, i) => 0x80 + i);
    work.write('high.bin', bytes);
    const text = work.run('iconv', '-f', 'CP437', '-t', 'UTF-8', 'high.bin');
    const ours = [...bytes]
      .map((byte) => shortNameText(`A${String.fromCharCode(byte)}         `).slice(1))
      .join('');
    expect(ours).toBe(text);
  });
});
