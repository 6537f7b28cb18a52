import { describe, expect, it } from 'vitest';
import { type ByteSource, MemorySource, ReadProblem } from '../../src/bytes/byte-source.js';
import { fatFaults, isSoundBootSector, recognise } from '../../src/card/recognise.js';
import { noise } from '../support/disk-images.js';

const KiB = 1024;
const ascii = (text: string): Uint8Array => new TextEncoder().encode(text);
const bigEndian = (value: number): number[] => [
  value >>> 24,
  (value >>> 16) & 255,
  (value >>> 8) & 255,
  value & 255,
];

/** A volume of 256 KiB with these bytes at these places. */
function volume(...parts: readonly (readonly [number, Uint8Array | readonly number[]])[]): Uint8Array {
  const bytes = new Uint8Array(256 * KiB);
  for (const [at, content] of parts) bytes.set(content, at);
  return bytes;
}
function nameOf(bytes: Uint8Array): string {
  const result = recognise(new MemorySource(bytes));
  return result instanceof ReadProblem ? result.cause : result.fileSystem;
}

describe('signatures as their file systems publish them', () => {
  it.each<[string, readonly (readonly [number, Uint8Array | readonly number[]])[]]>([
    ['XFS', [[0, ascii('XFSB')]]],
    ['Btrfs', [[0x10040, ascii('_BHRfS_M')]]],
    ['F2FS', [[0x400, [0x10, 0x20, 0xf5, 0xf2]]]],
    ['EROFS', [[0x400, [0xe2, 0xe1, 0xf5, 0xe0]]]],
    ['LUKS', [[0, [0x4c, 0x55, 0x4b, 0x53, 0xba, 0xbe, 0x00, 0x02]]]],
    ['squashfs', [[0, ascii('hsqs')]]],
    ['UBI', [[0, ascii('UBI#')]]],
    ['ReFS', [[3, ascii('ReFS')]]],
    [
      'BitLocker',
      [
        [0, [0xeb, 0x58, 0x90]],
        [3, ascii('-FVE-FS-')],
      ],
    ],
    [
      'APFS',
      [
        [32, ascii('NXSB')],
        [36, [0, 0x10, 0, 0]],
      ],
    ],
    [
      'HFS+',
      [
        [0x400, ascii('H+')],
        [0x402, [0, 4]],
      ],
    ],
    [
      'HFS+',
      [
        [0x400, ascii('HX')],
        [0x402, [0, 5]],
      ],
    ],
    [
      'HFS',
      [
        [0x400, ascii('BD')],
        [0x414, bigEndian(4096)],
      ],
    ],
    [
      'HFS+',
      [
        [0x400, ascii('BD')],
        [0x414, bigEndian(4096)],
        [0x47c, ascii('H+')],
      ],
    ],
    ['JFS', [[0x8000, ascii('JFS1')]]],
    ['ReiserFS', [[0x10034, ascii('ReIsEr2Fs')]]],
    [
      'LVM2',
      [
        [512, ascii('LABELONE')],
        [512 + 0x18, ascii('LVM2 001')],
      ],
    ],
    ['swap', [[0xff6, ascii('SWAPSPACE2')]]],
    ['swap', [[0xfff6, ascii('SWAPSPACE2')]]],
    ['ISO9660', [[0x8001, ascii('CD001')]]],
    [
      'UDF',
      [
        [0x8001, ascii('CD001')],
        [0x8801, ascii('BEA01')],
        [0x9001, ascii('NSR03')],
      ],
    ],
    ['NTFS', [[3, ascii('NTFS    ')]]],
  ])('%s %#', (name, parts) => expect(nameOf(volume(...parts))).toBe(name));

  it.each<[string, readonly (readonly [number, Uint8Array | readonly number[]])[]]>([
    ['53 EF alone is no ext superblock', [[0x438, [0x53, 0xef]]]],
    [
      'BEA01 alone is no UDF',
      [
        [0x8001, ascii('BEA01')],
        [0x8801, ascii('TEA01')],
      ],
    ],
    [
      'H+ of an unknown version is no HFS+',
      [
        [0x400, ascii('H+')],
        [0x402, [4, 0]],
      ],
    ],
    ['a minix number alone', [[0x410, [0x7f, 0x13]]]],
  ])('%s', (_text, parts) => expect(nameOf(volume([0, [1]], ...parts))).toBe('not recognised'));
});

describe('a blank volume', () => {
  it('zeros, ones, and neither', () => {
    expect(nameOf(new Uint8Array(256 * KiB))).toBe('empty');
    expect(nameOf(new Uint8Array(256 * KiB).fill(0xff))).toBe('empty');
    expect(nameOf(volume([64 * KiB - 1, [1]]))).toBe('not recognised');
    expect(nameOf(volume([64 * KiB, [1]]))).toBe('empty');
    expect(nameOf(new Uint8Array(100))).toBe('empty');
    expect(nameOf(new Uint8Array(0))).toBe('not recognised');
    expect(nameOf(noise(256 * KiB))).toBe('not recognised');
  });
});

describe('what could not be read', () => {
  class From implements ByteSource {
    readonly size: number;
    constructor(
      private readonly bytes: Uint8Array,
      private readonly from: number,
      private readonly to: number,
    ) {
      this.size = bytes.length;
    }
    read(at: number, length: number): Uint8Array | ReadProblem {
      return at < this.to && at + length > this.from
        ? new ReadProblem(at, length, 'read-error')
        : this.bytes.subarray(at, at + length);
    }
  }
  it('an unread first sector decides nothing', () => {
    expect(recognise(new From(volume([0x400, [0x10, 0x20, 0xf5, 0xf2]]), 0, 512))).toBeInstanceOf(
      ReadProblem,
    );
  });
  it('an unread page further in makes neither empty nor unknown out of the rest', () => {
    expect(recognise(new From(volume(), 0x8000, 0x9000))).toMatchObject({ cause: 'read-error', at: 0x8000 });
  });
  it('what was seen still counts', () => {
    expect(recognise(new From(volume([0, ascii('XFSB')]), 0x8000, 0x9000))).toMatchObject({
      fileSystem: 'XFS',
    });
  });
});

describe('sound boot sectors', () => {
  /** FAT16: 512-byte sectors, 4 a cluster, 1 reserved, 2 FATs of 64 sectors, 512 root entries, 65000 sectors. */
  const fat16 = (): Uint8Array => {
    const sector = new Uint8Array(512);
    sector.set([0xeb, 0x3c, 0x90]);
    sector.set([0, 2, 4, 1, 0, 2, 0, 2, 0xe8, 0xfd, 0xf8, 64, 0], 11);
    sector.set([0x55, 0xaa], 510);
    return sector;
  };
  const changed = (at: number, ...bytes: number[]): Uint8Array => {
    const sector = fat16();
    sector.set(bytes, at);
    return sector;
  };

  it('is sound as it stands', () => {
    expect(fatFaults(fat16())).toEqual([]);
    expect(isSoundBootSector(fat16())).toBe(true);
  });

  it.each([
    ['bytes in a sector', 11, [0x00, 0x03]],
    ['sectors of 256 bytes', 11, [0x00, 0x01]],
    ['sectors in a cluster', 13, [3]],
    ['no sectors in a cluster', 13, [0]],
    ['no reserved sectors', 14, [0, 0]],
    ['no FAT', 16, [0]],
    ['no sectors at all', 19, [0, 0]],
    ['fewer sectors than the FATs take', 19, [10, 0]],
    ['the media byte', 21, [0xf1]],
    ['a FAT without length', 22, [0, 0]],
    ['the mark 55 AA', 510, [0, 0]],
    ['another system that uses the same header', 54, [...ascii('JFS     ')]],
    ['the older of those', 54, [...ascii('HPFS    ')]],
  ] as const)('not with %s', (_what, at, bytes) => {
    const sector = changed(at, ...bytes);
    expect(fatFaults(sector)).toHaveLength(1);
    expect(isSoundBootSector(sector)).toBe(false);
  });

  it('a FAT whose text is there is known without 55 AA', () => {
    const sector = changed(54, ...ascii('FAT16   '));
    sector.set([0, 0], 510);
    expect(fatFaults(sector)).toEqual([]);
  });

  it('a volume that looks like FAT but is not sound says why', () => {
    const bytes = volume([0, changed(54, ...ascii('FAT16   '))]);
    bytes[13] = 5;
    expect(recognise(new MemorySource(bytes))).toMatchObject({
      fileSystem: 'not recognised',
      fatFaults: [{ at: 13 }],
    });
  });

  it('BitLocker To Go shares its first bytes with FAT32 and is told by its own header', () => {
    const bytes = volume([0, fat16()], [3, ascii('MSWIN4.1')], [440, [0, 0x80, 0, 0]]);
    expect(nameOf(bytes)).toBe('FAT');
    bytes.set(ascii('-FVE-FS-'), 0x8000);
    expect(nameOf(bytes)).toBe('BitLocker');
  });
});
