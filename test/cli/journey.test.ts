/** The whole upgrade as an owner goes through it, for each Larkfield machine, well and badly. */
import { execFileSync } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { clinkerRelease } from '../support/clinker-release.js';
import { runCommand } from '../support/run-command.js';

const root = join(import.meta.dirname, '..', '..');
const tansy = join(root, 'samples/releases/tansy-31');
const capture = (name: string): string => join(root, `samples/captures/${name}.txt`);

let work: string;
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-journey-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));
const place = (name: string): string => join(work, name);

/** One step: the command, the exit code that must come, and words that must be said. Gives what was printed. */
async function step(words: readonly string[], code: number, says: RegExp): Promise<string> {
  const result = await runCommand(...words);
  const text = [result.out, ...result.notes].join('\n');
  expect({ words: words[0], code: result.code, text }).toMatchObject({
    code,
    text: expect.stringMatching(says),
  });
  return text;
}

describe('the Tansy', () => {
  it('is recorded, gets its build, its card, its rehearsal, and its settings back', async () => {
    const record = place('tansy.yaml');
    const card = place('tansy.img');
    const about = ['--board', tansy, '--machine', record];
    const recorded = await step(
      ['record', capture('tansy-30'), '--board', tansy, '--supply', '24V/6.5A', '--output', record],
      0,
      /IS WHOLE/,
    );
    expect(recorded).toContain('flashworthy choose');
    await step(['choose', tansy, '--machine', record], 0, /TANSY-065N\.LKF/);
    await step(['prepare', tansy, '--machine', record, '--to', card], 0, /FIT TO FLASH/);
    await step(['check', card, ...about], 0, /^FIT TO FLASH/);
    await step(['rehearse', card, ...about], 0, /THE NEW PROGRAM STARTS/);
    const lines = place('enter.gcode');
    await step(
      ['confirm', record, capture('tansy-31-after'), '--board', tansy, '--lines', lines],
      1,
      /as meant[\s\S]*M851 X-26 Y3\.5 Z-1\.85/,
    );
    expect(readFileSync(lines, 'utf8')).toMatch(/^M92 .*\nM851 .*\nM500\n$/m);
    // A machine on which everything is as it was, but for the release.
    const again = place('again.txt');
    writeFileSync(again, readFileSync(capture('tansy-30'), 'utf8').replace('LK_RELEASE:30', 'LK_RELEASE:31'));
    await step(['confirm', record, again, '--board', tansy], 0, /AS MEANT/);
  });

  it('with a wrong supply in the record gets no build', async () => {
    const record = place('wrong-supply.yaml');
    await step(
      ['record', capture('tansy-30'), '--board', tansy, '--supply', '12V/10A', '--output', record],
      0,
      /IS WHOLE/,
    );
    await step(['choose', tansy, '--machine', record], 1, /24 V/);
    const card = place('none.img');
    await step(['prepare', tansy, '--machine', record, '--to', card], 1, /NOTHING WAS WRITTEN/);
    expect(existsSync(card)).toBe(false);
    // The card of a machine with the right supply is refused for this one.
    await step(
      ['check', join(root, 'samples/cards/tansy-fit.img.gz'), '--board', tansy, '--machine', record],
      1,
      /^REFUSED/,
    );
  });

  it('with an interrupted capture is told what is missing, and nothing is written', async () => {
    const record = place('cut-off.yaml');
    await step(
      ['record', capture('tansy-30-interrupted'), '--board', tansy, '--output', record],
      2,
      /supply[\s\S]*cut off/,
    );
    await step(['choose', tansy, '--machine', record], 2, /supply/i);
    const card = place('open.img');
    await step(['prepare', tansy, '--machine', record, '--to', card], 2, /NOTHING WAS WRITTEN/);
    expect(existsSync(card)).toBe(false);
    await step(['confirm', record, capture('tansy-31-after'), '--board', tansy], 1, /could not be seen/);
  });

  it('with a card for the other boot loader is refused before anything is erased', async () => {
    const record = place('older.yaml');
    const text = place('older.txt');
    writeFileSync(text, readFileSync(capture('tansy-30'), 'utf8').replace('LK_RELEASE:30', 'LK_RELEASE:22'));
    await step(['record', text, '--board', tansy, '--supply', '24V/6.5A', '--output', record], 0, /IS WHOLE/);
    const newer = place('newer.img');
    await step(
      ['prepare', tansy, '--supply', '24V/6.5A', '--installed', '31', '--to', newer],
      0,
      /FIT TO FLASH/,
    );
    const about = ['--board', tansy, '--machine', record];
    await step(['check', newer, ...about], 1, /boot loader/);
    await step(['rehearse', newer, ...about], 1, /POINT OF NO RETURN|DOES NOT START|REFUSED/);
    await step(['prepare', tansy, '--machine', record, '--to', place('older.img')], 0, /TANSY-065O\.LKF/);
  });
});

describe('the Clinker', () => {
  it('goes from a sealed release to a fit card, and is confirmed', async () => {
    const release = place('clinker-2.11');
    clinkerRelease(release);
    await step(['release', release, '--seal', '--release', '2.11'], 0, /^COMPLETE/);
    const record = place('clinker.yaml');
    await step(
      [
        'record',
        capture('clinker-2.10'),
        '--board',
        release,
        '--supply',
        '12V/3A',
        '--set',
        'boardRevision=C',
        '--set',
        'made=2025-07-01',
        '--last-file',
        'CLK210.HEX',
        '--output',
        record,
      ],
      0,
      /IS WHOLE/,
    );
    const card = place('clinker.img');
    const about = ['--board', release, '--machine', record, '--card', '2GB'];
    await step(
      ['prepare', release, '--machine', record, '--card', '2GB', '--name', 'CLK211.HEX', '--to', card],
      0,
      /FIT TO FLASH/,
    );
    await step(['check', card, ...about], 0, /^FIT TO FLASH/);
    await step(['rehearse', card, ...about], 0, /FLASH[\s\S]*mains/);
    // A card for revision A is not for this one.
    const other = place('clinker-a.img');
    await step(
      [
        'prepare',
        release,
        '--supply',
        '12V/3A',
        '--installed',
        '2.10',
        '--set',
        'boardRevision=A',
        '--set',
        'made=2025-07-01',
        '--card',
        '2GB',
        '--name',
        'CLINKER.HEX',
        '--to',
        other,
      ],
      0,
      /FIT TO FLASH/,
    );
    await step(['check', other, ...about], 1, /revision/);
    const after = place('clinker-after.txt');
    writeFileSync(
      after,
      readFileSync(capture('clinker-2.10'), 'utf8').replace('KILN_RELEASE:2.10', 'KILN_RELEASE:2.11'),
    );
    await step(['confirm', record, after, '--board', release], 0, /AS MEANT/);
  });
});

describe('the Burr', () => {
  it('takes the program that its owner names, and is flashed from a folder', async () => {
    const board = join(root, 'samples/boards/burr.yaml');
    const program = place('MILL.UF2');
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
    const card = place('burr.img');
    const about = ['--set', 'panel=none'];
    await step(['prepare', board, ...about, '--file', program, '--to', card], 2, /START\.LKT/);
    await step(
      ['prepare', board, ...about, '--file', program, '--add', start, '--to', card],
      0,
      /FIT TO FLASH/,
    );
    await step(['check', card, '--board', board, ...about], 0, /^FIT TO FLASH/);
    await step(['rehearse', card, '--board', board, ...about], 0, /STARTS|COPIED|WRITTEN|WAITS|FLASH/);
    // Half of the program: the loader would stop in the middle.
    const half = place('HALF.UF2');
    writeFileSync(half, readFileSync(program).subarray(0, 20 * 512));
    const { code } = await runCommand(
      'prepare',
      board,
      ...about,
      '--file',
      half,
      '--add',
      start,
      '--to',
      place('half.img'),
    );
    expect(code).toBe(1);
  });
});

it('a release that somebody changed after it was sealed prepares no card', async () => {
  const changed = place('changed');
  cpSync(tansy, changed, { recursive: true });
  writeFileSync(join(changed, 'LARKGO.TXT'), 'boot=2\n');
  await step(['release', changed], 1, /NOT COMPLETE/);
  await step(
    ['prepare', changed, '--supply', '24V/6.5A', '--installed', '31', '--to', place('changed.img')],
    1,
    /NOTHING WAS WRITTEN/,
  );
});
