import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { runRelease } from '../support/run-release.js';

const boards = join(import.meta.dirname, '..', '..', 'samples', 'boards');

/**
 * A program for the Clinker: stack and reset vector, the seventh word so that the first eight sum to zero (NXP UM10360,
 * section 32.3.1.1, "Criterion for valid user code"), and the marker of the build at offset 200 (hexadecimal).
 */
function program(marker: string, start = 0x10000): Buffer {
  const bytes = Buffer.alloc(8192, 0xa5);
  const words = [0x10008000, start + 0x101, start + 0x103, start + 0x103, 0, 0, 0];
  for (const [index, word] of words.entries()) bytes.writeUInt32LE(word, index * 4);
  bytes.writeUInt32LE(2 ** 32 - (words.reduce((sum, word) => sum + word, 0) % 2 ** 32), 28);
  for (let index = 8; index < 64; index++) bytes.writeUInt32LE(index < 16 ? start + 0x103 : 0, index * 4);
  bytes.write(`${marker}\0`, 0x200, 'latin1');
  return bytes;
}

let work: string;
let folder: string;
/** Writes a build as Intel HEX with srec_cat (srecord). */
function hex(path: string, bytes: Buffer, start = 0x10000): void {
  writeFileSync(join(work, 'plain'), bytes);
  execFileSync('srec_cat', [
    ...[join(work, 'plain'), '-binary', '-offset', String(start)],
    ...['-o', join(folder, path), '-intel'],
  ]);
}
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-kiln-'));
  folder = join(work, 'release');
  mkdirSync(join(folder, 'builds'), { recursive: true });
  cpSync(join(boards, 'clinker.yaml'), join(folder, 'board.yaml'));
  hex('builds/CLK-AB.HEX', program('CLINKER/AB'));
  hex('builds/CLK-C.HEX', program('CLINKER/C'));
  writeFileSync(join(folder, 'CONES.TAB'), Buffer.alloc(4096, 7));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

const failing = async (release: string): Promise<readonly string[]> => {
  const { code, failed, open } = await runRelease(folder, { seal: true, release, force: true });
  expect({ code, open }).toEqual({ code: failed.length > 0 ? 1 : 0, open: [] });
  return failed;
};

describe('a release of builds that name their addresses', () => {
  it('is sealed, without what only the machine of an owner has', async () => {
    expect(await failing('2.6')).toEqual([]);
    const { report } = await runRelease(folder);
    // By hand from the profile: revisions A and B take the one build, C the other.
    expect(report?.facts.releaseFolder).toMatchObject({
      matrix: [
        {
          machine: 'board revision A',
          supply: '12V/3A',
          preferred: 'clinker-ab',
          fits: ['preferred', 'machine'],
        },
        { machine: 'board revision B', preferred: 'clinker-ab' },
        { machine: 'board revision C', preferred: 'clinker-c', fits: ['machine', 'preferred'] },
      ],
    });
  });

  it('wants a companion from the release on from which the profile wants it, be a build there or not', async () => {
    rmSync(join(folder, 'CONES.TAB'));
    expect(await failing('2.6')).toEqual(['release/companions']);
    expect(await failing('2.3')).toEqual([]);
    rmSync(join(folder, 'builds', 'CLK-C.HEX'));
    expect(await failing('2.6')).toEqual(['release/builds-there', 'release/companions']);
    writeFileSync(join(folder, 'CONES.TAB'), Buffer.alloc(4095, 7));
    hex('builds/CLK-C.HEX', program('CLINKER/C'));
    expect(await failing('2.6')).toEqual(['release/companions']);
    writeFileSync(join(folder, 'CONES.TAB'), Buffer.alloc(4096, 7));
    expect(await failing('2.6')).toEqual([]);
  });

  it('finds a marker beside its place, a file that breaks off and addresses in the boot loader', async () => {
    const good = readFileSync(join(folder, 'builds', 'CLK-C.HEX'));
    const late = program('CLINKER/C');
    late.fill(0xa5, 0x200, 0x220).write('CLINKER/C\0', 0x204, 'latin1');
    hex('builds/CLK-C.HEX', late);
    expect(await failing('2.6')).toEqual(['release/build-marker']);
    // Without its last record, which says that the file ends.
    writeFileSync(join(folder, 'builds', 'CLK-C.HEX'), good.subarray(0, good.lastIndexOf(':')));
    expect(await failing('2.6')).toEqual(['release/build-form']);
    hex('builds/CLK-C.HEX', program('CLINKER/C', 0x8000), 0x8000);
    expect(await failing('2.6')).toEqual(['release/build-place']);
  });
});
