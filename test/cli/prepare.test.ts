import { createHash } from 'node:crypto';
import {
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { PreparationReport } from '../../src/report/preparation.js';
import { runCommand } from '../support/run-command.js';

const root = join(import.meta.dirname, '..', '..');
const release = join(root, 'samples/releases/tansy-31');
const schemaOf = (name: string): object =>
  JSON.parse(readFileSync(join(root, `src/report/schema/${name}.schema.json`), 'utf8')) as object;
const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true });
const validate = ajv.compile(schemaOf('preparation'));
const validateCheck = ajv.compile(schemaOf('report'));
const small = ['--supply', '24V/6.5A', '--installed', '31'];

let work: string;
let count = 0;
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-prepare-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));
const place = (name = `card-${count++}.img`): string => join(work, name);

async function prepared(...argv: string[]): Promise<{ code: number; report: PreparationReport }> {
  const { code, out, notes } = await runCommand('prepare', ...argv, '--format', 'json');
  expect(notes).toEqual([]);
  const report = JSON.parse(out) as PreparationReport;
  validate(report);
  expect(validate.errors).toBeNull();
  if (report.check !== null) {
    validateCheck(report.check);
    expect(validateCheck.errors).toBeNull();
  }
  return { code, report };
}

describe('prepare', () => {
  it('writes a card for each Tansy, which the check finds fit', async () => {
    for (const [supply, installed, build] of [
      ['24V/6.5A', '31', 'limited-newer'],
      ['24V/6.5A', '23', 'limited-older'],
      ['24V/15A', '31', 'full-newer'],
      ['24V/15A', '23', 'full-older'],
    ] as const) {
      const image = place();
      const about = ['--supply', supply, '--installed', installed];
      const { code, report } = await prepared(release, '--to', image, ...about);
      expect(code).toBe(0);
      expect(report).toMatchObject({ outcome: 'written', written: true, build, check: { verdict: 'fit' } });
      expect(report.files.map(({ to }) => to)).toEqual(['TANSY.LKF', 'LARKGO.TXT']);
      const check = await runCommand('check', image, '--board', release, ...about);
      expect(check.code).toBe(0);
    }
  });

  it('gives the same image for the same files, and takes no more room than they do', async () => {
    const images = [place(), place()];
    for (const image of images) await prepared(release, '--to', image, ...small);
    const [one, other] = images.map((image) =>
      createHash('sha256').update(readFileSync(image)).digest('hex'),
    );
    expect(one).toBe(other);
    const { size, blocks } = statSync(images[0] as string);
    expect(size).toBeGreaterThan(256 * 2 ** 20);
    expect(blocks * 512).toBeLessThan(2 ** 20);
  });

  it('takes a size and a label', async () => {
    const image = place();
    const { report } = await prepared(release, '--to', image, ...small, '--size', '1GiB', '--label', 'tansy');
    expect(report.card).toMatchObject({ bytes: 2 ** 30, label: 'TANSY', fileSystem: 'FAT32' });
    for (const [option, value] of [
      ['--size', '0'],
      ['--size', 'large'],
      ['--label', 'twelve-chars'],
      ['--label', 'a*b'],
    ] as const) {
      const target = place();
      expect((await runCommand('prepare', release, '--to', target, ...small, option, value)).code).toBe(64);
      expect(existsSync(target)).toBe(false);
    }
    expect((await prepared(release, '--to', place(), ...small, '--size', '1MiB')).report.outcome).toBe(
      'refused',
    );
  });

  it('writes nothing while a question is open, for no machine, and from a release that was changed', async () => {
    const open = place();
    expect(await prepared(release, '--to', open, '--supply', '24V/6.5A')).toMatchObject({
      code: 2,
      report: { written: false, questions: [{ axis: 'installed' }] },
    });
    const none = place();
    expect(await prepared(release, '--to', none, '--supply', '12V/6.5A', '--installed', '31')).toMatchObject({
      code: 1,
      report: { written: false, outcome: 'refused' },
    });
    const changed = join(work, 'changed');
    cpSync(release, changed, { recursive: true });
    const build = join(changed, 'builds/TANSY-065N.LKF');
    const bytes = readFileSync(build);
    bytes[5000] = (bytes[5000] ?? 0) ^ 1;
    writeFileSync(build, bytes);
    const third = place();
    expect(await prepared(changed, '--to', third, ...small)).toMatchObject({
      code: 1,
      report: { written: false },
    });
    for (const image of [open, none, third]) expect(existsSync(image)).toBe(false);
  });

  it('never writes over a file, a device or what it reads', async () => {
    const image = place();
    writeFileSync(image, 'mine');
    expect((await runCommand('prepare', release, '--to', image, ...small)).code).toBe(74);
    expect(readFileSync(image, 'utf8')).toBe('mine');
    expect((await runCommand('prepare', release, '--to', image, ...small, '--force')).code).toBe(0);
    for (const to of ['/dev/null', '/dev/loop0']) {
      const { code, notes } = await runCommand('prepare', release, '--to', to, ...small, '--force');
      expect(code).toBe(64);
      expect(notes.join()).toMatch(/device|neither/);
    }
    const inside = join(work, 'own');
    cpSync(release, inside, { recursive: true });
    const board = readFileSync(join(inside, 'board.yaml'));
    expect(
      (await runCommand('prepare', inside, '--to', join(inside, 'board.yaml'), ...small, '--force')).code,
    ).toBe(64);
    expect(readFileSync(join(inside, 'board.yaml'))).toEqual(board);
  });

  it('copies into an empty folder, the update file first, and says that no card was seen', async () => {
    const folder = place('empty');
    mkdirSync(folder);
    const { code, report } = await prepared(release, '--to', folder, ...small);
    expect(code).toBe(0);
    expect(report.check).toMatchObject({ verdict: 'fit', target: { kind: 'staging' } });
    expect(readdirSync(folder).sort()).toEqual(['LARKGO.TXT', 'TANSY.LKF']);
    expect(readFileSync(join(folder, 'TANSY.LKF'))).toEqual(
      readFileSync(join(release, 'builds/TANSY-065N.LKF')),
    );
  });

  it('says what is in the way in a folder, and deletes nothing', async () => {
    const folder = place('full');
    mkdirSync(folder);
    writeFileSync(join(folder, 'HOLIDAY.JPG'), 'picture');
    const { code, report } = await prepared(release, '--to', folder, ...small, '--force');
    expect(code).toBe(1);
    expect(report.text).toContain('HOLIDAY.JPG');
    expect(readdirSync(folder)).toEqual(['HOLIDAY.JPG']);
    // What computers put on every card is in nobody's way.
    rmSync(join(folder, 'HOLIDAY.JPG'));
    mkdirSync(join(folder, 'System Volume Information'));
    expect((await prepared(release, '--to', folder, ...small)).code).toBe(0);
  });

  it('takes the program of a board that accepts every build, and the file that it wants beside it', async () => {
    const burr = join(root, 'samples/boards/burr.yaml');
    const program = place('MILL.UF2');
    const { execFileSync } = await import('node:child_process');
    const plain = place('plain.bin');
    writeFileSync(plain, Buffer.alloc(30_000, 0x5a));
    execFileSync(process.execPath, [
      join(root, 'test/support/make-uf2.mjs'),
      plain,
      program,
      '10000',
      'C47E5767',
    ]);
    const start = place('START.LKT');
    writeFileSync(start, 'go\n');
    const about = ['--set', 'panel=none', '--file', program];
    const lacking = await prepared(burr, '--to', place(), ...about);
    expect(lacking).toMatchObject({ code: 2, report: { written: false } });
    expect(lacking.report.text).toContain('START.LKT');
    const image = place();
    const { code, report } = await prepared(burr, '--to', image, ...about, '--add', start);
    expect({ code, text: report.text }).toMatchObject({ code: 0 });
    expect(report.files.map(({ to }) => to)).toEqual(['BURR/MILL.UF2', 'BURR/START.LKT']);
    expect(report.card).toMatchObject({ fileSystem: 'FAT16' });
  });

  it('reads like a page: within 80 columns, with the warning beside the steps that erase', async () => {
    const { out } = await runCommand('prepare', release, '--to', place(), ...small);
    expect(out).toContain('THIS ERASES THE CARD.');
    expect(out).toContain('FIT TO FLASH');
    const long = out.split('\n').filter((line) => line.length > 80 && !line.startsWith('    '));
    expect(long).toEqual([]);
  });
});
