import { execFileSync, spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { copyFileSync, mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { IdentityReport } from '../../src/report/identity.js';

const root = join(import.meta.dirname, '..', '..');
const release = 'samples/releases/tansy-31';
const build = join(root, release, 'builds', 'TANSY-065N.LKF');

function run(...args: string[]): { code: number | null; out: string; err: string } {
  const { status, stdout, stderr } = spawnSync(process.execPath, ['dist/flashworthy.js', ...args], {
    cwd: root,
    encoding: 'utf8',
    env: { ...process.env, NO_COLOR: '', FORCE_COLOR: '' },
  });
  return { code: status, out: stdout, err: stderr };
}

const validate = new Ajv2020({ allErrors: true, allowUnionTypes: true }).compile(
  JSON.parse(readFileSync(join(root, 'src/report/schema/identity.schema.json'), 'utf8')),
);

/** What a file is, as JSON that was held against the published schema. */
function identified(path: string, ...args: string[]): { code: number | null; report: IdentityReport } {
  const { code, out, err } = run('identify', path, ...args, '--format', 'json');
  expect(err).toBe('');
  const report = JSON.parse(out) as IdentityReport;
  validate(report);
  expect(validate.errors).toBeNull();
  return { code, report };
}

let work: string;
const at = (name: string): string => join(work, name);
function written(name: string, content: string | Uint8Array): string {
  writeFileSync(at(name), content);
  return at(name);
}
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-identify-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

describe('identify', () => {
  it('knows a published build by its bytes, whatever it is called', () => {
    for (const name of ['TANSY.LKF', 'start.hex', 'page.html']) {
      copyFileSync(build, at(name));
      const { code, report } = identified(at(name), '--board', release);
      expect(code).toBe(0);
      expect(report).toMatchObject({
        verdict: 'known',
        build: { id: 'limited-newer', machines: expect.stringContaining('the newer boot loader') },
        release: '31',
        releaseFile: { path: 'builds/TANSY-065N.LKF', role: 'build' },
        nearMiss: null,
        markers: { builds: [{ id: 'limited-newer' }], siblings: [] },
        memory: { start: 0x08010000, end: 0x08014000, bytes: 16384, by: 'profile' },
      });
      expect(report.file.sha256).toBe(createHash('sha256').update(readFileSync(build)).digest('hex'));
      // Both are shown when content and name differ.
      expect(report.encoding).toMatchObject({ id: 'raw', nameDiffers: name === 'start.hex' });
    }
    expect(run('identify', at('start.hex'), '--board', release).out.replace(/\s+/g, ' ')).toContain(
      'The name promises Intel HEX; the content counts.',
    );
  });

  it('tells the same program in other forms by its place in the memory', () => {
    const forms: [string, string[], string][] = [
      ['hex', ['-Intel'], 'intel-hex'],
      ['srec', ['-Motorola'], 's-record'],
    ];
    for (const [name, form, encoding] of forms) {
      execFileSync('srec_cat', [build, '-Binary', '-offset', '0x08010000', '-o', at(name), ...form]);
      const { code, report } = identified(at(name), '--board', release);
      expect(code).toBe(2);
      expect(report).toMatchObject({
        verdict: 'unknown',
        encoding: { id: encoding, confidence: 'certain', whole: true },
        memory: { start: 0x08010000, end: 0x08014000, bytes: 16384, by: 'file' },
        vectors: { at: 0x08010000, initialStack: 0x20020000 },
        markers: { builds: [{ id: 'limited-newer' }] },
      });
      expect(report.vectors?.resetVector).toBe(readFileSync(build).readUInt32LE(4));
      expect(report.notes.join(' ')).toContain('A marker proves nothing.');
    }
  });

  it('names the published build that a damaged or cut file was meant to be', () => {
    const bytes = readFileSync(build);
    const damaged = Buffer.from(bytes);
    damaged[700] = 0x55;
    expect(identified(written('TANSY.LKF', damaged), '--board', release)).toMatchObject({
      code: 2,
      report: {
        verdict: 'unknown',
        nearMiss: expect.stringMatching(/TANSY-065N\.LKF, damaged.* offset 700$/),
      },
    });
    const cut = identified(written('TANSY.LKF', bytes.subarray(0, 9000)), '--board', release);
    expect(cut.report.nearMiss).toContain('cut short: it ends at offset 9000');
    // Without addresses in the file only one of the two places fits its vectors.
    expect(cut.report.memory).toMatchObject({ start: 0x08010000, by: 'vectors' });
  });

  it('says what it cannot say without a release', () => {
    const { code, report } = identified(build);
    expect(code).toBe(2);
    expect(report).toMatchObject({
      verdict: 'unknown',
      board: null,
      build: null,
      memory: null,
      markers: null,
    });
    expect(report.vectors).toMatchObject({ at: null, initialStack: 0x20020000 });
    expect(report.next?.text).toContain('--board');
    const profileOnly = identified(build, '--board', 'samples/boards/tansy.yaml');
    expect(profileOnly).toMatchObject({ code: 2, report: { verdict: 'unknown', build: null } });
    expect(profileOnly.report.notes.join(' ')).toContain('it seems to be limited-newer');
  });

  it('warns that a CRC-32 tells nothing about a file that ends with its own', () => {
    expect(identified(build).report.notes.join(' ')).toContain('compare the SHA-256');
    const more = written('more.bin', Buffer.concat([readFileSync(build), Buffer.from([1])]));
    expect(identified(more).report.notes.join(' ')).not.toContain('compare the SHA-256');
  });

  it('names what is no firmware, and what to do with it', () => {
    const elf = readFileSync(process.execPath).subarray(0, 64);
    execFileSync('zip', ['-q', at('a.zip'), '-j', build]);
    const others: [string, string, string | null][] = [
      [at('a.zip'), 'zip', 'Unpack it'],
      [
        written('b.bin', '<!DOCTYPE html><html><body>Not found</body></html>'),
        'web-page',
        'not the page about it',
      ],
      [
        written('c.bin', 'version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 16384\n'),
        'lfs-pointer',
        'not the page about it',
      ],
      [written('d.bin', new Uint8Array(4096).fill(0xff)), 'all-ones', 'Download it again'],
      [written('e.bin', new Uint8Array(0)), 'empty', 'Download it again'],
      [
        written('f.bin', Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, ...elf)),
        'picture',
        null,
      ],
    ];
    for (const [path, code, next] of others) {
      const found = identified(path, '--board', release);
      expect(found).toMatchObject({
        code: 1,
        report: { verdict: 'not-firmware', looksLike: { code }, encoding: null, memory: null },
      });
      if (next === null) expect(found.report.next).toBeNull();
      else expect(found.report.next?.text).toContain(next);
    }
  });

  it('knows the other files of a release, which are no firmware', () => {
    const { code, report } = identified(join(release, 'LARKGO.TXT'), '--board', release);
    expect(code).toBe(1);
    expect(report).toMatchObject({
      releaseFile: { path: 'LARKGO.TXT', role: 'companion' },
      build: null,
      next: null,
    });
  });

  it('sends an image of a card to check, and check sends firmware here', () => {
    const card = at('card.img');
    writeFileSync(card, '');
    truncateSync(card, 4 * 1024 * 1024);
    execFileSync('mkfs.fat', ['-F', '16', '-s', '1', card], { stdio: 'ignore' });
    expect(identified(card)).toMatchObject({
      code: 1,
      report: { looksLike: { code: 'card-image' }, next: { command: `flashworthy check ${card}` } },
    });
    const packed = written('card.img.gz', gzipSync(readFileSync(card)));
    expect(identified(packed).report.next?.command).toBe(`flashworthy check ${packed}`);
    expect(run('check', build).err).toContain(`flashworthy identify ${build}`);
  });

  it('reads no more than the head of what is too large to be firmware', () => {
    const huge = written('huge.bin', readFileSync(build));
    truncateSync(huge, 300 * 1024 * 1024);
    const { code, report } = identified(huge, '--board', release);
    expect(code).toBe(1);
    expect(report.file).toEqual({ path: huge, bytes: 300 * 1024 * 1024, crc32: null, sha256: null });
    expect(report.text).toContain('larger than 256 MiB');
  });

  it('fits into 80 columns, and no name reaches the terminal as it is', () => {
    const path = written('tansy\u001b[31m\u202e.bin', readFileSync(build));
    const { out } = run('identify', path, '--board', release);
    expect(out).not.toMatch(/[\u001b\u202e]/);
    for (const line of out.split('\n').filter((one) => !one.includes(work)))
      expect(line.length).toBeLessThan(81);
  });

  it('ends with 64 and 66 as every command does', () => {
    expect(run('identify').code).toBe(64);
    expect(run('identify', at('nothing')).code).toBe(66);
    expect(run('identify', work)).toMatchObject({ code: 64, err: expect.stringContaining('is a folder') });
    expect(run('identify', build, '--output', build, '--force').code).toBe(64);
    expect(run('identify', build, '--board', at('nothing.yaml')).code).toBe(66);
  });
});
