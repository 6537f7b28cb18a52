import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';

const root = join(import.meta.dirname, '..', '..');
const program = join(root, 'dist', 'flashworthy.js');

it('writes the web page beside another report, the same as on standard output, and changes no exit code', () => {
  const folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
  try {
    const file = join(folder, 'card.html');
    const args = ['check', 'samples/cards/burr-cluster-size.img.gz', '--board', 'samples/boards/burr.yaml'];
    const run = (...more: string[]) =>
      spawnSync(process.execPath, [program, ...args, '--set', 'panel=none', ...more], {
        encoding: 'utf8',
        cwd: root,
      });
    const text = run('--report', `html=${file}`);
    expect({ status: text.status, stderr: text.stderr }).toEqual({ status: 1, stderr: '' });
    expect(text.stdout).toMatch(/^REFUSED: /);
    const page = run('--format', 'html');
    expect(page.status).toBe(1);
    expect(page.stdout).toMatch(/^<!doctype html>\n<html lang="en"/);
    expect(readFileSync(file, 'utf8')).toBe(page.stdout);
    expect(page.stdout).not.toContain(root);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
