import { createHash } from 'node:crypto';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { MemorySource } from '../../src/bytes/byte-source.js';
import { CommandProblem, type ExitCode, exitCodes, worstExit } from '../../src/cli/exit.js';
import { Given } from '../../src/cli/given.js';
import { loadBoard } from '../../src/cli/load-board.js';
import { notACard } from '../../src/cli/not-a-card.js';
import { nameAndValue, oneOf } from '../../src/cli/options.js';
import { progressBar } from '../../src/cli/progress.js';

/** The exit code and words of the problem that this ends with. */
function problemOf(work: () => unknown): { exit: ExitCode; message: string } {
  try {
    work();
  } catch (error) {
    if (error instanceof CommandProblem) return { exit: error.exit, message: error.message };
    throw error;
  }
  throw new Error('it did not fail');
}

/** The same for work that takes its time. */
async function boardProblem(work: () => Promise<unknown>): Promise<{ exit: ExitCode; message: string }> {
  const [result] = await Promise.allSettled([work()]);
  return problemOf(() => {
    if (result?.status === 'rejected') throw result.reason;
  });
}

describe('exit codes', () => {
  it('are the published numbers', () => {
    expect(exitCodes).toEqual({
      fit: 0,
      refused: 1,
      notProven: 2,
      usage: 64,
      notThere: 66,
      ownFault: 70,
      notWritten: 74,
    });
  });

  it('of many the worst counts: 70, 74, 64, 66, 1, 2, 0', () => {
    const order: ExitCode[] = [70, 74, 64, 66, 1, 2, 0];
    for (const [index, code] of order.entries()) expect(worstExit(order.slice(index).reverse())).toBe(code);
    expect(worstExit([0, 0])).toBe(0);
    expect(worstExit([])).toBe(70);
  });
});

describe('values of options', () => {
  it('are texts, whatever they look like', () => {
    const given = new Given({ installed: '1.10', set: ['a=1', 'b=2'], fresh: true, target: [] });
    expect(given.text('installed')).toBe('1.10');
    expect(given.texts('set')).toEqual(['a=1', 'b=2']);
    expect(given.text('board')).toBeUndefined();
    expect(given.flag('fresh')).toBe(true);
    expect(given.flag('staging')).toBe(false);
    expect(problemOf(() => given.text('set')).exit).toBe(64);
    expect(problemOf(() => new Given({ board: '' }).text('board')).exit).toBe(64);
  });

  it('are taken apart at the first equals sign', () => {
    expect(nameAndValue('set', 'a=b=c')).toEqual(['a', 'b=c']);
    for (const text of ['a', '=b', 'a=', ''])
      expect(problemOf(() => nameAndValue('set', text)).exit).toBe(64);
    expect(oneOf('format', 'json', ['text', 'json'])).toBe('json');
    expect(problemOf(() => oneOf('format', 'toString', ['text'])).message).toContain('text');
  });
});

describe('the progress bar', () => {
  const bar = (isTTY: boolean) => {
    const written: string[] = [];
    let time = 0;
    const { step, end } = progressBar(
      'Work',
      { isTTY, columns: 80, write: (text) => written.push(text) },
      () => time,
    );
    return { step, end, written, at: (now: number) => (time = now) };
  };

  it('shows nothing before a second, then not too often, and wipes itself', () => {
    const { step, end, written, at } = bar(true);
    step(1, 10);
    at(999);
    step(5, 10);
    expect(written).toEqual([]);
    at(1000);
    step(5, 10);
    at(1100);
    step(6, 10);
    at(1300);
    step(10, 10);
    expect(written).toHaveLength(2);
    expect(written[0]).toMatch(/^\rWork \[#{15}\.{15}\] {2}50 %$/);
    end();
    expect(written.at(-1)).toMatch(/^\r +\r$/);
    for (const text of written) expect(text.length).toBeLessThan(82);
  });

  it('bears a terminal that does not know its width', () => {
    const written: string[] = [];
    let time = 0;
    const stream = { isTTY: true, columns: 0, write: (text: string) => written.push(text) };
    const { step, end } = progressBar('Work', stream, () => time);
    time = 5000;
    step(1, 2);
    end();
    expect(written).toHaveLength(2);
  });

  it('shows nothing off a terminal', () => {
    const { step, end, written, at } = bar(false);
    at(5000);
    step(1, 10);
    end();
    expect(written).toEqual([]);
  });
});

describe('telling cards from other files', () => {
  const padded = (start: string | number[], length = 4096): Uint8Array => {
    const bytes = new Uint8Array(length).fill(0x5a);
    bytes.set(typeof start === 'string' ? Buffer.from(start, 'latin1') : start);
    return bytes;
  };
  const judge = (bytes: Uint8Array): string | null => notACard(new MemorySource(bytes), 'file');

  it('knows firmware and says what to do with it', () => {
    const firmware: [string, Uint8Array][] = [
      ['UF2', padded([0x55, 0x46, 0x32, 0x0a, 0x57, 0x51, 0x5d, 0x9e])],
      ['ELF', padded([0x7f, 0x45, 0x4c, 0x46])],
      ['Intel HEX', padded(':100000000010002041010008490100084D01000852\n')],
      ['S-record', padded('S00600004844521B\n')],
      ['DfuSe', padded('DfuSe\u0001')],
      ['firmware', padded([0x00, 0x00, 0x02, 0x20, 0x41, 0x71, 0x00, 0x08], 60_000)],
    ];
    for (const [word, bytes] of firmware) {
      expect(judge(bytes)).toContain(word);
      expect(judge(bytes)).toContain('--staging');
    }
  });

  it('knows archives and disks of virtual machines', () => {
    for (const start of [
      'PK\u0003\u0004',
      '7z\u00bc\u00af\u0027\u001c',
      'Rar!',
      '\u00fd7zXZ\u0000',
      'BZh91AY',
      'KDMV',
      'QFI\u00fb',
      'vhdxfile',
      'conectix',
    ])
      expect(judge(padded(start))).toContain('unpack');
  });

  it('takes everything that may be a card', () => {
    const bootable = padded([0xeb, 0x58, 0x90], 512);
    bootable.set([0x55, 0xaa], 510);
    expect(judge(bootable)).toBeNull();
    const strange = padded('PK\u0003\u0004');
    strange.set([0x55, 0xaa], 510);
    expect(judge(strange)).toBeNull();
    const gpt = padded([], 100_000);
    gpt.set(Buffer.from('EFI PART'), 512);
    expect(judge(gpt)).toBeNull();
    const ext = padded([], 100_000);
    ext.set([0x53, 0xef], 1080);
    expect(judge(ext)).toBeNull();
    const iso = padded([], 100_000);
    iso.set(Buffer.from('CD001'), 32_769);
    expect(judge(iso)).toBeNull();
    // Never written, whichever way the card shows that; and large things of any content.
    expect(judge(new Uint8Array(65_536))).toBeNull();
    expect(judge(new Uint8Array(65_536).fill(0xff))).toBeNull();
    expect(judge(padded([], 1024 * 1024))).toBeNull();
    expect(judge(new Uint8Array(0))).toContain('empty');
  });

  it('always comes to an end with yes or no', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 2000 }), (bytes) => {
        const answer = judge(bytes);
        expect(
          answer === null || answer.startsWith('file is ') || answer.startsWith('file holds only '),
        ).toBe(true);
      }),
      { numRuns: 200 },
    );
  });
});

describe('finding a board profile', () => {
  let folder: string;
  const minimal = (id: string): string =>
    `schema: flashworthy-board/1\nid: ${id}\ntitle: A board\nrevision: 1\n`;
  const manifestOf = (id: string): string =>
    JSON.stringify({ schema: 'flashworthy-manifest/1', board: { id, revision: 1 }, release: '7', files: [] });
  const sha256Of = (text: string): string => createHash('sha256').update(text).digest('hex');
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
    writeFileSync(join(folder, 'alpha.yaml'), minimal('alpha'));
    mkdirSync(join(folder, 'beta'));
    writeFileSync(join(folder, 'beta', 'board.yaml'), minimal('beta'));
    writeFileSync(join(folder, 'beta', 'manifest.json'), manifestOf('beta'));
    writeFileSync(join(folder, 'apart.json'), manifestOf('alpha'));
    writeFileSync(
      join(folder, 'broken.yaml'),
      'schema: flashworthy-board/1\nid: broken\ntitle: x\nrevision: 1\nlodaer: {}\n',
    );
    writeFileSync(join(folder, 'latin1.yaml'), Buffer.from('id: \xe9', 'latin1'));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it('by file, by release folder, by id', async () => {
    expect(await loadBoard(undefined, undefined, undefined)).toBeNull();
    expect(await loadBoard(join(folder, 'alpha.yaml'), undefined, undefined)).toMatchObject({
      profile: { id: 'alpha' },
      manifest: null,
    });
    expect(await loadBoard(join(folder, 'beta'), undefined, undefined)).toMatchObject({
      profile: { id: 'beta' },
      manifest: { text: manifestOf('beta'), role: 'release manifest' },
      release: { board: { id: 'beta' }, release: '7' },
    });
    expect((await loadBoard('alpha', folder, undefined))?.profile.id).toBe('alpha');
    expect((await loadBoard('beta', folder, undefined))?.profile.id).toBe('beta');
    const named = await loadBoard('alpha', folder, join(folder, 'apart.json'));
    expect(named?.manifest?.sha256).toBe(sha256Of(manifestOf('alpha')));
    const other = await boardProblem(() => loadBoard('alpha', folder, join(folder, 'beta', 'manifest.json')));
    expect(other.exit).toBe(64);
    expect(other.message).toContain('this manifest is for the board beta');
  });

  it('says what is not there, and what was probably meant', async () => {
    expect((await boardProblem(() => loadBoard(join(folder, 'no.yaml'), undefined, undefined))).exit).toBe(
      66,
    );
    expect(await boardProblem(() => loadBoard('alpha', undefined, undefined))).toMatchObject({
      exit: 66,
      message: expect.stringContaining('--boards'),
    });
    expect(await boardProblem(() => loadBoard('alhpa', folder, undefined))).toMatchObject({
      exit: 66,
      message: expect.stringContaining('did you mean alpha?'),
    });
    expect((await boardProblem(() => loadBoard('alpha', folder, join(folder, 'no.json')))).exit).toBe(66);
    expect((await boardProblem(() => loadBoard('alpha', join(folder, 'no'), undefined))).exit).toBe(66);
    expect((await boardProblem(() => loadBoard(folder, undefined, undefined))).exit).toBe(66);
    expect((await boardProblem(() => loadBoard(undefined, folder, undefined))).exit).toBe(64);
  });

  it('ends with 64 and the place when the profile is wrong', async () => {
    const { exit, message } = await boardProblem(() => loadBoard('broken', folder, undefined));
    expect(exit).toBe(64);
    expect(message).toMatch(/broken\.yaml:5:1: .*lodaer/);
    expect(
      await boardProblem(() => loadBoard(join(folder, 'latin1.yaml'), undefined, undefined)),
    ).toMatchObject({
      exit: 64,
      message: expect.stringContaining('UTF-8'),
    });
  });
});
