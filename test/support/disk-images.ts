import { execFileSync } from 'node:child_process';
import {
  closeSync,
  mkdtempSync,
  openSync,
  readSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type ByteSource, isInside, ReadProblem } from '../../src/bytes/byte-source.js';

/** An image file as a source of bytes, read piece by piece so that sparse images of any size will do. */
export class ImageFile implements ByteSource {
  readonly size: number;
  private readonly descriptor: number;
  constructor(path: string) {
    this.size = statSync(path).size;
    this.descriptor = openSync(path, 'r');
  }
  read(at: number, length: number): Uint8Array | ReadProblem {
    if (!isInside(at, length, this.size)) return new ReadProblem(at, length, 'past-end');
    const bytes = new Uint8Array(length);
    readSync(this.descriptor, bytes, 0, length, at);
    return bytes;
  }
  close(): void {
    closeSync(this.descriptor);
  }
}

/** Makes an empty image file of this size, gives its path to `use`, and removes it afterwards. */
export function withImage<T>(bytes: number, use: (path: string) => T): T {
  const folder = mkdtempSync(join(tmpdir(), 'flashworthy-image-'));
  try {
    const path = join(folder, 'card.img');
    writeFileSync(path, '');
    truncateSync(path, bytes);
    return use(path);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Opens an image file for the time of `use`. */
export function withSource<T>(path: string, use: (source: ByteSource) => T): T {
  const source = new ImageFile(path);
  try {
    return use(source);
  } finally {
    source.close();
  }
}

/** Runs a tool and returns what it prints; throws with its words when it fails. */
export const run = (tool: string, args: readonly string[], input?: string): string =>
  execFileSync(tool, args, {
    encoding: 'utf8',
    stdio: ['pipe', 'pipe', 'pipe'],
    env: {
      ...process.env,
      LC_ALL: 'C.UTF-8',
      PATH: `${process.env.PATH ?? ''}:/usr/sbin:/sbin`,
      MTOOLS_SKIP_CHECK: '1',
    },
    ...(input === undefined ? {} : { input }),
  });

/** Writes an MBR with these lines of sfdisk's script language. */
export const sfdisk = (path: string, lines: readonly string[]): string =>
  run('sfdisk', ['-q', '--no-tell-kernel', path], `label: dos\n${lines.join('\n')}\n`);

/** Overwrites bytes of an image file, which stays sparse. */
export function poke(path: string, at: number, bytes: Uint8Array | readonly number[]): void {
  const descriptor = openSync(path, 'r+');
  try {
    writeSync(descriptor, Uint8Array.from(bytes), 0, bytes.length, at);
  } finally {
    closeSync(descriptor);
  }
}

/** Bytes of an image file. */
export function peek(path: string, at: number, length: number): Uint8Array {
  return withSource(path, (source) => source.read(at, length) as Uint8Array);
}

/** Bytes that look random and are the same each time (xorshift32). */
export function noise(length: number, seed = 1): Uint8Array {
  const bytes = new Uint8Array(length);
  let state = seed >>> 0 || 1;
  for (let i = 0; i < length; i++) {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    bytes[i] = state & 0xff;
  }
  return bytes;
}

/** Builds sector 0 with these MBR entries: [boot flag, type, start sector, sectors]. */
export function mbrSector(
  entries: readonly (readonly [number, number, number, number] | null)[],
): Uint8Array {
  const sector = new Uint8Array(512);
  const view = new DataView(sector.buffer);
  entries.forEach((entry, i) => {
    if (!entry) return;
    const at = 446 + i * 16;
    sector[at] = entry[0];
    sector[at + 4] = entry[1];
    view.setUint32(at + 8, entry[2], true);
    view.setUint32(at + 12, entry[3], true);
  });
  sector[510] = 0x55;
  sector[511] = 0xaa;
  return sector;
}
