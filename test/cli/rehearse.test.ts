import { spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { RehearsalReport } from '../../src/report/rehearsal.js';

const root = join(import.meta.dirname, '..', '..');
const release = 'samples/releases/tansy-31';
const tansy = ['--board', release, '--supply', '24V/6.5A', '--installed', '30'];
const burr = ['--board', 'samples/boards/burr.yaml', '--set', 'panel=none'];
const card = (name: string): string => `samples/cards/${name}.img.gz`;

interface Outcome {
  code: number | null;
  out: string;
  err: string;
}

/** Runs the built program in the root of the project, with nobody at a terminal. */
function run(args: string[], program = 'dist/flashworthy.js'): Outcome {
  const { status, stdout, stderr } = spawnSync(process.execPath, [program, 'rehearse', ...args], {
    cwd: root,
    encoding: 'utf8',
    env: { ...process.env, NO_COLOR: '', FORCE_COLOR: '' },
  });
  return { code: status, out: stdout, err: stderr };
}

const validate = new Ajv2020({ allErrors: true, allowUnionTypes: true }).compile(
  JSON.parse(readFileSync(join(root, 'src/report/schema/rehearsal.schema.json'), 'utf8')),
);

let work: string;
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-rehearse-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

describe('rehearse', () => {
  it.each([
    ['tansy-fit', tansy, 0, 'starts', 'fit'],
    ['tansy-large-supply', tansy, 1, 'starts', 'refused'],
    ['tansy-older-loader', tansy, 1, 'does-not', 'refused'],
    ['tansy-fit', ['--board', release], 2, 'cannot-tell', 'not-proven'],
    ['burr-exfat', burr, 1, 'does-not', 'refused'],
  ] as const)(
    '%s %j ends with %i, as the published schema says it',
    (name, options, code, answer, verdict) => {
      const done = run([card(name), ...options, '--format', 'json']);
      expect({ code: done.code, err: done.err }).toEqual({ code, err: '' });
      const report = JSON.parse(done.out) as RehearsalReport;
      validate(report);
      expect(validate.errors).toBeNull();
      expect({ answer: report.answer, verdict: report.check.verdict }).toEqual({ answer, verdict });
      if (name !== 'tansy-fit' || code !== 0)
        expect(report.next.command).toBe(['flashworthy', 'check', card(name), ...options].join(' '));
    },
  );

  it('says that no card was looked at when there is only a folder', () => {
    const folder = join(work, 'files');
    mkdirSync(folder);
    cpSync(join(root, release, 'builds/TANSY-065N.LKF'), join(folder, 'TANSY.LKF'));
    cpSync(join(root, release, 'LARKGO.TXT'), join(folder, 'LARKGO.TXT'));
    const { code, out } = run([folder, '--staging', ...tansy]);
    expect(code).toBe(2);
    expect(out).toMatch(/^CANNOT TELL WHETHER IT STARTS: there is no card to rehearse yet\./);
    expect(out).toContain('No card was looked at');
    expect(out).toContain('flashworthy rehearse CARD --board');
  });

  it('wants a card and a board', () => {
    expect(run([])).toMatchObject({ code: 64, out: '', err: expect.stringContaining('name a card') });
    expect(run([card('tansy-fit')])).toMatchObject({ code: 64, err: expect.stringContaining('--board') });
    expect(run(['no-such.img', ...tansy])).toMatchObject({ code: 66, out: '' });
    expect(run([card('tansy-fit'), ...tansy, '--format', 'sarif'])).toMatchObject({ code: 64, out: '' });
  });

  it('writes its report and nothing else', () => {
    const copy = join(work, 'card.img.gz');
    cpSync(join(root, card('tansy-fit')), copy);
    const before = { bytes: readFileSync(copy), time: statSync(copy).mtimeMs };
    const { code, out } = run([copy, ...tansy, '--output', join(work, 'rehearsal.txt')]);
    expect({ code, out }).toEqual({ code: 0, out: '' });
    expect(readFileSync(join(work, 'rehearsal.txt'), 'utf8')).toMatch(/^THE NEW PROGRAM STARTS\./);
    expect(readFileSync(copy).equals(before.bytes)).toBe(true);
    expect(statSync(copy).mtimeMs).toBe(before.time);
    expect(run([copy, ...tansy, '--output', copy, '--force']).code).toBe(64);
  });

  it('tells plainly when the driver is not installed, and rehearses all the same', () => {
    // A copy of the package in a folder without node_modules, as an installation without optional packages.
    cpSync(join(root, 'dist'), join(work, 'package', 'dist'), { recursive: true });
    cpSync(join(root, 'package.json'), join(work, 'package', 'package.json'));
    expect(existsSync(join(work, 'node_modules'))).toBe(false);
    const { code, out, err } = run([card('tansy-fit'), ...tansy], join(work, 'package/dist/flashworthy.js'));
    expect({ code, err }).toEqual({ code: 0, err: '' });
    expect(out.replace(/\s+/g, ' ')).toContain(
      'It was not asked: the optional package js-fatfs is not installed',
    );
    expect(run([card('tansy-fit'), ...tansy]).out).toContain('reads the very same bytes');
  });
});
