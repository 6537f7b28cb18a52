import { spawnSync } from 'node:child_process';
import { linkSync, mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, expect, it } from 'vitest';

const root = join(import.meta.dirname, '../..');
const kinds = ['text', 'json', 'sarif', 'junit'];

/** Runs the built program in a process of its own that says at last how much memory it had at most (getrusage). */
const measured = (words: string[]): string => `
  const folder = new URL(${JSON.stringify(pathToFileURL(`${join(root, 'dist')}/`).href)});
  const { loadProgram } = await import(new URL('load-program.js', folder));
  const { readdirSync, writeFileSync } = await import('node:fs');
  const name = readdirSync(new URL('parts/', folder)).find((each) => each.endsWith('.cjs')).replace('.cjs', '');
  const code = await loadProgram(folder, name).program.main(${JSON.stringify(words)}, folder);
  writeFileSync('measured.json', JSON.stringify({ code, peak: process.resourceUsage().maxRSS }));
`;

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-long-'));
  for (const name of ['good', 'fragmented'])
    writeFileSync(
      join(folder, name),
      gunzipSync(readFileSync(join(root, `samples/cards/burr-${name}.img.gz`))),
    );
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Peak in KiB of a run over so many cards that writes every form to a file, and every report to a file of its own. */
function peakOf(count: number): number {
  const work = join(folder, String(count));
  mkdirSync(work);
  for (let index = 0; index < count; index++)
    linkSync(
      join(folder, index % 2 === 0 ? 'good' : 'fragmented'),
      join(work, `${String(index).padStart(5, '0')}.img`),
    );
  const reports = [...kinds.map((kind) => `${kind}=all.${kind}`), 'json=each/'];
  const words = ['check', '*.img', '--board', join(root, 'samples/boards/burr.yaml'), '--set', 'panel=none'];
  const { status, stdout, stderr } = spawnSync(
    process.execPath,
    ['--input-type=module', '-e', measured([...words, ...reports.flatMap((each) => ['--report', each])])],
    { cwd: work, encoding: 'utf8', maxBuffer: 1024 ** 3 },
  );
  expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
  const { code, peak } = JSON.parse(readFileSync(join(work, 'measured.json'), 'utf8'));
  expect(code).toBe(1);
  expect(stdout.endsWith(`\n${count / 2} fit, ${count / 2} refused, 0 not proven, 0 not checked.\n`)).toBe(
    true,
  );
  expect(readFileSync(join(work, 'all.text'), 'utf8')).toBe(stdout);
  expect(JSON.parse(readFileSync(join(work, 'all.json'), 'utf8')).reports).toHaveLength(count);
  expect(JSON.parse(readFileSync(join(work, 'all.sarif'), 'utf8')).runs[0].artifacts).toHaveLength(count + 1);
  expect(readFileSync(join(work, 'all.junit'), 'utf8').match(/<testsuite /g)).toHaveLength(count);
  expect(JSON.parse(readFileSync(join(work, 'each/summary.json'), 'utf8')).files).toHaveLength(count);
  const bytes = kinds.reduce((sum, kind) => sum + statSync(join(work, `all.${kind}`)).size, 0);
  process.stderr.write(`${count} cards: ${bytes} bytes of reports, at most ${peak} KiB of memory\n`);
  rmSync(work, { recursive: true });
  return peak;
}

it('checks two thousand cards with little more memory than two hundred', () => {
  const few = peakOf(200);
  const many = peakOf(2000);
  // Reports held until the end would come to more than a hundred kilobytes for each card.
  expect(many - few).toBeLessThan(60 * 1024);
  expect(many).toBeLessThan(300 * 1024);
});
