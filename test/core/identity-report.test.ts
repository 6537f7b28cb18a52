import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readManifest } from '../../src/board/manifest.js';
import { readProfile } from '../../src/board/read.js';
import { identityReport } from '../../src/core/identity-report.js';
import { nodeDigests } from '../../src/node/digests.js';
import { identifyText } from '../../src/report/identify-text.js';

const release = join(import.meta.dirname, '../../samples/releases/tansy-31');
const text = (name: string): string => readFileSync(join(release, name), 'utf8');
const { profile } = readProfile(text('board.yaml'), 'board.yaml');
const manifest = readManifest(text('manifest.json'), 'manifest.json', profile);
const candidates = manifest.files
  .filter(({ role }) => role === 'build')
  .map(({ path, bytes, build = '' }) => ({
    path,
    bytes,
    build,
    read: () => new Uint8Array(readFileSync(join(release, path))),
  }));

const identified = (bytes: Uint8Array) =>
  identityReport({
    path: 'FILE.BIN',
    size: bytes.length,
    bytes,
    profile,
    processor: null,
    manifest,
    candidates,
    digests: nodeDigests,
    version: '0',
    inputs: [],
    board: null,
  });

describe('the identity of a file', () => {
  it('is never "known" for other bytes than published ones, and always comes to an end', () => {
    const starts = ['', ':10', 'S1', 'UF2\n', '\u007fELF', 'DfuSe', '\u00e9', '\u001f\u008b\u0008'].map(
      (start) => Buffer.from(start, 'latin1'),
    );
    fc.assert(
      fc.property(fc.constantFrom(...starts), fc.uint8Array({ maxLength: 1500 }), (start, rest) => {
        const report = identified(new Uint8Array(Buffer.concat([start, rest])));
        expect(report.verdict).not.toBe('known');
        expect(identifyText(report, { width: 80, color: false })).toMatch(/^(UNKNOWN|NOT FIRMWARE)/);
      }),
      { numRuns: 200 },
    );
  });

  it('is the build of the manifest for every published one, and of no other after one byte has changed', () => {
    for (const { path, build, read } of candidates) {
      const bytes = read();
      expect(identified(bytes)).toMatchObject({ verdict: 'known', build: { id: build }, release: '31' });
      for (const at of [0, 64, 1000, bytes.length - 1]) {
        const changed = Uint8Array.from(bytes);
        changed[at]! ^= 1;
        const report = identified(changed);
        expect(report.verdict).toBe('unknown');
        if (at >= 64) expect(report.nearMiss).toContain(`${path}, damaged`);
      }
    }
  });
});
