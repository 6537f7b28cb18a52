import { mkdirSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { DamageKind } from '../../src/card/fat/volume.js';
import { Patch, someBytes, volumeOf, Workshop } from '../oracle/fat-tools.js';

/**
 * Sound volumes with a few bytes changed on purpose, judged by fsck.fat (dosfstools 4.2) and by us. What fsck.fat
 * would repair must be damage, except for the differences that are known to be harmless.
 */

const work = new Workshop();
afterAll(() => work.remove());

const bases = new Map<number, Uint8Array>();
const widthsTested = [12, 16, 32] as const;

beforeAll(() => {
  mkdirSync(work.path('tree/SUB/INNER'), { recursive: true });
  work.write('tree/UPDATE.BIN', someBytes(5000, 1));
  work.write('tree/SECOND.BIN', someBytes(3000, 2));
  work.write('tree/A long name.txt', someBytes(1500, 3));
  work.write('tree/SUB/ONE.TXT', someBytes(700, 4));
  work.write('tree/SUB/INNER/TWO.TXT', someBytes(900, 5));
  work.write('last.txt', someBytes(10, 6));
  for (const bits of widthsTested) {
    const size = bits === 12 ? 1024 * 1024 : bits === 16 ? 4_400_000 : 34_300_000;
    const image = work.format(`${bits}.img`, size, '-F', `${bits}`, '-s', '1', '-n', 'CARD');
    // In this order the clusters of each file are known to follow each other.
    for (const name of ['UPDATE.BIN', 'SECOND.BIN', 'A long name.txt', 'SUB'])
      work.run('mcopy', '-s', '-i', image, work.path(`tree/${name}`), '::');
    // A deleted entry in the middle, an entry behind it.
    work.run('mcopy', '-i', image, work.path('last.txt'), '::GONE.TXT');
    work.run('mcopy', '-i', image, work.path('last.txt'), '::LAST.TXT');
    work.run('mdel', '-i', image, '::GONE.TXT');
    bases.set(bits, work.read(`${bits}.img`));
  }
});

const update = 'UPDATE  BIN';
const second = 'SECOND  BIN';
const longAlias = 'ALONGN~1TXT';
const subFolder = 'SUB        ';

const start = (patch: Patch, name: string): number => patch.firstCluster(patch.entry(name));

interface Case {
  readonly name: string;
  readonly change: (patch: Patch) => void;
  /** The kind of damage that must be among those found. */
  readonly kind: DamageKind;
  /** Widths that the change makes sense for; all when left out. */
  readonly widths?: readonly (12 | 16 | 32)[];
  /** Set where fsck.fat reports but exits 0, or does not look: why it is damage all the same. */
  readonly beyondFsck?: string;
}

const cases: Case[] = [
  {
    name: 'a chain that runs in a circle',
    kind: 'loop',
    change: (p) => p.set(start(p, update) + 5, start(p, update)),
  },
  {
    name: 'a cluster that follows itself',
    kind: 'loop',
    change: (p) => p.set(start(p, update) + 3, start(p, update) + 3),
  },
  {
    name: 'a chain that runs into another file',
    kind: 'cross-link',
    change: (p) => p.set(start(p, update) + 8, start(p, second) + 2),
  },
  {
    name: 'two entries with one start cluster',
    kind: 'cross-link',
    change: (p) => p.setFirstCluster(p.entry(second), start(p, update)),
  },
  { name: 'a chain cut short', kind: 'short-chain', change: (p) => p.set(start(p, update) + 2, -1) },
  {
    name: 'a size larger than the chain',
    kind: 'short-chain',
    change: (p) => p.view.setUint32(p.entry(update) + 28, 9000, true),
  },
  {
    name: 'a size and no cluster',
    kind: 'short-chain',
    change: (p) => {
      p.set(start(p, 'LAST    TXT'), 0);
      p.setFirstCluster(p.entry('LAST    TXT'), 0);
    },
  },
  {
    name: 'a size smaller than the chain',
    kind: 'long-chain',
    change: (p) => p.view.setUint32(p.entry(update) + 28, 100, true),
  },
  {
    name: 'a cluster and no size',
    kind: 'long-chain',
    change: (p) => p.view.setUint32(p.entry(update) + 28, 0, true),
  },
  { name: 'a free cluster in a chain', kind: 'into-free', change: (p) => p.set(start(p, update) + 4, 0) },
  { name: 'a free start cluster', kind: 'into-free', change: (p) => p.setFirstCluster(p.entry(second), 900) },
  { name: 'a bad cluster in a chain', kind: 'into-bad', change: (p) => p.set(start(p, update) + 4, -9) },
  {
    name: 'a chain that leads past the last cluster',
    kind: 'out-of-range',
    change: (p) => p.set(start(p, update) + 4, p.clusters + 2),
  },
  {
    name: 'a chain that leads to cluster 1',
    kind: 'out-of-range',
    change: (p) => p.set(start(p, update) + 4, 1),
  },
  {
    name: 'a chain that leads to a reserved number',
    kind: 'out-of-range',
    change: (p) => p.set(start(p, update) + 4, -10),
  },
  { name: 'start cluster 1', kind: 'out-of-range', change: (p) => p.setFirstCluster(p.entry(update), 1) },
  {
    name: 'a start cluster past the last one',
    kind: 'out-of-range',
    change: (p) => p.setFirstCluster(p.entry(update), p.clusters + 2),
  },
  {
    name: 'clusters in use without a file',
    kind: 'lost-clusters',
    change: (p) => {
      p.set(1000, 1001);
      p.set(1001, -1);
    },
  },
  {
    name: 'a lost cluster that leads nowhere',
    kind: 'lost-clusters',
    change: (p) => p.set(1000, p.clusters + 100),
  },
  { name: 'copies of the FAT that differ', kind: 'fat-copies-differ', change: (p) => p.set(1000, -1, [1]) },
  {
    name: 'copies that differ in a file',
    kind: 'fat-copies-differ',
    change: (p) => p.set(start(p, update) + 2, -1, [1]),
  },
  {
    name: 'copies that differ in their last entry',
    kind: 'fat-copies-differ',
    change: (p) => p.set(p.clusters + 1, -1, [1]),
  },
  {
    name: 'copies that differ in reserved bits',
    kind: 'fat-copies-differ',
    widths: [32],
    change: (p) => p.view.setUint8(p.fatAt(1) + 4 * 700 + 3, 0x10),
  },
  {
    name: 'a first FAT that starts with zeros',
    kind: 'fat-start',
    change: (p) => p.set(0, 0, [0]),
  },
  { name: 'both FATs starting with zeros', kind: 'fat-start', change: (p) => p.set(0, 0) },
  {
    name: 'a folder with a size',
    kind: 'bad-entry',
    change: (p) => p.view.setUint32(p.entry(subFolder) + 28, 512, true),
  },
  {
    name: 'a folder without a cluster',
    kind: 'bad-folder',
    change: (p) => p.setFirstCluster(p.entry(subFolder), 0),
  },
  {
    name: 'a folder that is its own folder',
    kind: 'cross-link',
    change: (p) => {
      const own = start(p, subFolder);
      p.setFirstCluster(p.entry('INNER      ', own), own);
    },
  },
  {
    name: 'a wrong . entry',
    kind: 'bad-folder',
    change: (p) => p.setFirstCluster(p.clusterAt(start(p, subFolder)), 5),
  },
  {
    name: 'a wrong .. entry',
    kind: 'bad-folder',
    change: (p) => p.setFirstCluster(p.clusterAt(start(p, subFolder)) + 32, 5),
  },
  {
    name: 'a . entry that is no folder',
    kind: 'bad-folder',
    change: (p) => p.view.setUint8(p.clusterAt(start(p, subFolder)) + 11, 0x20),
  },
  {
    name: 'a . entry that is deleted',
    kind: 'bad-folder',
    change: (p) => p.view.setUint8(p.clusterAt(start(p, subFolder)), 0xe5),
  },
  {
    name: 'a folder filled with zeros',
    kind: 'bad-folder',
    change: (p) => p.bytes.fill(0, p.clusterAt(start(p, subFolder)), p.clusterAt(start(p, subFolder)) + 512),
  },
  {
    name: 'a short name that begins with a space',
    kind: 'bad-entry',
    change: (p) => p.view.setUint8(p.entry(update), 0x20),
  },
  {
    name: 'a question mark in a short name',
    kind: 'bad-entry',
    change: (p) => p.view.setUint8(p.entry(update) + 2, 0x3f),
  },
  {
    name: 'a control character in a short name',
    kind: 'bad-entry',
    change: (p) => p.view.setUint8(p.entry(update) + 9, 0x07),
  },
  {
    name: 'a dot in a short name',
    kind: 'bad-entry',
    change: (p) => p.view.setUint8(p.entry(update) + 3, 0x2e),
  },
  {
    name: 'lower case in a short name',
    kind: 'bad-entry',
    beyondFsck:
      'FAT specification, section 6.1: lower case is not allowed, and fatfs cannot open such a name',
    change: (p) => p.view.setUint8(p.entry(update) + 2, 0x64),
  },
  {
    name: 'two entries of one name',
    kind: 'duplicate-name',
    change: (p) => p.bytes.set(new TextEncoder().encode(update), p.entry(second)),
  },
  {
    name: 'a long name before a deleted entry',
    kind: 'orphan-long-name',
    change: (p) => {
      p.set(start(p, longAlias), 0);
      p.set(start(p, longAlias) + 1, 0);
      p.set(start(p, longAlias) + 2, 0);
      p.view.setUint8(p.entry(longAlias), 0xe5);
    },
  },
  {
    name: 'a long name whose first piece is gone',
    kind: 'orphan-long-name',
    beyondFsck: 'fsck.fat reports a name without its end and leaves it; it exits 0',
    change: (p) => p.view.setUint8(p.entry(longAlias) - 32, 0x03),
  },
  {
    name: 'a short name that changed under its long name',
    kind: 'long-name-checksum',
    beyondFsck: 'fsck.fat reports the wrong checksum and leaves it; it exits 0',
    change: (p) => p.view.setUint8(p.entry(longAlias) + 2, 0x4d),
  },
  {
    name: 'a long-name entry with a start cluster',
    kind: 'bad-entry',
    change: (p) => p.view.setUint16(p.entry(longAlias) - 32 + 26, 7, true),
  },
  {
    name: 'a long-name entry with a type',
    kind: 'bad-entry',
    change: (p) => p.view.setUint8(p.entry(longAlias) - 32 + 12, 1),
  },
  {
    name: 'a label with a cluster',
    kind: 'long-chain',
    change: (p) => {
      p.setFirstCluster(p.entry('CARD       '), 1000);
      p.set(1000, -1);
    },
  },
  {
    name: 'a label with a forbidden character',
    kind: 'bad-entry',
    change: (p) => p.view.setUint8(p.entry('CARD       ') + 1, 0x2b),
  },
  {
    name: 'entries behind the end mark',
    kind: 'bad-folder',
    change: (p) => {
      const folder = p.clusterAt(start(p, subFolder));
      p.bytes.set(p.bytes.slice(p.entry(second), p.entry(second) + 32), folder + 32 * 10);
    },
  },
  { name: 'three copies of the FAT', kind: 'boot-sector', change: (p) => p.view.setUint8(16, 3) },
  { name: 'sectors of 300 bytes', kind: 'boot-sector', change: (p) => p.view.setUint16(11, 300, true) },
  { name: 'clusters of no sectors', kind: 'boot-sector', change: (p) => p.view.setUint8(13, 0) },
  {
    name: 'no room for clusters',
    kind: 'boot-sector',
    change: (p) => {
      p.view.setUint16(19, 0, true);
      p.view.setUint32(32, 20, true);
    },
  },
  {
    name: 'a volume longer than its medium',
    kind: 'boot-sector',
    change: (p) => {
      p.view.setUint16(19, 0, true);
      p.view.setUint32(32, p.bytes.length / 512 + 100, true);
    },
  },
  {
    name: 'a FAT too short for the clusters',
    kind: 'fat-size',
    widths: [16],
    change: (p) => p.view.setUint16(22, 4, true),
  },
  {
    name: 'no root folder',
    kind: 'boot-sector',
    widths: [12, 16],
    change: (p) => p.view.setUint16(17, 0, true),
  },
  {
    name: 'a root folder that does not fill sectors',
    kind: 'boot-sector',
    widths: [12, 16],
    change: (p) => p.view.setUint16(17, 505, true),
  },
  {
    name: 'a root folder past the last cluster',
    kind: 'boot-sector',
    widths: [32],
    change: (p) => p.view.setUint32(44, p.clusters + 2, true),
  },
  { name: 'a free root folder', kind: 'into-free', widths: [32], change: (p) => p.set(2, 0) },
  { name: 'a root folder in a circle', kind: 'loop', widths: [32], change: (p) => p.set(2, 2) },
  {
    name: 'no backup boot sector',
    kind: 'boot-backup-differs',
    widths: [32],
    change: (p) => p.view.setUint16(50, 0, true),
  },
  {
    name: 'a backup of another volume',
    kind: 'boot-backup-differs',
    widths: [32],
    beyondFsck: 'fsck.fat calls any difference mostly harmless and exits 0; another geometry is not',
    change: (p) => p.view.setUint8(6 * 512 + 13, 8),
  },
  {
    name: 'a boot sector without 55 AA',
    kind: 'boot-sector',
    beyondFsck: 'fsck.fat does not look; drivers refuse such a sector (FatFs ff.c, check_fs)',
    change: (p) => p.view.setUint16(510, 0, true),
  },
  {
    name: 'a boot sector without a jump',
    kind: 'boot-sector',
    beyondFsck: 'fsck.fat does not look; drivers refuse such a sector (FatFs ff.c, check_fs)',
    change: (p) => p.view.setUint8(0, 0),
  },
  {
    name: 'an unknown media byte',
    kind: 'boot-sector',
    beyondFsck: 'fsck.fat does not look; Linux refuses to mount (fs/fat/inode.c, fat_valid_media)',
    change: (p) => p.view.setUint8(21, 0x11),
  },
];

const everyCase = cases.flatMap((one) => (one.widths ?? widthsTested).map((bits) => ({ ...one, bits })));

describe('damage', () => {
  it.each(everyCase)('FAT$bits: $name is $kind', ({ bits, change, kind, beyondFsck }) => {
    const patch = new Patch(bases.get(bits) as Uint8Array);
    change(patch);
    const { damage, damageCounts } = volumeOf(patch.bytes);
    expect(damage.map((one) => one.kind)).toContain(kind);
    expect(damageCounts[kind]).toBeGreaterThan(0);
    expect(work.fsckBytes(patch.bytes).code).toBe(beyondFsck === undefined ? 1 : 0);
  });
});

interface Harmless {
  readonly name: string;
  readonly change: (patch: Patch) => void;
  readonly oddity: string;
  readonly widths?: readonly (12 | 16 | 32)[];
}

const harmless: Harmless[] = [
  {
    name: 'a label in the root folder only',
    oddity: 'label-in-one-place',
    change: (p) => p.bytes.set(new TextEncoder().encode('NO NAME    '), p.bits === 32 ? 71 : 43),
  },
  {
    name: 'a label in the boot sector only',
    oddity: 'label-in-one-place',
    change: (p) => p.view.setUint8(p.entry('CARD       '), 0xe5),
  },
  {
    // fatlabel(8), "Compatibility and bugs": Windows changes the label in the root folder alone.
    name: 'a card renamed by Windows: two labels that differ',
    oddity: 'label-differs',
    change: (p) => p.view.setUint8(p.bits === 32 ? 71 : 43, 0x58),
  },
  {
    name: 'a wrong count of free clusters',
    oddity: 'free-count-wrong',
    widths: [32],
    change: (p) => p.view.setUint32(512 + 488, 5, true),
  },
  {
    name: 'no count of free clusters',
    oddity: 'free-count-unset',
    widths: [32],
    change: (p) => p.view.setUint32(512 + 488, 0xffffffff, true),
  },
  {
    name: 'wrong FSInfo marks',
    oddity: 'fs-info-marks',
    widths: [32],
    change: (p) => p.view.setUint32(512 + 484, 0, true),
  },
  {
    name: 'odd bits in the case byte',
    oddity: 'case-bits',
    change: (p) => p.view.setUint8(p.entry(update) + 12, 0x20),
  },
  {
    name: 'no FSInfo sector',
    oddity: 'no-fs-info',
    widths: [32],
    change: (p) => {
      p.view.setUint16(48, 0, true);
      p.view.setUint16(6 * 512 + 48, 0, true);
    },
  },
  {
    name: 'a label with a letter outside ASCII',
    oddity: 'label-not-ascii',
    change: (p) => {
      p.view.setUint8(p.entry('CARD       ') + 1, 0x8e);
      p.view.setUint8(p.bits === 32 ? 72 : 44, 0x8e);
    },
  },
  {
    name: 'a media byte that the FAT does not repeat',
    oddity: 'media-bytes-differ',
    change: (p) => {
      p.view.setUint8(21, 0xf0);
      if (p.bits === 32) p.view.setUint8(6 * 512 + 21, 0xf0);
    },
  },
];

describe('harmless differences', () => {
  const all = harmless.flatMap((one) => (one.widths ?? widthsTested).map((bits) => ({ ...one, bits })));
  it.each(all)('FAT$bits: $name is odd, not damage', ({ bits, change, oddity }) => {
    const patch = new Patch(bases.get(bits) as Uint8Array);
    change(patch);
    const { damage, oddities } = volumeOf(patch.bytes);
    expect(damage).toEqual([]);
    expect(oddities.map((one) => one.code)).toContain(oddity);
  });
});

describe('dirty marks', () => {
  it.each([
    { bits: 16, where: 'boot sector', change: (p: Patch) => p.view.setUint8(37, 1) },
    { bits: 32, where: 'boot sector', change: (p: Patch) => p.view.setUint8(65, 1) },
    { bits: 16, where: 'FAT', change: (p: Patch) => p.set(1, 0x7fff) },
    { bits: 32, where: 'FAT', change: (p: Patch) => p.set(1, 0x07ffffff) },
  ])('FAT$bits: one in the $where is a mark, not damage, as for fsck.fat', ({ bits, change }) => {
    const patch = new Patch(bases.get(bits) as Uint8Array);
    expect(volumeOf(patch.bytes).cleanShutdown).toBe(true);
    change(patch);
    const volume = volumeOf(patch.bytes);
    expect(volume.cleanShutdown).toBe(false);
    expect(volume.damage).toEqual([]);
    expect(work.fsckBytes(patch.bytes).text).toContain('Dirty bit is set');
  });

  it('is seen in the second copy of the FAT alone, which is no damage either', () => {
    const patch = new Patch(bases.get(16) as Uint8Array);
    patch.set(1, 0x7fff, [1]);
    const volume = volumeOf(patch.bytes);
    expect(volume.cleanShutdown).toBe(false);
    expect(volume.damage).toEqual([]);
    expect(volume.fatCopiesMatch).toBe(true);
  });

  it('notes the mark of read errors', () => {
    const patch = new Patch(bases.get(16) as Uint8Array);
    expect(volumeOf(patch.bytes).hardErrorsNoted).toBe(false);
    patch.set(1, 0xbfff);
    expect(volumeOf(patch.bytes).hardErrorsNoted).toBe(true);
  });
});

describe('bytes changed at random places', () => {
  it.each(widthsTested)(
    'FAT%i: whatever fsck.fat would repair is damage, a dirty mark or harmless',
    (bits) => {
      const base = bases.get(bits) as Uint8Array;
      const whole = new Patch(base);
      // Boot sector fields, the used start of both FATs, root folder, and the folder SUB.
      const subAt = whole.clusterAt(start(whole, subFolder));
      const ranges: [number, number][] = [
        [11, 62],
        [whole.fatAt(0), whole.fatAt(0) + 60],
        [whole.fatAt(1), whole.fatAt(1) + 60],
        [whole.root, whole.root + 352],
        [subAt, subAt + 160],
      ];
      const random = someBytes(4 * 60, bits);
      for (let round = 0; round < 60; round++) {
        const patch = new Patch(base);
        const [from, to] = ranges[(random[4 * round] as number) % ranges.length] as [number, number];
        const at = from + ((random[4 * round + 1] as number) % (to - from));
        const value = random[4 * round + 2] as number;
        patch.bytes[at] = (patch.bytes[at] as number) ^ (value === 0 ? 1 : value);
        const volume = volumeOf(patch.bytes);
        const { code, text } = work.fsckBytes(patch.bytes);
        if (code === 0) continue;
        const isSound =
          volume.damage.length === 0 && volume.cleanShutdown === true && volume.oddities.length === 0;
        expect(isSound, `byte ${at}, ${value}: ${text}`).toBe(false);
        if (volume.damage.length > 0 || volume.cleanShutdown !== true) continue;
        const known = /label|Free cluster summary|FSINFO|no 8\.3 name|Bad short file name/i;
        expect(text, `byte ${at}, ${value}`).toMatch(known);
      }
    },
  );
});
