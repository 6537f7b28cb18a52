import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import crc32 from 'crc-32';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Manifest, readManifest } from '../../src/board/manifest.js';
import type { Build, Profile } from '../../src/board/profile.js';
import { readProfile } from '../../src/board/read.js';
import { buildRelease, sampleRelease } from '../../src/build/releases.js';

const root = join(import.meta.dirname, '..', '..');
const release = join(root, sampleRelease.folder);
const filesOf = (folder: string): string[] =>
  readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name).slice(folder.length + 1))
    .sort();
const bytesOf = (path: string, folder = release): Buffer => readFileSync(join(folder, path));

let profile: Profile;
let manifest: Manifest;
let builds: Build[];
let again: string;
beforeAll(async () => {
  ({ profile } = readProfile(bytesOf('board.yaml').toString(), 'board.yaml'));
  manifest = readManifest(bytesOf('manifest.json').toString(), 'manifest.json', profile);
  builds = profile.builds as Build[];
  again = mkdtempSync(join(tmpdir(), 'flashworthy-release-'));
  await buildRelease(root, again);
});
afterAll(() => rmSync(again, { recursive: true, force: true }));

describe('the sample release', () => {
  it('has the profile of the board, and a manifest of every file but itself', () => {
    expect(bytesOf('board.yaml')).toEqual(readFileSync(join(root, 'samples', 'boards', 'tansy.yaml')));
    expect(manifest.release).toBe('31');
    expect(manifest.board).toEqual({ id: 'tansy', revision: profile.revision });
    const paths = manifest.files.map(({ path }) => path);
    expect([...paths, 'manifest.json'].sort()).toEqual(filesOf(release));
    expect(paths).toEqual([...paths].sort());
    for (const { path, bytes, crc32: written, sha256 } of manifest.files) {
      const content = bytesOf(path);
      expect(bytes).toBe(content.length);
      expect(sha256).toBe(createHash('sha256').update(content).digest('hex'));
      expect(written).toBe((crc32.buf(content) >>> 0).toString(16).padStart(8, '0'));
    }
  });

  it('has one file for each build, and every companion that the board needs', () => {
    const listed = manifest.files.filter(({ role }) => role === 'build');
    expect(listed.map(({ build, path }) => [build, path]).sort()).toEqual(
      builds.map(({ id, files }) => [id, files[0]]).sort(),
    );
    const companions = manifest.files.filter(({ role }) => role === 'companion').map(({ path }) => path);
    expect(companions).toEqual((profile.companions as { path: string }[]).map(({ path }) => path));
  });

  it('has programs of their own for each loader, with marker, release and checksum', () => {
    // ST RM0090: SRAM of 112 + 16 KiB from 0x20000000; the loaders end where the profile says.
    const starts = { older: 0x0800c000, newer: 0x08010000 };
    for (const { files, for: condition, marker } of builds) {
      const file = bytesOf(files[0]!);
      const start = starts[condition?.loader as keyof typeof starts];
      expect(file.readUInt32LE(0)).toBe(0x20020000);
      const reset = file.readUInt32LE(4);
      expect(reset % 2).toBe(1);
      expect(reset).toBeGreaterThan(start);
      expect(reset).toBeLessThan(start + 2048);
      expect(file.includes(`${marker?.text}\0`)).toBe(true);
      expect(file.includes(`LK_RELEASE:${manifest.release}\0`)).toBe(true);
      // CRC catalogue, CRC-32/ISO-HDLC: residue debb20e3, which the final exclusive-or makes 2144df1c.
      expect(crc32.buf(file) >>> 0).toBe(0x2144df1c);
      expect(file.length).toBeGreaterThanOrEqual(16 * 1024);
      expect(file.length).toBeLessThanOrEqual(40 * 1024);
    }
  });

  it('comes out again byte for byte; with another compiler, of the same form', () => {
    expect(filesOf(again)).toEqual(filesOf(release));
    const version = execFileSync('arm-none-eabi-gcc', ['-dumpfullversion'], { encoding: 'utf8' }).trim();
    const isSame = version === '12.2.1';
    for (const path of filesOf(release)) {
      const isMade = path.startsWith('builds/') || path === 'manifest.json';
      if (isSame || !isMade) expect(bytesOf(path, again), path).toEqual(bytesOf(path));
    }
    const rebuilt = readManifest(bytesOf('manifest.json', again).toString(), 'manifest.json', profile);
    const shape = ({ files }: Manifest): unknown => files.map(({ path, role, build }) => [path, role, build]);
    expect(shape(rebuilt)).toEqual(shape(manifest));
  });
});
