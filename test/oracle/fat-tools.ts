import { execFileSync, spawnSync } from 'node:child_process';
import {
  closeSync,
  mkdtempSync,
  openSync,
  readFileSync,
  readSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import * as FatFs from 'js-fatfs';
import { type ByteSource, MemorySource, ReadProblem } from '../../src/bytes/byte-source.js';
import { u16At, u32At } from '../../src/bytes/cursor.js';
import { type FatVolume, readFatVolume } from '../../src/card/fat/volume.js';

/** mtools and fsck.fat in UTF-8, and with a fixed clock. */
const env = { ...process.env, LC_ALL: 'C.UTF-8', TZ: 'UTC', MTOOLS_SKIP_CHECK: '1' };

/** A folder of one test file's own; `remove` takes it away. */
export class Workshop {
  readonly folder = mkdtempSync(join(tmpdir(), 'flashworthy-fat-'));
  path(name: string): string {
    return join(this.folder, name);
  }
  write(name: string, content: Uint8Array | string): string {
    writeFileSync(this.path(name), content);
    return this.path(name);
  }
  read(name: string): Uint8Array {
    return new Uint8Array(readFileSync(this.path(name)));
  }
  run(tool: string, ...options: string[]): string {
    return execFileSync(tool, options, {
      cwd: this.folder,
      env,
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'pipe'],
    });
  }
  bytesOf(tool: string, ...options: string[]): Uint8Array {
    return new Uint8Array(
      execFileSync(tool, options, {
        cwd: this.folder,
        env,
        stdio: ['ignore', 'pipe', 'pipe'],
        maxBuffer: 2 ** 28,
      }),
    );
  }
  /** Makes a volume with mkfs.fat in an image of its own. */
  format(name: string, bytes: number, ...options: string[]): string {
    writeFileSync(this.path(name), '');
    truncateSync(this.path(name), bytes);
    this.run('mkfs.fat', '--invariant', ...options, name);
    return this.path(name);
  }
  /** What `fsck.fat -n -v` says. */
  fsck(name: string): { code: number | null; text: string } {
    const { status, stdout, stderr } = spawnSync('fsck.fat', ['-n', '-v', name], {
      cwd: this.folder,
      env,
      encoding: 'utf8',
      timeout: 20_000,
    });
    return { code: status, text: stdout + stderr };
  }
  /** The same for bytes in memory. */
  fsckBytes(bytes: Uint8Array): { code: number | null; text: string } {
    this.write('fsck.img', bytes);
    return this.fsck('fsck.img');
  }
  remove(): void {
    rmSync(this.folder, { recursive: true, force: true });
  }
}

/** An image file read piece by piece, so that sparse images of any size will do. */
export class ImageFile implements ByteSource {
  readonly size: number;
  private readonly descriptor: number;
  constructor(path: string) {
    this.size = statSync(path).size;
    this.descriptor = openSync(path, 'r');
  }
  read(at: number, length: number): Uint8Array | ReadProblem {
    if (at < 0 || at + length > this.size) return new ReadProblem(at, length, 'past-end');
    const bytes = new Uint8Array(length);
    readSync(this.descriptor, bytes, 0, length, at);
    return bytes;
  }
  close(): void {
    closeSync(this.descriptor);
  }
}

/** Reads a volume and fails the test when its boot sector could not be read. */
export function volumeOf(source: ByteSource | Uint8Array): FatVolume {
  const volume = readFatVolume(source instanceof Uint8Array ? new MemorySource(source) : source);
  if (volume instanceof ReadProblem) throw new Error(`boot sector not read: ${volume.cause}`);
  return volume;
}

/** A small volume in memory with the places that tests patch, computed here from the specification's formulas. */
export class Patch {
  readonly bytes: Uint8Array;
  readonly view: DataView;
  readonly sector: number;
  readonly reserved: number;
  readonly fatSectors: number;
  readonly root: number;
  readonly data: number;
  readonly cluster: number;
  readonly bits: 12 | 16 | 32;
  readonly clusters: number;
  constructor(original: Uint8Array) {
    this.bytes = original.slice();
    this.view = new DataView(this.bytes.buffer);
    const { bytes } = this;
    this.sector = u16At(bytes, 11);
    this.reserved = u16At(bytes, 14);
    const narrow = u16At(bytes, 22);
    this.fatSectors = narrow || u32At(bytes, 36);
    this.root = (this.reserved + (bytes[16] as number) * this.fatSectors) * this.sector;
    this.data = this.root + u16At(bytes, 17) * 32;
    this.cluster = (bytes[13] as number) * this.sector;
    const total = (u16At(bytes, 19) || u32At(bytes, 32)) * this.sector;
    this.clusters = Math.floor((total - this.data) / this.cluster);
    this.bits = narrow === 0 ? 32 : this.clusters < 4085 ? 12 : 16;
    if (this.bits === 32) this.root = this.data + (u32At(bytes, 44) - 2) * this.cluster;
  }
  fatAt(copy: number): number {
    return (this.reserved + copy * this.fatSectors) * this.sector;
  }
  get(cluster: number): number {
    const at = this.fatAt(0);
    if (this.bits === 32) return u32At(this.bytes, at + 4 * cluster) & 0x0fffffff;
    if (this.bits === 16) return u16At(this.bytes, at + 2 * cluster);
    const pair = u16At(this.bytes, at + Math.floor((cluster * 3) / 2));
    return (cluster & 1) === 1 ? pair >> 4 : pair & 0xfff;
  }
  /** Sets a FAT entry in the given copies; negative values count from the end mark of all ones. */
  set(cluster: number, value: number, copies = [0, 1]): void {
    for (const copy of copies) {
      const at = this.fatAt(copy);
      const all = this.bits === 32 ? 0x0fffffff : this.bits === 16 ? 0xffff : 0xfff;
      const stored = value < 0 ? all + 1 + value : value;
      if (this.bits === 32) this.view.setUint32(at + 4 * cluster, stored, true);
      else if (this.bits === 16) this.view.setUint16(at + 2 * cluster, stored, true);
      else {
        const place = at + Math.floor((cluster * 3) / 2);
        const pair = u16At(this.bytes, place);
        this.view.setUint16(
          place,
          (cluster & 1) === 1 ? (pair & 0x000f) | (stored << 4) : (pair & 0xf000) | stored,
          true,
        );
      }
    }
  }
  clusterAt(cluster: number): number {
    return this.data + (cluster - 2) * this.cluster;
  }
  /** Where the short entry with these eleven bytes stands, in the root folder or in a folder that starts at a cluster. */
  entry(name: string, folderCluster?: number): number {
    const start = folderCluster === undefined ? this.root : this.clusterAt(folderCluster);
    for (let at = start; at < start + 512 * 32; at += 32) {
      if (this.bytes[at + 11] === 0x0f) continue;
      if (String.fromCharCode(...this.bytes.subarray(at, at + 11)) === name) return at;
    }
    throw new Error(`no entry ${name}`);
  }
  firstCluster(at: number): number {
    return u16At(this.bytes, at + 26) + (this.bits === 32 ? u16At(this.bytes, at + 20) * 0x10000 : 0);
  }
  setFirstCluster(at: number, cluster: number): void {
    this.view.setUint16(at + 26, cluster & 0xffff, true);
    this.view.setUint16(at + 20, cluster >>> 16, true);
  }
}

/** What the driver fatfs sees of a volume, by js-fatfs. */
export interface FatFsView {
  /** Result of `f_mount`; 0 when the volume was taken. */
  readonly mount: number;
  readonly width: 'FAT12' | 'FAT16' | 'FAT32' | 'refused';
  readonly files: { path: string; shortName: string; bytes: number; attributes: number }[];
  readonly content: Map<string, Uint8Array>;
}

/** Mounts a volume with js-fatfs, lists it and, of files up to 1 MiB, reads it. */
export async function throughFatFs(source: ByteSource): Promise<FatFsView> {
  const start = source.read(0, 512);
  const claimed = start instanceof ReadProblem ? 512 : u16At(start, 11);
  const sectorBytes = claimed >= 512 && claimed <= 4096 ? claimed : 512;
  const diskio: FatFs.DiskIO = {
    initialize: () => 0,
    status: () => 0,
    write: () => FatFs.RES_WRPRT,
    read: (ff, _drive, buffer, sector, count) => {
      const got = source.read(sector * sectorBytes, count * sectorBytes);
      if (got instanceof ReadProblem) return FatFs.RES_ERROR;
      ff.HEAPU8.set(got, buffer);
      return FatFs.RES_OK;
    },
    ioctl: (ff, _drive, command, buffer) => {
      if (command === FatFs.GET_SECTOR_COUNT)
        ff.setValue(buffer, Math.floor(source.size / sectorBytes), 'i32');
      if (command === FatFs.GET_SECTOR_SIZE) ff.setValue(buffer, sectorBytes, 'i16');
      return FatFs.RES_OK;
    },
  };
  const ff = await FatFs.create({ diskio });
  const volume = ff.malloc(FatFs.sizeof_FATFS);
  const mount = ff.f_mount(volume, '', 1);
  const widthNames = ['refused', 'FAT12', 'FAT16', 'FAT32'] as const;
  const width = mount === 0 ? (widthNames[ff.HEAPU8[volume] ?? 0] ?? 'refused') : 'refused';
  const files: FatFsView['files'] = [];
  const content: FatFsView['content'] = new Map();
  const folders = mount === 0 ? [''] : [];
  const info = ff.malloc(FatFs.sizeof_FILINFO);
  for (const folder of folders) {
    const directory = ff.malloc(FatFs.sizeof_DIR);
    if (ff.f_opendir(directory, `/${folder}`) !== FatFs.FR_OK) continue;
    while (ff.f_readdir(directory, info) === FatFs.FR_OK) {
      const name = ff.FILINFO_fname(info);
      if (name === '') break;
      const path = folder === '' ? name : `${folder}/${name}`;
      // No alias is told where the name itself is one.
      const shortName = ff.FILINFO_altname(info) || name;
      files.push({ path, shortName, bytes: ff.FILINFO_fsize(info), attributes: ff.FILINFO_fattrib(info) });
      if ((ff.FILINFO_fattrib(info) & 0x10) !== 0) folders.push(path);
    }
    ff.f_closedir(directory);
    ff.free(directory);
  }
  const read = ff.malloc(4);
  const file = ff.malloc(FatFs.sizeof_FIL);
  for (const { path, bytes, attributes } of files) {
    if ((attributes & 0x10) !== 0 || bytes > 2 ** 20) continue;
    if (ff.f_open(file, `/${path}`, FatFs.FA_READ) !== FatFs.FR_OK) continue;
    const buffer = ff.malloc(bytes + 1);
    ff.f_read(file, buffer, bytes, read);
    content.set(path, ff.HEAPU8.slice(buffer, buffer + bytes));
    ff.free(buffer);
    ff.f_close(file);
  }
  return { mount, width, files, content };
}

/** Writes bytes at a place of an image file. */
export function pokeFile(path: string, at: number, bytes: Uint8Array): void {
  const descriptor = openSync(path, 'r+');
  writeSync(descriptor, bytes, 0, bytes.length, at);
  closeSync(descriptor);
}

/** Bytes that differ from place to place, the same for the same seed. */
export function someBytes(length: number, seed: number): Uint8Array {
  const bytes = new Uint8Array(length);
  let state = (seed * 2654435761 + 1) >>> 0;
  for (let i = 0; i < length; i++) {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    bytes[i] = state >>> 24;
  }
  return bytes;
}
