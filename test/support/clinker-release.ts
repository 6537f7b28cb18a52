import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/**
 * A program for the Clinker: stack and reset vector, the seventh word so that the first eight sum to zero (NXP UM10360,
 * section 32.3.1.1, "Criterion for valid user code"), and the marker of the build at offset 200 (hexadecimal).
 */
export function clinkerProgram(marker: string, start = 0x10000): Buffer {
  const bytes = Buffer.alloc(8192, 0xa5);
  const words = [0x10008000, start + 0x101, start + 0x103, start + 0x103, 0, 0, 0];
  for (const [index, word] of words.entries()) bytes.writeUInt32LE(word, index * 4);
  bytes.writeUInt32LE(2 ** 32 - (words.reduce((sum, word) => sum + word, 0) % 2 ** 32), 28);
  for (let index = 8; index < 64; index++) bytes.writeUInt32LE(index < 16 ? start + 0x103 : 0, index * 4);
  bytes.write(`${marker}\0`, 0x200, 'latin1');
  return bytes;
}

/** Writes a build as Intel HEX with srec_cat (srecord). */
export function writeHex(path: string, bytes: Buffer, start = 0x10000): void {
  const plain = `${path}.plain`;
  writeFileSync(plain, bytes);
  execFileSync('srec_cat', [plain, '-binary', '-offset', String(start), '-o', path, '-intel']);
  rmSync(plain);
}

/** A release folder of the Clinker that is not sealed yet: both builds, and the table of cones. */
export function clinkerRelease(folder: string): void {
  mkdirSync(join(folder, 'builds'), { recursive: true });
  cpSync(join(import.meta.dirname, '../../samples/boards/clinker.yaml'), join(folder, 'board.yaml'));
  writeHex(join(folder, 'builds/CLK-AB.HEX'), clinkerProgram('CLINKER/AB'));
  writeHex(join(folder, 'builds/CLK-C.HEX'), clinkerProgram('CLINKER/C'));
  writeFileSync(join(folder, 'CONES.TAB'), Buffer.alloc(4096, 7));
}
