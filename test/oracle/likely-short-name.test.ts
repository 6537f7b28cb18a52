import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { likelyShortName } from '../../src/facts/update-file-name.js';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-short-names-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** The short name that mtools gives a file on a card of its own (`mdir` prints base and extension in columns). */
function byMtools(name: string): string {
  const image = join(folder, 'card.img');
  const file = join(folder, 'file');
  writeFileSync(image, '');
  truncateSync(image, 1024 * 1024);
  writeFileSync(file, 'x');
  const run = (tool: string, ...args: string[]): string =>
    execFileSync(tool, args, {
      encoding: 'utf8',
      env: { ...process.env, LC_ALL: 'C.UTF-8', MTOOLS_SKIP_CHECK: '1' },
    });
  run('mkfs.fat', '-F', '12', image);
  run('mcopy', '-i', image, file, `::${name}`);
  const line = run('mdir', '-i', image, '::').split('\n')[4] ?? '';
  const base = line.slice(0, 8).trim().toUpperCase();
  const extension = line.slice(9, 12).trim().toUpperCase();
  return extension === '' ? base : `${base}.${extension}`;
}

test.each([
  'TANSY.LKF',
  'tansy.lkf',
  'Tansy.lkf',
  'NEWESTMILL.UF2',
  'MILL.UF20',
  'kiln notes.text',
  'CLINKER',
  'a.b.hex',
  'plus+one.hex',
  'CLK-31_2.HEX',
])('%s gets the short name that mtools gives it', (name) => {
  expect(likelyShortName(name)).toBe(byMtools(name));
});
