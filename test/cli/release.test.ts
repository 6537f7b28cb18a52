import { execFileSync, spawnSync } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readManifest } from '../../src/board/manifest.js';
import { checksumsText, readChecksums } from '../../src/board/seal.js';
import { runRelease } from '../support/run-release.js';

const root = join(import.meta.dirname, '..', '..');
const sample = join(root, 'samples', 'releases', 'tansy-31');

let work: string;
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-seal-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

/** A copy of the sample release without its manifest. */
function unsealed(name: string): string {
  const folder = join(work, name);
  cpSync(sample, folder, { recursive: true });
  rmSync(join(folder, 'manifest.json'));
  return folder;
}
const textOf = (folder: string, name: string): string => readFileSync(join(folder, name), 'utf8');

describe('a pipeline', () => {
  it('seals a release, checks it from outside, and stops at a mistake', () => {
    const folder = unsealed('pipeline');
    // What a maintainer's script does, with the tools of the system beside it.
    const script = `set -eu
      flashworthy() { "$NODE" "$ROOT/dist/flashworthy.js" "$@"; }
      flashworthy release "$FOLDER" --seal --release 31 > "$WORK/sealed.txt"
      (cd "$FOLDER" && sha256sum --check --strict --quiet SHA256SUMS && sha256sum -- $(find . -type f ! -name SHA256SUMS | LC_ALL=C sort | sed 's,^./,,') | cmp - SHA256SUMS)
      flashworthy release "$FOLDER" --format json > "$WORK/report.json"
      flashworthy choose "$FOLDER" --supply 24V/6.5A --installed 31 > "$WORK/choice.txt"
      cp "$FOLDER/builds/TANSY-150N.LKF" "$FOLDER/builds/TANSY-150O.LKF"
      if flashworthy release "$FOLDER" > "$WORK/broken.txt"; then exit 99; else exit $?; fi`;
    const { status, stderr } = spawnSync('bash', ['-c', script], {
      encoding: 'utf8',
      env: { ...process.env, NODE: process.execPath, ROOT: root, FOLDER: folder, WORK: work, NO_COLOR: '1' },
    });
    expect({ status, stderr }).toEqual({
      status: 1,
      stderr: `flashworthy: ${folder}/manifest.json and ${folder}/SHA256SUMS written for release 31\n`,
    });
    expect(textOf(work, 'sealed.txt')).toMatch(/^COMPLETE: /);
    expect(textOf(work, 'choice.txt')).toContain('limited-newer');
    const broken = textOf(work, 'broken.txt');
    expect(broken).toMatch(/^NOT COMPLETE: do not publish this release\./);
    expect(broken).toContain('TANSY-150N.LKF and builds/TANSY-150O.LKF hold the same');
    for (const line of broken.split('\n')) expect(line.length).toBeLessThanOrEqual(80);

    const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true });
    const validate = ajv.compile(JSON.parse(textOf(root, 'src/report/schema/report.schema.json')));
    const report = JSON.parse(textOf(work, 'report.json'));
    validate(report);
    expect(validate.errors).toBeNull();
    expect(report).toMatchObject({ verdict: 'fit', target: { kind: 'release' }, hazard: null });
  });
});

describe('sealing', () => {
  it('writes what the published sample has, and the same again whatever the order of the folder', async () => {
    const one = unsealed('one');
    expect(await runRelease(one, { seal: true, release: '31' })).toMatchObject({ code: 0 });
    expect(textOf(one, 'manifest.json')).toBe(textOf(sample, 'manifest.json'));
    // Copied name by name from the last to the first, a file system may well list them in another order.
    const other = join(work, 'other');
    mkdirSync(join(other, 'builds'), { recursive: true });
    const names = readdirSync(one, { recursive: true, encoding: 'utf8', withFileTypes: true })
      .filter((entry) => entry.isFile())
      .map((entry) => join(entry.parentPath, entry.name).slice(one.length + 1))
      .filter((name) => name !== 'manifest.json' && name !== 'SHA256SUMS')
      .sort()
      .reverse();
    for (const name of names) cpSync(join(one, name), join(other, name));
    const again = spawnSync(
      process.execPath,
      [join(root, 'dist', 'flashworthy.js'), 'release', other, '--seal', '--release', '31'],
      {
        encoding: 'utf8',
        env: { ...process.env, LC_ALL: 'tr_TR.UTF-8', LANG: 'tr_TR.UTF-8', TZ: 'Asia/Kolkata' },
      },
    );
    expect(again.status).toBe(0);
    for (const name of ['manifest.json', 'SHA256SUMS']) expect(textOf(other, name)).toBe(textOf(one, name));
  });

  it('leaves an equal manifest alone, and overwrites another one with --force only', async () => {
    const folder = unsealed('force');
    await runRelease(folder, { seal: true, release: '31' });
    const before = textOf(folder, 'manifest.json');
    expect(await runRelease(folder, { seal: true })).toMatchObject({
      code: 0,
      notes: expect.stringContaining('nothing had to be written'),
    });
    writeFileSync(join(folder, 'NOTES.txt'), 'Another note.\n');
    expect(await runRelease(folder, { seal: true })).toMatchObject({
      code: 74,
      report: null,
      notes: expect.stringContaining('--force'),
    });
    expect(textOf(folder, 'manifest.json')).toBe(before);
    expect(await runRelease(folder, { seal: true, force: true })).toMatchObject({ code: 0, failed: [] });
    expect(readManifest(textOf(folder, 'manifest.json'), 'manifest.json').release).toBe('31');
    execFileSync('sha256sum', ['--check', '--strict', '--quiet', 'SHA256SUMS'], { cwd: folder });
    expect(readdirSync(folder).filter((name) => name.endsWith('.tmp'))).toEqual([]);
  });

  it('asks for the number of the release when there is none yet, or only a broken manifest', async () => {
    const folder = unsealed('number');
    expect(await runRelease(folder, { seal: true })).toMatchObject({
      code: 64,
      notes: expect.stringContaining('--release'),
    });
    writeFileSync(join(folder, 'manifest.json'), '{');
    expect(await runRelease(folder, { seal: true })).toMatchObject({
      code: 64,
      notes: expect.stringContaining('manifest.json:1:'),
    });
    expect(await runRelease(folder, { seal: true, release: '31', force: true })).toMatchObject({ code: 0 });
  });

  it('refuses names that no list of checksums or manifest can hold', async () => {
    for (const name of ['a\nb.txt', 'a\\b.txt', 'a:b.txt']) {
      const folder = unsealed(`name-${Buffer.from(name).toString('hex')}`);
      writeFileSync(join(folder, name), 'x');
      const { code, failed } = await runRelease(folder, { seal: true, release: '31' });
      expect({ name, code, failed }).toEqual({ name, code: 1, failed: ['release/names'] });
      expect(readdirSync(folder)).not.toContain('manifest.json');
    }
  });

  it('prints hostile names so that no terminal obeys them', async () => {
    const folder = unsealed('hostile');
    writeFileSync(join(folder, '\u001b[2Jx\u202e.lkf'), 'x');
    const { code, notes } = await runRelease(folder, { format: 'text' });
    expect(code).toBe(1);
    expect(notes).toContain('<U+001B>[2Jx<U+202E>.lkf');
    expect(notes).not.toMatch(/[\u001b\u202e]/);
  });

  it('writes no report into the folder that it checks', async () => {
    expect(await runRelease(unsealed('report'), { output: join(work, 'report', 'r.json') })).toMatchObject({
      code: 64,
    });
  });
});

describe('what is not a release folder', () => {
  it('is told apart', async () => {
    expect(await runRelease(join(work, 'nothing'))).toMatchObject({ code: 66 });
    expect(await runRelease(work)).toMatchObject({ code: 66, notes: expect.stringContaining('board.yaml') });
    expect(await runRelease(join(sample, 'NOTES.txt'))).toMatchObject({ code: 64 });
  });
});

describe('a list of checksums', () => {
  it('is read as sha256sum writes it, in either of its forms', () => {
    writeFileSync(join(work, 'with blank.txt'), 'x');
    for (const mode of ['--text', '--binary']) {
      const text = execFileSync('sha256sum', [mode, 'with blank.txt'], { cwd: work, encoding: 'utf8' });
      // FIPS 180-4 by openssl.
      const sha256 = execFileSync('openssl', ['dgst', '-sha256', '-r', 'with blank.txt'], {
        cwd: work,
        encoding: 'utf8',
      }).slice(0, 64);
      expect(readChecksums(text)).toEqual([{ line: 1, entry: { path: 'with blank.txt', sha256 } }]);
      if (mode === '--text') expect(checksumsText([{ path: 'with blank.txt', sha256 }])).toBe(text);
    }
    expect(readChecksums('\r\n# a remark\r\n')).toEqual([{ line: 2, entry: null }]);
  });
});
