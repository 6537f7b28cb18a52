import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { nearMiss, readManifest } from '../../src/board/manifest.js';
import { releaseCandidates } from '../../src/node/release-files.js';

const release = join(import.meta.dirname, '../../samples/releases/tansy-31');
const manifest = readManifest(readFileSync(join(release, 'manifest.json'), 'utf8'), 'manifest.json');

describe('the builds of a release as files to compare with', () => {
  let folder: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'flashworthy-release-'));
    cpSync(release, folder, { recursive: true });
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  test('are the builds alone, with the bytes of the manifest', () => {
    const found = releaseCandidates(folder, manifest);
    expect(found.map(({ build }) => build)).toEqual([
      'limited-newer',
      'limited-older',
      'full-newer',
      'full-older',
    ]);
    for (const one of found) expect(one.read()?.length).toBe(one.bytes);
  });

  test('one that was changed, cut or removed compares with nothing', () => {
    const [changed, cut, removed, whole] = releaseCandidates(folder, manifest);
    const bytes = readFileSync(join(folder, changed!.path));
    bytes[0]! ^= 1;
    writeFileSync(join(folder, changed!.path), bytes);
    writeFileSync(join(folder, cut!.path), bytes.subarray(0, 100));
    rmSync(join(folder, removed!.path));
    expect([changed, cut, removed].map((one) => one!.read())).toEqual([null, null, null]);
    expect(whole!.read()).not.toBeNull();
  });

  test('a build is no damaged copy of another one, though most of both is filling', () => {
    const all = releaseCandidates(release, manifest);
    const own = all.find(({ build }) => build === 'limited-older')!;
    const others = all.filter(({ build }) => build === 'limited-newer' || build === 'full-newer');
    expect(nearMiss(own.read()!, others)).toBeNull();
    const bytes = Uint8Array.from(own.read()!);
    bytes[600]! ^= 0xff;
    expect(nearMiss(bytes, all)).toMatchObject({ kind: 'changed', at: 600, differing: 1 });
  });
});
