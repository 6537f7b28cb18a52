import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readManifest } from '../../src/board/manifest.js';
import { readProfile } from '../../src/board/read.js';
import { type MeasuredFile, roleOf, sealNames, sealOf } from '../../src/core/seal.js';

const root = join(import.meta.dirname, '../..');
const release = join(root, 'samples/releases/tansy-31');
const { profile } = readProfile(readFileSync(join(release, 'board.yaml'), 'utf8'), 'board.yaml');

const sha256 = (bytes: string | Uint8Array): string => createHash('sha256').update(bytes).digest('hex');
const file = (path: string, text = path): MeasuredFile => ({
  path,
  bytes: Buffer.byteLength(text),
  crc32: '00000000',
  sha256: sha256(text),
});

test('the seal of a release does not depend on the order in which its files are found', () => {
  const { files } = readManifest(
    readFileSync(join(release, 'manifest.json'), 'utf8'),
    'manifest.json',
    profile,
  );
  const [manifest, sums] = sealNames.map((name) => readFileSync(join(release, name), 'utf8'));
  fc.assert(
    fc.property(fc.shuffledSubarray([...files], { minLength: files.length }), (found) => {
      const seal = sealOf(profile, '31', [...found, file('manifest.json'), file('SHA256SUMS')]);
      expect([seal.manifest.text, seal.sums.text]).toEqual([manifest, sums]);
    }),
    { numRuns: 50 },
  );
});

test('its manifest is one that is accepted, and every file but the seal stands in it', () => {
  const { files } = readManifest(
    readFileSync(join(release, 'manifest.json'), 'utf8'),
    'manifest.json',
    profile,
  );
  const found = readdirSync(release, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name).slice(release.length + 1))
    .filter((path) => !sealNames.some((name) => name === path));
  expect(files.map(({ path }) => path)).toEqual(found.sort());
});

test('a file is what the profile names it, else a document', () => {
  expect(roleOf(profile, 'board.yaml')).toEqual({ role: 'profile' });
  expect(roleOf(profile, 'builds/TANSY-065O.LKF')).toEqual({ role: 'build', build: 'limited-older' });
  expect(roleOf(profile, 'LARKGO.TXT')).toEqual({ role: 'companion' });
  expect(roleOf(profile, 'TANSY-065O.LKF')).toEqual({ role: 'document' });
  expect(roleOf(profile, 'NOTES.txt')).toEqual({ role: 'document' });
});

// The list is read by `sha256sum --check` of GNU coreutils, names with line feeds and backslashes included.
test('sha256sum accepts the list of sums, and notices a changed file', () => {
  const folder = mkdtempSync(join(tmpdir(), 'flashworthy-seal-'));
  try {
    const names = ['plain.bin', 'two  blanks', 'back\\slash', 'line\nfeed', 'line\rend', '-dash', 'ä'];
    for (const name of names) writeFileSync(join(folder, name), name);
    writeFileSync(
      join(folder, 'SHA256SUMS'),
      sealOf(
        profile,
        '31',
        names.map((name) => file(name)),
      ).sums.text,
    );
    const check = (): string =>
      execFileSync('sha256sum', ['--check', '--strict', 'SHA256SUMS'], {
        cwd: folder,
        encoding: 'utf8',
        stdio: ['ignore', 'pipe', 'ignore'],
      });
    expect(check().match(/: OK$/gm)).toHaveLength(names.length);
    writeFileSync(join(folder, 'plain.bin'), 'other');
    expect(check).toThrow();
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
