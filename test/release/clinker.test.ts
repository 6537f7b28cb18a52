import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { clinkerProgram, clinkerRelease, writeHex } from '../support/clinker-release.js';
import { runRelease } from '../support/run-release.js';

let work: string;
let folder: string;
const hex = (path: string, bytes: Buffer, start?: number): void => writeHex(join(folder, path), bytes, start);
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-kiln-'));
  folder = join(work, 'release');
  clinkerRelease(folder);
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
    hex('builds/CLK-C.HEX', clinkerProgram('CLINKER/C'));
    expect(await failing('2.6')).toEqual(['release/companions']);
    writeFileSync(join(folder, 'CONES.TAB'), Buffer.alloc(4096, 7));
    expect(await failing('2.6')).toEqual([]);
  });

  it('finds a marker beside its place, a file that breaks off and addresses in the boot loader', async () => {
    const good = readFileSync(join(folder, 'builds', 'CLK-C.HEX'));
    const late = clinkerProgram('CLINKER/C');
    late.fill(0xa5, 0x200, 0x220).write('CLINKER/C\0', 0x204, 'latin1');
    hex('builds/CLK-C.HEX', late);
    expect(await failing('2.6')).toEqual(['release/build-marker']);
    // Without its last record, which says that the file ends.
    writeFileSync(join(folder, 'builds', 'CLK-C.HEX'), good.subarray(0, good.lastIndexOf(':')));
    expect(await failing('2.6')).toEqual(['release/build-form']);
    hex('builds/CLK-C.HEX', clinkerProgram('CLINKER/C', 0x8000), 0x8000);
    expect(await failing('2.6')).toEqual(['release/build-place']);
  });
});
