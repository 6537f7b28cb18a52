import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { parseDocument } from 'yaml';
import {
  type Candidate,
  identify,
  type Manifest,
  ManifestError,
  nearMiss,
  nearMissText,
  readManifest,
} from '../../src/board/manifest.js';
import { manifestSchema, validateManifest } from '../../src/board/schema/validators.js';
import { shapeProblems } from '../../src/board/validate.js';
import { limits } from '../../src/bytes/limits.js';
import { sample } from './profiles.js';

const sha = 'ab'.repeat(32);
const file = (path: string, changes: object = {}): object => ({
  path,
  role: 'build',
  build: 'full-newer',
  bytes: 1024,
  crc32: '0badcafe',
  sha256: sha,
  ...changes,
});
const manifestOf = (files: object[], changes: object = {}): object => ({
  schema: 'flashworthy-manifest/1',
  board: { id: 'tansy', revision: 7 },
  release: '31',
  files,
  ...changes,
});
const read = (value: unknown): Manifest => readManifest(JSON.stringify(value), 'manifest.json');

/** What is wrong with a manifest, as an editor shows it; throws when nothing is. */
function linesOf(text: string): string[] {
  try {
    readManifest(text, 'manifest.json', sample('tansy'));
  } catch (error) {
    if (error instanceof ManifestError)
      return error.problems.map((one) => `${one.line}:${one.column}: ${one.message}`);
    throw error;
  }
  throw new Error('the manifest is accepted');
}

describe('reading', () => {
  test.each([
    ['one line', undefined],
    ['spaces', 2],
    ['tabs', '\t'],
  ])('%s', (_, indent) => {
    const value = manifestOf([
      file('builds/A.LKF'),
      file('LARKGO.TXT', { role: 'companion', build: undefined }),
    ]);
    const json = JSON.stringify(value, null, indent);
    expect(readManifest(json, 'm', sample('tansy'))).toEqual(JSON.parse(json));
    expect(readManifest(`\uFEFF${json.replaceAll('\n', '\r\n')}\r\n`, 'm')).toEqual(JSON.parse(json));
  });

  test('every problem with its place', () => {
    const text = `{
  "schema": "flashworthy-manifest/1",
  "board": { "id": "tansy", "revision": "7" },
  "release": 31,
  "files": [
    { "path": "A", "role": "image", "bytes": -1, "crc32": "0BADCAFE", "sha256": "00" },
    { "path": "B", "rolle": "build", "role": "build", "build": "x", "bytes": 1, "crc32": "00000000", "sha256": "${sha}" }
  ]
}
`;
    const lines = linesOf(text);
    expect(lines.map((line) => line.split(' ')[0])).toEqual([
      '3:41:',
      '4:14:',
      '6:28:',
      '6:46:',
      '6:59:',
      '6:81:',
      '7:20:',
    ]);
    expect(lines[1]).toContain('31');
    expect(lines[2]).toContain('expected build, companion, profile or document');
    expect(lines[6]).toContain('did you mean role?');
  });

  test('what no schema can say', () => {
    const text = JSON.stringify(
      manifestOf(
        [
          file('../A'),
          file('B', { build: undefined, sha256: 'cd'.repeat(32) }),
          file('C', { build: 'other' }),
          file('C', { role: 'document', build: undefined }),
          file('manifest.json', { role: 'document', build: undefined }),
        ],
        { board: { id: 'clinker', revision: 1 } },
      ),
      null,
      1,
    );
    const lines = linesOf(text);
    expect(lines.map((line) => line.replace(/^\d+:\d+: /, ''))).toEqual([
      'board.id: this manifest is for the board clinker; the profile is for tansy',
      "files[0].path: '../A' is no path inside the folder",
      'files[1]: build is missing: the id of the build that this file belongs to',
      'files[2].sha256: these bytes stand here as the build full-newer too: nobody could tell the two apart',
      "files[3].path: 'C' stands here twice",
      'files[4].path: the manifest does not describe itself',
    ]);
    for (const line of lines) {
      const [row, column] = line.split(':').map(Number);
      expect(text.split('\n')[row! - 1]!.slice(column! - 1)).not.toBe('');
    }
  });

  test.each([
    ['', /^1:1: /],
    ['[]', /^1:1: expected a release manifest/],
    ['{\n "schema": flashworthy-manifest/1\n}', /^2:12: this is no JSON/],
    ['{\n "release": "31",\n}', /^3:1: this is no JSON/],
    ['{ "a": 1, "a": 2 }', /^1:11: /],
    ['{ "schema": "flashworthy-manifest/2" }', /^1:13: schema: this manifest is flashworthy-manifest\/2/],
    ['[\n'.repeat(100_000), /nests lists or objects too deeply|no JSON|expected/],
    ['x'.repeat(limits.textFileBytes + 1), /larger than/],
  ])('no manifest: %.40j', (text, expected) => {
    expect(linesOf(text)[0]).toMatch(expected);
  });

  test('a map with a key that hides how it becomes a text is refused like any other', () => {
    const text = JSON.stringify(manifestOf([], { schema: { toString: 0 } }));
    expect(linesOf(text)[0]).toMatch(/found a map/);
  });

  test('what is refused is what the published schema refuses', () => {
    const valid = manifestOf([file('A'), file('B', { role: 'document', build: undefined })]);
    const paths = [
      ['schema'],
      ['board'],
      ['board', 'id'],
      ['board', 'revision'],
      ['release'],
      ['files'],
      ['files', 0],
    ];
    const inFile = ['path', 'role', 'build', 'bytes', 'crc32', 'sha256', 'more'].map((key) => [
      'files',
      1,
      key,
    ]);
    const values = fc.oneof(
      fc.constantFrom<unknown>(
        undefined,
        null,
        '',
        'x',
        -1,
        1.5,
        2 ** 60,
        [],
        {},
        true,
        'document',
        'build',
        sha,
      ),
      fc.jsonValue({ maxDepth: 1 }),
    );
    const problemsOf = (value: unknown): number =>
      shapeProblems(value, manifestSchema, { root: manifestSchema, sourceOf: () => undefined }).length;
    expect(problemsOf(JSON.parse(JSON.stringify(valid)))).toBe(0);
    fc.assert(
      fc.property(fc.constantFrom(...paths, ...inFile), values, (path, value) => {
        const document = parseDocument(JSON.stringify(valid));
        if (value === undefined) document.deleteIn(path);
        else document.setIn(path, document.createNode(value));
        const changed: unknown = document.toJS();
        expect(problemsOf(changed) === 0).toBe(validateManifest(changed));
      }),
      { numRuns: 300 },
    );
  });

  test('any text is read or refused, never more', () => {
    const valid = JSON.stringify(manifestOf([file('A')]));
    const cut = fc
      .tuple(fc.nat(valid.length), fc.nat(20), fc.string({ maxLength: 4 }))
      .map(([at, length, text]) => valid.slice(0, at) + text + valid.slice(at + length));
    fc.assert(
      fc.property(fc.oneof(cut, fc.string(), fc.json()), (text) => {
        try {
          expect(readManifest(text, 'm').schema).toBe('flashworthy-manifest/1');
        } catch (error) {
          if (!(error instanceof ManifestError)) throw error;
          expect(error.problems.length).toBeGreaterThan(0);
          for (const one of error.problems) expect(Math.min(one.line, one.column)).toBeGreaterThan(0);
        }
      }),
      { numRuns: 300 },
    );
  });
});

describe('known by its bytes', () => {
  let folder: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'flashworthy-manifest-'));
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  test('the digests are those of sha256sum', () => {
    // Renamed as for the card: only the bytes count.
    const path = join(folder, 'TANSY.LKF');
    const bytes = Uint8Array.from({ length: 5000 }, (_, index) => (index * 7) % 251);
    writeFileSync(path, bytes);
    const sha256 = execFileSync('sha256sum', [path], { encoding: 'utf8' }).slice(0, 64);
    const manifest = read(
      manifestOf([
        file('builds/A.LKF', { bytes: 5000, sha256 }),
        file('NOTES.TXT', { role: 'document', build: undefined, bytes: 5000, sha256 }),
        file('builds/B.LKF', { build: 'full-older', bytes: 5000 }),
      ]),
    );
    expect(identify({ sha256, bytes: 5000 }, manifest)).toEqual({
      state: 'known',
      file: manifest.files[0],
      release: '31',
    });
    expect(identify({ sha256: 'cd'.repeat(32), bytes: 5000 }, manifest)).toEqual({
      state: 'unknown',
      sameSize: [manifest.files[0], manifest.files[2]],
    });
    expect(identify({ sha256, bytes: 4999 }, manifest)).toEqual({ state: 'unknown', sameSize: [] });
  });
});

describe('nearly a published file', () => {
  const noise = (seed: number, length: number): Uint8Array => {
    let state = seed;
    return Uint8Array.from({ length }, () => {
      state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
      return state >>> 24;
    });
  };
  const one = noise(1, 4000);
  const two = noise(2, 4000);
  const candidate = (path: string, bytes: Uint8Array): Candidate => ({
    path,
    bytes: bytes.length,
    read: () => bytes,
  });
  const published = [candidate('one', one), candidate('two', two)];
  const changed = (at: number[]): Uint8Array => {
    const bytes = two.slice();
    for (const index of at) bytes[index]! ^= 0x55;
    return bytes;
  };

  test.each([
    [
      'one byte',
      changed([1234]),
      'changed',
      1234,
      1,
      'is two, damaged: one byte of it differs, the first at offset 1234',
    ],
    [
      'two bytes',
      changed([7, 3999]),
      'changed',
      7,
      2,
      'is two, damaged: 2 bytes of it differ, the first at offset 7',
    ],
    [
      'cut short',
      two.slice(0, 3000),
      'truncated',
      3000,
      1000,
      'is two, cut short: it ends at offset 3000, and 1000 bytes are missing',
    ],
    [
      'something behind it',
      Uint8Array.from([...two, 1]),
      'extended',
      4000,
      1,
      'is two with one byte too many at its end, from offset 4000 on',
    ],
  ])('%s', (_, bytes, kind, at, differing, text) => {
    const miss = nearMiss(bytes, published);
    expect(miss).toMatchObject({ kind, at, differing, candidate: { path: 'two' } });
    expect(nearMissText(miss!)).toBe(text);
  });

  test.each([0x00, 0xff])('a copy that broke off: only 0x%d from there on', (fill) => {
    const bytes = two.slice();
    bytes.fill(fill, 1024);
    const miss = nearMiss(bytes, published);
    expect(miss).toMatchObject({ kind: 'blank-from', candidate: { path: 'two' } });
    expect(miss?.at).toBe(two.findIndex((byte, index) => index >= 1024 && byte !== fill));
  });

  test('another file is near none, however it begins', () => {
    expect(nearMiss(noise(3, 4000), published)).toBeNull();
    expect(nearMiss(noise(3, 500), published)).toBeNull();
    expect(nearMiss(two.slice(0, 40), published)).toBeNull();
    expect(nearMiss(new Uint8Array(0), published)).toBeNull();
    expect(nearMiss(two.slice(0, 3000), [{ ...published[1]!, read: () => null }])).toBeNull();
    const half = two.slice();
    half.set(one.subarray(0, 2000));
    expect(nearMiss(half, [published[1]!])).toBeNull();
  });

  test('of two that are near, the nearer one', () => {
    const twin = changed([5, 6, 7]);
    const bytes = changed([5, 6]);
    expect(nearMiss(bytes, [candidate('two', two), candidate('twin', twin)])).toMatchObject({
      candidate: { path: 'twin' },
      differing: 1,
      at: 7,
    });
  });

  test('no more is read than is allowed', () => {
    let reads = 0;
    const read = (): Uint8Array => {
      reads += 1;
      return one;
    };
    const large: Candidate = { path: 'x', bytes: limits.updateFileBytes, read };
    expect(nearMiss(two, [large, large, { ...large, bytes: 1 }])).toBeNull();
    expect(reads).toBe(1);
    reads = 0;
    nearMiss(
      two,
      Array.from({ length: 500 }, () => ({ ...large, bytes: 1 })),
    );
    expect(reads).toBe(limits.nearMissFiles);
  });

  test('the first byte that differs is the first one', () => {
    fc.assert(
      fc.property(fc.uniqueArray(fc.nat(3999), { minLength: 1, maxLength: 300 }), (at) => {
        const miss = nearMiss(changed(at), published);
        expect(miss).toMatchObject({ kind: 'changed', at: Math.min(...at), differing: at.length });
      }),
      { numRuns: 50 },
    );
  });
});
