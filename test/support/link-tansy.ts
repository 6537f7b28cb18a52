import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { crc32 } from 'node:zlib';

const source = join(import.meta.dirname, '..', '..', 'samples', 'releases', 'source');

/** A program of the sample release, linked as somebody would who makes a mistake. */
export interface Mistake {
  /** Where the linker puts it: the builds for the newer boot loader start at 0x08010000, those for the older at 0x0800C000. */
  readonly start: number;
  readonly marker: string;
  readonly release: string;
  /** Leave the file as the linker wrote it, for a debugger. */
  readonly elf?: boolean;
}

/**
 * Links the program of the sample release with arm-none-eabi-gcc. Plain bytes are filled up to 16 KiB and end with the
 * CRC-32 of all before them, as the profile of the board wants.
 */
export function linkTansy({ start, marker, release, elf = false }: Mistake): Buffer {
  const work = mkdtempSync(join(tmpdir(), 'flashworthy-link-'));
  try {
    const linked = join(work, 'tansy.elf');
    execFileSync('arm-none-eabi-gcc', [
      ...['-mcpu=cortex-m4', '-mthumb', '-Os', '-g', '-ffreestanding', '-nostdlib'],
      ...['-fno-tree-loop-distribute-patterns', '-Wl,--build-id=none'],
      ...[`-DMARKER="${marker}"`, `-DRELEASE="${release}"`, '-DBLINKS=5'],
      ...[`-Wl,--defsym=application_start=${start}`, '-Wl,--defsym=application_bytes=0xD0000'],
      ...['-T', join(source, 'tansy.ld'), join(source, 'tansy.c'), '-o', linked],
    ]);
    if (elf) return readFileSync(linked);
    const plain = join(work, 'tansy.bin');
    execFileSync('arm-none-eabi-objcopy', ['-O', 'binary', linked, plain]);
    return withChecksum(readFileSync(plain), 16 * 1024);
  } finally {
    rmSync(work, { recursive: true, force: true });
  }
}

/** The bytes filled up with FF to a size, the last four of which are the CRC-32 of the others. */
export function withChecksum(program: Uint8Array, size: number): Buffer {
  const file = Buffer.alloc(size, 0xff);
  file.set(program.subarray(0, size - 4));
  file.writeUInt32LE(crc32(file.subarray(0, -4)), size - 4);
  return file;
}
