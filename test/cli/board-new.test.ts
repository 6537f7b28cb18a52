import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { coverage } from '../../src/board/coverage.js';
import { readProfile } from '../../src/board/read.js';
import type { Conversation } from '../../src/cli/ask.js';
import { newProfile } from '../../src/cli/board-new.js';
import { type KnownGood, proposals } from '../../src/core/learn.js';
import { withCard } from '../support/cards.js';

const root = join(import.meta.dirname, '..', '..');
let work: string;
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-board-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

function run(...args: string[]): { code: number | null; out: string; err: string } {
  const { status, stdout, stderr } = spawnSync(process.execPath, ['dist/flashworthy.js', ...args], {
    cwd: root,
    encoding: 'utf8',
  });
  return { code: status, out: stdout, err: stderr };
}

/** Somebody who answers in order, and then no more. */
function typing(...answers: string[]): { conversation: Conversation; asked: string[] } {
  const asked: string[] = [];
  return {
    asked,
    conversation: {
      ask: async (text) => {
        asked.push(text);
        return answers.shift() ?? null;
      },
      end: () => {},
    },
  };
}

describe('board new', () => {
  it('makes a profile that can be read, of the answers that were given', async () => {
    const { conversation, asked } = typing(
      'burr-two',
      'The mill: # second one',
      '{ start: 0x08008000, bytes: 480KiB }',
      '[mbr]',
      '',
      '[FAT23]',
      '[FAT16, FAT32]',
      'after-checks',
      'BURR/MILL.UF2',
      'uf2',
      '[nothing]',
      'any',
    );
    const { profile } = readProfile(await newProfile(new Map(), conversation, 80), 'new.yaml');
    expect(profile).toMatchObject({
      id: 'burr-two',
      title: 'The mill: # second one',
      memory: { application: { start: 0x08008000, bytes: 480 * 1024 } },
      loader: { partitioning: ['mbr'], fileSystems: ['FAT16', 'FAT32'], erases: 'after-checks' },
      update: { path: 'BURR/MILL.UF2', encoding: 'uf2', checks: ['nothing'] },
      builds: 'any',
    });
    expect(coverage(profile).coreSilent).toEqual(['loader.takesPartition']);
    expect(asked.find((text) => text.includes("found 'FAT23'"))).toContain('Once more');
  });

  it('needs a name, and nothing else', async () => {
    const { profile } = readProfile(
      await newProfile(
        new Map([
          ['id', 'x'],
          ['title', 'X'],
        ]),
        null,
        80,
      ),
      'new.yaml',
    );
    expect(coverage(profile).coreSilent).toHaveLength(9);
    await expect(newProfile(new Map(), null, 80)).rejects.toThrow('nobody is here to ask');
    await expect(newProfile(new Map(), typing().conversation, 80)).rejects.toThrow('an answer is needed');
  });

  it('takes any words for a title', async () => {
    const broken = await newProfile(
      new Map([
        ['id', 'x'],
        ['title', '\n !'],
      ]),
      null,
      80,
    );
    expect(readProfile(broken, 'new.yaml').profile.title).toBe('\n !');
    await fc.assert(
      fc.asyncProperty(fc.string({ minLength: 1, maxLength: 40, unit: 'grapheme' }), async (title) => {
        let text: string;
        try {
          text = await newProfile(
            new Map([
              ['id', 'x'],
              ['title', title],
            ]),
            null,
            80,
          );
        } catch {
          // What the schema of profiles does not take, such as blanks alone.
          return;
        }
        expect(readProfile(text, 'new.yaml').profile.title).toBe(title);
      }),
      { numRuns: 200 },
    );
  });

  it('writes the file that is named, and never over one', () => {
    const path = join(work, 'new.yaml');
    const args = ['board', 'new', '--set', 'id=x', '--set', 'title=X', '--output', path];
    expect(run(...args)).toMatchObject({ code: 0, out: '' });
    expect(readFileSync(path, 'utf8')).toContain('id: x');
    expect(run(...args).code).toBe(74);
    expect(run('board', 'new', '--set', 'colour=red').code).toBe(64);
  });
});

describe('board learn', () => {
  const sample = (name: string): string => join(root, 'samples/cards', `${name}.img.gz`);
  const burr = [sample('burr-good'), sample('burr-fragmented')] as const;

  it('proposes what both cards show, and the rest is for the author', () => {
    const { code, out } = run('board', 'learn', ...burr, '--file', 'BURR/MILL.UF2', '--id', 'mill');
    expect(code).toBe(0);
    const { profile } = readProfile(out, 'learned.yaml');
    expect(profile).toMatchObject({
      id: 'mill',
      basis: { loader: 'seen', update: 'seen' },
      loader: {
        partitioning: ['mbr'],
        takesPartition: 'first-slot',
        partitionTypes: [6],
        fileSystems: ['FAT16'],
        clusterBytes: [4096],
        fragments: { max: 2 },
      },
      update: { path: 'BURR/MILL.UF2', encoding: 'uf2' },
    });
    expect(coverage(profile).coreSilent).toEqual([
      'memory.application',
      'loader.erases',
      'update.checks',
      'builds',
    ]);
  });

  it('ends, once the author has added what no card shows, in fit for these cards and not proven for another kind', () => {
    const { out } = run('board', 'learn', ...burr, '--file', 'BURR/MILL.UF2');
    const path = join(work, 'learned.yaml');
    const application = /^ {2}application:\s*(\{.*\})/m.exec(
      readFileSync(join(root, 'samples/boards/burr.yaml'), 'utf8'),
    )?.[1];
    writeFileSync(
      path,
      out
        .replace(/^# builds: .*$/m, 'builds: any')
        .replace('# memory:\n', 'memory:\n')
        .replace(/# application: .*/, `application: ${application ?? 'any'}`)
        .replace(/# erases: .*/, 'erases: after-checks')
        .replace(/# checks: .*/, 'checks: [nothing]'),
    );
    const verdictOf = (card: string): string | undefined =>
      /"verdict": "([a-z-]+)"/.exec(run('check', card, '--board', path, '--format', 'json').out)?.[1];
    expect(burr.map(verdictOf)).toEqual(['fit', 'fit']);
    expect(verdictOf(sample('burr-cluster-size'))).toBe('not-proven');
    // exFAT was not seen either.
    expect(verdictOf(sample('burr-exfat'))).not.toBe('fit');
  });

  it('learns nothing from one card, from cards without a common file, and from damaged ones', async () => {
    expect(run('board', 'learn', burr[0]).code).toBe(64);
    expect(run('board', 'learn', ...burr).err).toContain('BURR/MILL.UF2, BURR/START.LKT');
    expect(run('board', 'learn', burr[0], sample('tansy-fit')).code).toBe(64);
    await withCard(join(root, 'test/err/lost-clusters/card.sh'), (damaged) => {
      const { code, err } = run('board', 'learn', burr[0], damaged, '--file', 'BURR/MILL.UF2');
      expect(code).toBe(1);
      expect(err).toMatch(/nothing can be learned from .*damaged/);
    });
  });

  it('proposes no value that was not on a card', () => {
    const card = fc.record<KnownGood>({
      path: fc.constant('card.img'),
      scheme: fc.constantFrom('mbr', 'gpt', 'none'),
      partitions: fc.integer({ min: 1, max: 4 }),
      partitionIndex: fc.option(fc.integer({ min: 1, max: 6 })),
      partitionType: fc.option(fc.integer({ min: 1, max: 255 })),
      bootFlag: fc.option(fc.constantFrom(0, 128)),
      fileSystem: fc.constantFrom('FAT12', 'FAT16', 'FAT32'),
      clusterBytes: fc.constantFrom(512, 4096, 32768),
      sectorBytes: fc.constantFrom(512, 4096),
      fatCount: fc.constantFrom(1, 2),
      updateFile: fc.constantFrom('A.BIN', 'a.bin', 'B.BIN'),
      fragments: fc.integer({ min: 1, max: 9 }),
      encoding: fc.option(fc.constantFrom('raw', 'uf2')),
      others: fc.constant([]),
    });
    fc.assert(
      fc.property(fc.array(card, { minLength: 2, maxLength: 5 }), (cards) => {
        const proposed = Object.fromEntries(proposals(cards).map(({ key, value }) => [key, value]));
        const seen = (of: (one: KnownGood) => unknown): unknown[] => cards.map(of);
        for (const [key, of] of [
          ['loader.partitioning', (one: KnownGood) => one.scheme],
          ['loader.partitionTypes', (one: KnownGood) => one.partitionType],
          ['loader.fileSystems', (one: KnownGood) => one.fileSystem],
          ['loader.clusterBytes', (one: KnownGood) => one.clusterBytes],
        ] as const)
          for (const value of (proposed[key] as unknown[] | undefined) ?? [])
            expect(seen(of)).toContain(value);
        if (proposed['update.encoding'] !== undefined)
          expect(new Set(seen((one) => one.encoding))).toEqual(new Set([proposed['update.encoding']]));
        if (new Set(seen((one) => one.partitionIndex)).size > 1)
          expect(proposed['loader.takesPartition']).toBeUndefined();
        for (const key of ['loader.erases', 'update.checks', 'memory.application'])
          expect(proposed[key]).toBeUndefined();
      }),
    );
  });
});
