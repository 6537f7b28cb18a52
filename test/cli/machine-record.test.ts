import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';

const root = join(import.meta.dirname, '..', '..');
const program = join(root, 'dist', 'flashworthy.js');
const release = join(root, 'samples', 'releases', 'tansy-31');
const fit = join(root, 'samples', 'cards', 'tansy-fit.img.gz');

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-record-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const check = (...args: string[]) =>
  spawnSync(process.execPath, [program, 'check', ...args], { encoding: 'utf8' });

/** A record file with these lines behind the two that every record has. */
function record(lines: string): string {
  const path = join(folder, 'mine.yaml');
  writeFileSync(path, `schema: flashworthy-machine/1\nboard: tansy\n${lines}`);
  return path;
}

describe('check with a release folder and a machine record', () => {
  it('is fit with what the record says, and names the files that the verdict rests on', () => {
    const path = record('supply: small\ninstalled: "30"\n');
    const { status, stdout } = check(fit, '--board', release, '--machine', path, '--format', 'json');
    expect(status).toBe(0);
    const { verdict, inputs, facts } = JSON.parse(stdout);
    expect(verdict).toBe('fit');
    expect(inputs.map(({ role }: { role: string }) => role)).toEqual([
      'board profile',
      'release manifest',
      'machine record',
    ]);
    expect(facts.image).toMatchObject({ build: 'limited-newer', release: '31' });
  });

  it('lets an option take the place of what the record says', () => {
    const path = record('supply: small\ninstalled: "30"\n');
    const { status, stdout } = check(fit, '--board', release, '--machine', path, '--installed', '20');
    expect(status).toBe(1);
    expect(stdout).toContain('machine/loader-generation');
  });

  it('ends with 64 and the place when the record is wrong', () => {
    const { status, stdout, stderr } = check(fit, '--board', release, '--machine', record('suply: small\n'));
    expect({ status, stdout }).toEqual({ status: 64, stdout: '' });
    expect(stderr).toMatch(/mine\.yaml:3:1: suply: there is no such key.*did you mean supply\?/);
  });

  it('ends with 66 when the record is not there, and with 64 without a board', () => {
    expect(check(fit, '--board', release, '--machine', join(folder, 'none.yaml')).status).toBe(66);
    const alone = check(fit, '--machine', record('supply: small\n'));
    expect(alone.status).toBe(64);
    expect(alone.stderr).toContain('--machine goes with --board');
  });

  it('ends with 64 and the place when the manifest is wrong', () => {
    const copy = join(folder, 'release');
    cpSync(release, copy, { recursive: true });
    const path = join(copy, 'manifest.json');
    writeFileSync(path, readFileSync(path, 'utf8').replace('"id": "tansy"', '"id": "burr"'));
    const { status, stderr } = check(fit, '--board', copy, '--supply', 'small', '--installed', '30');
    expect(status).toBe(64);
    expect(stderr).toMatch(/manifest\.json:4:11: board\.id: this manifest is for the board burr/);
  });
});
