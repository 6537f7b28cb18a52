import { describe, expect, it } from 'vitest';
import { type ByteSource, MemorySource, ReadProblem } from '../../../src/bytes/byte-source.js';
import { limits } from '../../../src/bytes/limits.js';
import { readBootSector } from '../../../src/card/fat/boot-sector.js';
import { type FatVolume, readFatVolume, readFile } from '../../../src/card/fat/volume.js';

/**
 * Volumes put together byte by byte after the FAT specification, for what no formatter makes: hostile sizes, endless
 * folders, media that cannot be read everywhere.
 */
class Built {
  readonly bytes: Uint8Array;
  readonly view: DataView;
  /** FAT16: 1 reserved sector, 2 FATs, 512 root entries, clusters of one sector. */
  constructor(
    readonly sectors: number,
    readonly fatSectors: number,
  ) {
    this.bytes = new Uint8Array(sectors * 512);
    this.view = new DataView(this.bytes.buffer);
    this.bytes.set([0xeb, 0x3c, 0x90]);
    this.text(3, 'TESTMADE');
    this.view.setUint16(11, 512, true);
    this.view.setUint8(13, 1);
    this.view.setUint16(14, 1, true);
    this.view.setUint8(16, 2);
    this.view.setUint16(17, 512, true);
    this.view.setUint8(21, 0xf8);
    this.view.setUint16(22, fatSectors, true);
    this.view.setUint32(32, sectors, true);
    this.view.setUint8(38, 0x29);
    this.text(43, 'NO NAME    FAT16   ');
    this.view.setUint16(510, 0xaa55, true);
    this.fat(0, 0xfff8);
    this.fat(1, 0xffff);
  }
  text(at: number, text: string): void {
    for (let i = 0; i < text.length; i++) this.bytes[at + i] = text.charCodeAt(i);
  }
  fat(cluster: number, value: number): void {
    for (const copy of [0, 1])
      this.view.setUint16((1 + copy * this.fatSectors) * 512 + 2 * cluster, value, true);
  }
  get root(): number {
    return (1 + 2 * this.fatSectors) * 512;
  }
  cluster(number: number): number {
    return this.root + 512 * 32 + (number - 2) * 512;
  }
  entry(at: number, name: string, attributes: number, cluster: number, size = 0): void {
    this.text(at, name);
    this.view.setUint8(at + 11, attributes);
    this.view.setUint16(at + 26, cluster, true);
    this.view.setUint32(at + 28, size, true);
  }
  /** A folder of one cluster with its own two entries. */
  folder(cluster: number, parent: number): number {
    const at = this.cluster(cluster);
    this.entry(at, '.          ', 0x10, cluster);
    this.entry(at + 32, '..         ', 0x10, parent);
    this.fat(cluster, 0xffff);
    return at + 64;
  }
  read(): FatVolume {
    return volumeOf(new MemorySource(this.bytes));
  }
}

function volumeOf(source: ByteSource): FatVolume {
  const volume = readFatVolume(source);
  if (volume instanceof ReadProblem) throw new Error(volume.cause);
  return volume;
}

/** A medium that cannot be read at some bytes. */
class Scratched implements ByteSource {
  constructor(
    private readonly bytes: Uint8Array,
    private readonly from: number,
    private readonly to: number,
  ) {}
  get size(): number {
    return this.bytes.length;
  }
  read(at: number, length: number): Uint8Array | ReadProblem {
    if (at < this.to && at + length > this.from) return new ReadProblem(at, length, 'read-error');
    return new MemorySource(this.bytes).read(at, length);
  }
}

const sound = (): Built => {
  const built = new Built(8000, 32);
  built.entry(built.root, 'UPDATE  BIN', 0x20, 2, 1000);
  built.fat(2, 3);
  built.fat(3, 0xffff);
  built.entry(built.root + 32, 'SUB        ', 0x10, 4);
  built.entry(built.folder(4, 0), 'INNER   TXT', 0x20, 5, 1);
  built.fat(5, 0xffff);
  return built;
};

describe('a volume put together by hand', () => {
  it('is sound', () => {
    const volume = sound().read();
    expect(volume.damage).toEqual([]);
    expect(volume.incomplete).toBeNull();
    expect(volume.entries.map((entry) => entry.path)).toEqual(['UPDATE.BIN', 'SUB', 'SUB/INNER.TXT']);
    expect(volume.entries[0]?.chain).toMatchObject({ clusters: 2, fragments: 1, whole: true });
    expect(volume.entries[0]?.shortNameBytes).toEqual(new TextEncoder().encode('UPDATE  BIN'));
    expect(volume.rootSlotsUsed).toBe(2);
    expect(volume.rootEntries).toBe(2);
  });

  it('lists the entries of a folder before those of the folders in it', () => {
    const built = sound();
    built.entry(built.root + 64, 'LAST    TXT', 0x20, 0);
    expect(built.read().entries.map((entry) => entry.path)).toEqual([
      'UPDATE.BIN',
      'SUB',
      'LAST.TXT',
      'SUB/INNER.TXT',
    ]);
  });
});

describe('bounds', () => {
  it('stops at the deepest folder that is followed', () => {
    const built = new Built(8000, 32);
    let at = built.root;
    for (let depth = 0; depth < limits.folderDepth + 10; depth++) {
      built.entry(at, 'DEEPER     ', 0x10, depth + 2);
      at = built.folder(depth + 2, depth === 0 ? 0 : depth + 1);
    }
    const volume = built.read();
    expect(volume.incomplete?.cause).toBe('over-limit');
    expect(volume.entries).toHaveLength(limits.folderDepth + 1);
    // What lies deeper is not known: its clusters are not called lost.
    expect(volume.lostClusters).toBeInstanceOf(ReadProblem);
    expect(volume.damage).toEqual([]);
  });

  it('stops at the most files that are remembered', () => {
    const perFolder = 60_000;
    const clusters = Math.ceil((perFolder * 32) / 512) + 1;
    const built = new Built(20_000, 80);
    let next = 2;
    for (let folder = 0; folder < 5; folder++) {
      built.entry(built.root + folder * 32, `FOLDER${folder}    `, 0x10, next);
      built.folder(next, 0);
      for (let i = 0; i < clusters - 1; i++) built.fat(next + i, next + i + 1);
      built.fat(next + clusters - 1, 0xffff);
      for (let i = 0; i < perFolder; i++)
        built.entry(built.cluster(next) + 64 + i * 32, `F${i}`.padEnd(11), 0x20, 0);
      next += clusters;
    }
    const volume = built.read();
    expect(volume.incomplete?.cause).toBe('over-limit');
    expect(volume.entries).toHaveLength(limits.files);
    expect(volume.lostClusters).toBeInstanceOf(ReadProblem);
  });

  it('reads no more of a folder than drivers do', () => {
    const built = new Built(20_000, 80);
    built.entry(built.root, 'HUGE       ', 0x10, 2);
    built.folder(2, 0);
    const clusters = limits.folderBytes / 512 + 8;
    for (let i = 0; i < clusters - 1; i++) built.fat(2 + i, 3 + i);
    built.fat(clusters + 1, 0xffff);
    const volume = built.read();
    expect(volume.incomplete?.cause).toBe('over-limit');
    expect(volume.entries[0]?.chain?.clusters).toBe(clusters);
  });

  it('does not take memory for a FAT that is not there', () => {
    const built = new Built(100, 32);
    built.view.setUint16(22, 0, true);
    built.view.setUint32(36, 0x40_0000, true);
    built.view.setUint16(17, 0, true);
    built.view.setUint8(13, 128);
    built.view.setUint32(32, 0xffffffff, true);
    built.view.setUint32(44, 2, true);
    const volume = built.read();
    expect(volume.geometry?.clusterCount).toBeGreaterThan(30_000_000);
    expect(volume.table).toBeNull();
    expect(volume.fatCopiesMatch).toBeInstanceOf(ReadProblem);
    expect(volume.incomplete).not.toBeNull();
  });

  it('looks at no more clusters than the limit', () => {
    const built = new Built(100, 32);
    built.view.setUint16(22, 0, true);
    built.view.setUint32(36, 0x10_0000, true);
    built.view.setUint16(17, 0, true);
    built.view.setUint32(32, 0xffffffff, true);
    built.view.setUint32(44, 2, true);
    const volume = built.read();
    expect(volume.incomplete?.cause).toBe('over-limit');
    expect(volume.freeClusters).toBeInstanceOf(ReadProblem);
  });
});

describe('a medium that cannot be read everywhere', () => {
  it('gives the problem of the boot sector itself', () => {
    expect(readFatVolume(new Scratched(sound().bytes, 0, 512))).toBeInstanceOf(ReadProblem);
  });

  it('follows the second FAT where the first cannot be read, and says that they were not compared', () => {
    const built = sound();
    const volume = volumeOf(new Scratched(built.bytes, 512, 1024));
    expect(volume.entries.map((entry) => entry.path)).toEqual(['UPDATE.BIN', 'SUB', 'SUB/INNER.TXT']);
    expect(volume.fatCopiesMatch).toBeInstanceOf(ReadProblem);
    expect(volume.cleanShutdown).toBeInstanceOf(ReadProblem);
    expect(volume.hardErrorsNoted).toBeInstanceOf(ReadProblem);
  });

  it('lists the fixed root folder when no FAT can be read, and knows no chains', () => {
    const built = sound();
    const volume = volumeOf(new Scratched(built.bytes, 512, built.root));
    expect(volume.entries.map((entry) => entry.path)).toEqual(['UPDATE.BIN', 'SUB']);
    expect(volume.entries[0]?.chain).toBeUndefined();
    expect(volume.incomplete?.cause).toBe('read-error');
    expect(volume.rootIncomplete).toBeNull();
    expect(volume.lostClusters).toBeInstanceOf(ReadProblem);
    expect(readFile(volume, volume.entries[0]!, () => undefined)).toBeInstanceOf(ReadProblem);
  });

  it('says that files may be missing when a folder cannot be read', () => {
    const built = sound();
    const volume = volumeOf(new Scratched(built.bytes, built.cluster(4), built.cluster(5)));
    expect(volume.entries.map((entry) => entry.path)).toEqual(['UPDATE.BIN', 'SUB']);
    expect(volume.incomplete?.cause).toBe('read-error');
    expect(volume.incompleteText).toBeNull();
    expect(volume.lostClusters).toBeInstanceOf(ReadProblem);
    expect(volume.damage).toEqual([]);
  });

  it('gives a problem for a file whose bytes cannot be read, and false for a chain that is too short', () => {
    const built = sound();
    const volume = volumeOf(new Scratched(built.bytes, built.cluster(3), built.cluster(4)));
    const got: number[] = [];
    expect(readFile(volume, volume.entries[0]!, (piece) => got.push(piece.length))).toBeInstanceOf(
      ReadProblem,
    );
    built.fat(2, 0xffff);
    const cut = built.read();
    expect(cut.entries[0]?.chain?.whole).toBe(false);
    expect(readFile(cut, cut.entries[0]!, (piece) => got.push(piece.length))).toBe(false);
    expect(got).toEqual([512]);
  });
});

describe('FAT copies', () => {
  it('follows the one in force that the extended flags name', () => {
    const built = new Built(70_000, 0);
    const fatSectors = 550;
    built.view.setUint32(36, fatSectors, true);
    built.view.setUint16(17, 0, true);
    built.view.setUint16(14, 32, true);
    built.view.setUint16(40, 0x81, true);
    built.view.setUint32(44, 2, true);
    built.text(82, 'FAT32   ');
    const { geometry } = readBootSector(built.bytes.subarray(0, 512));
    const set = (copy: number, cluster: number, value: number): void =>
      built.view.setUint32(geometry!.fatStart + copy * geometry!.fatBytes + 4 * cluster, value, true);
    for (const copy of [0, 1]) for (const i of [0, 1, 2, 5]) set(copy, i, i === 0 ? 0x0ffffff8 : 0x0fffffff);
    set(0, 3, 0x0fffffff);
    set(1, 3, 5);
    built.entry(geometry!.dataStart, 'UPDATE  BIN', 0x20, 3, 1000);
    const volume = built.read();
    expect(volume.entries[0]?.chain).toMatchObject({ clusters: 2, whole: true, fragments: 2 });
    expect(volume.fatCopiesMatch).toBe(false);
    const lengths: number[][] = [[], []];
    for (const copy of [0, 1])
      readFile(volume, volume.entries[0]!, (piece) => lengths[copy]?.push(piece.length), copy);
    expect(lengths).toEqual([[512, 488], [512]]);
  });
});
