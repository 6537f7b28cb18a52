import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { reportNames, summaryName } from '../../src/cli/report-names.js';
import { ReportSinks } from '../../src/cli/report-sinks.js';
import { fit, refused } from '../report/sample-reports.js';
import { runCommand } from '../support/run-command.js';

const root = join(import.meta.dirname, '../..');
const board = ['--board', join(root, 'samples/boards/burr.yaml'), '--set', 'panel=none'];
const sample = (name: string): string => join(root, 'samples/cards', `burr-${name}.img.gz`);

let folder: string;
const at = (...names: string[]): string => join(folder, ...names);
const check = (...argv: string[]) => runCommand('check', ...argv, ...board);

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-many-'));
  mkdirSync(at('a'));
  mkdirSync(at('b[1]'));
  copyFileSync(sample('good'), at('a', 'card.img.gz'));
  copyFileSync(sample('exfat'), at('a', 'wrong.img.gz'));
  copyFileSync(sample('good'), at('b[1]', 'card.img.gz'));
  writeFileSync(at('a', '._card.img.gz'), 'what a computer leaves behind');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

interface Summary {
  verdict: string;
  reports: { target: { path: string }; verdict: string }[];
  files?: { path: string; verdict: string; hazard: string | null; file: string }[];
  unchecked: { path: string; exit: number }[];
}

describe('patterns', () => {
  const cards = async (...argv: string[]): Promise<{ code: number; paths: string[] }> => {
    const { code, out } = await check(...argv, '--format', 'json');
    const { reports, unchecked } = JSON.parse(out) as Summary;
    return {
      code,
      paths: [...reports.map(({ target }) => target.path), ...unchecked.map(({ path }) => path)],
    };
  };

  it('stand for what a shell would make of them, in order, without hidden files', async () => {
    const [card, wrong] = [at('a', 'card.img.gz'), at('a', 'wrong.img.gz')];
    expect(await cards(at('a', '*.img.gz'))).toEqual({ code: 1, paths: [card, wrong] });
    expect(await cards(at('a', '?ard.*'))).toEqual({ code: 0, paths: [card] });
    expect(await cards(at('*', 'card.img.gz'))).toEqual({
      code: 0,
      paths: [card, at('b[1]', 'card.img.gz')],
    });
    expect((await cards(at('**', '*.gz'))).paths).toEqual([card, wrong, at('b[1]', 'card.img.gz')]);
    expect((await cards(at('a', '{wrong,card}.img.gz'))).paths).toEqual([card, wrong]);
    // Named twice, checked once.
    expect((await cards(card, at('a', '*.gz'))).paths).toEqual([card, wrong]);
  });

  it('are names first: a file or folder that is called so is meant', async () => {
    copyFileSync(sample('good'), at('a', 'w*.img.gz'));
    expect((await cards(at('a', 'w*.img.gz'), sample('good'))).paths).toEqual([
      at('a', 'w*.img.gz'),
      sample('good'),
    ]);
    expect((await cards(at('b[1]', '*.gz'))).paths).toEqual([at('b[1]', 'card.img.gz')]);
  });

  it('that match nothing are cards that are not there', async () => {
    const { code, notes } = await check(at('a', '*.iso'), at('a', 'card.img.gz'));
    expect(code).toBe(66);
    expect(notes).toEqual([
      expect.stringMatching(/\*\.iso: there is no file of that name, and none that matches it as a pattern$/),
    ]);
  });

  it('work where the command was started', async () => {
    const before = process.cwd();
    process.chdir(folder);
    try {
      expect((await cards('a/c*.gz')).paths).toEqual(['a/card.img.gz']);
      expect((await cards('./*/w*.gz')).paths).toEqual(['./a/wrong.img.gz']);
      expect((await cards('../*/a/w*.gz')).paths).toEqual([
        expect.stringMatching(/^\.\.\/flash.*\/a\/wrong\.img\.gz$/),
      ]);
    } finally {
      process.chdir(before);
    }
  });
});

describe('a list of cards', () => {
  it('names one in each line, as it is', async () => {
    writeFileSync(at('list'), `${at('a', 'card.img.gz')}\r\n\n${at('a', '*.img.gz')}\n`);
    const { code, out } = await check('--cards-from', at('list'), '--format', 'json');
    expect(code).toBe(66);
    const summary = JSON.parse(out) as Summary;
    expect(summary.reports).toHaveLength(1);
    expect(summary.unchecked).toEqual([expect.objectContaining({ path: at('a', '*.img.gz'), exit: 66 })]);
  });

  it('that is empty or not there checks nothing, and is never fit', async () => {
    writeFileSync(at('list'), '\n');
    expect((await check('--cards-from', at('list'))).code).toBe(64);
    expect((await check('--cards-from', at('none'))).code).toBe(66);
  });
});

describe('a report for each card', () => {
  it('goes to a folder, with a summary that says which is whose', async () => {
    const cards = [
      at('a', 'card.img.gz'),
      at('a', 'wrong.img.gz'),
      at('b[1]', 'card.img.gz'),
      at('none.img'),
    ];
    const { code } = await check(
      ...cards,
      '--report',
      `json=${at('out')}/`,
      '--report',
      `junit=${at('xml')}/`,
    );
    expect(code).toBe(66);
    const names = ['card.img.gz-2.json', 'card.img.gz.json', 'summary.json', 'wrong.img.gz.json'];
    expect(readdirSync(at('out')).sort()).toEqual(names);
    expect(readdirSync(at('xml'))).toHaveLength(4);
    const summary = JSON.parse(readFileSync(at('out', summaryName), 'utf8')) as Summary;
    expect(summary.verdict).toBe('refused');
    expect(summary.unchecked).toHaveLength(1);
    expect(summary.files?.map(({ path, verdict, file }) => [path, verdict, file])).toEqual([
      [cards[0], 'fit', 'card.img.gz.json'],
      [cards[1], 'refused', 'wrong.img.gz.json'],
      [cards[2], 'fit', 'card.img.gz-2.json'],
    ]);
    const ajv = new Ajv2020({ allowUnionTypes: true });
    for (const name of ['report', 'summary'])
      ajv.addSchema(JSON.parse(readFileSync(join(root, `dist/schema/${name}.schema.json`), 'utf8')), name);
    ajv.validate('summary', summary);
    expect(ajv.errors).toBeNull();
    for (const { path, file } of summary.files ?? []) {
      const report = JSON.parse(readFileSync(at('out', file), 'utf8'));
      ajv.validate('report', report);
      expect(ajv.errors).toBeNull();
      expect(report.target.path).toBe(path);
    }
  });

  it('overwrites nothing unless told, and nothing that is read even then', async () => {
    const card = at('a', 'card.img.gz');
    mkdirSync(at('out'));
    writeFileSync(at('out', 'card.img.gz.json'), 'mine');
    const refused = await check(card, '--report', `json=${at('out')}/`);
    expect(refused).toMatchObject({ code: 74, out: '' });
    expect(readdirSync(at('out'))).toEqual(['card.img.gz.json']);
    expect((await check(card, '--report', `json=${at('out')}/`, '--force')).code).toBe(0);
    expect(readdirSync(at('out'))).toHaveLength(2);
    // The report on this card would have the name of the other one.
    copyFileSync(sample('good'), at('a', 'x'));
    copyFileSync(sample('good'), at('a', 'x.json'));
    const own = await check(at('a', 'x'), at('a', 'x.json'), '--report', `json=${at('a')}/`, '--force');
    expect(own.code).toBe(64);
    expect(readFileSync(at('a', 'x.json'))).toEqual(readFileSync(sample('good')));
    for (const place of [`${at('no', 'such')}/`, `${at('a', '._card.img.gz')}/`])
      expect((await check(card, '--report', `json=${place}`)).code).toBe(74);
  });

  it('has a name that every system takes, and no two have the same', () => {
    fc.assert(
      fc.property(fc.array(fc.string({ unit: 'binary' })), (paths) => {
        const names = reportNames(paths, 'json');
        expect(new Set(names.map((name) => name.toLowerCase())).size).toBe(paths.length);
        for (const name of names) {
          expect(name).toMatch(/^[A-Za-z0-9_][A-Za-z0-9._-]{0,130}\.json$/);
          expect(name).not.toBe(summaryName);
        }
      }),
    );
    expect(reportNames(['x/Card.img', 'y/card.IMG', 'summary', '../..', 'CON', 'nul.img'], 'json')).toEqual([
      'Card.img.json',
      'card.IMG-2.json',
      'summary-2.json',
      'card_.json',
      'card_CON.json',
      'card_nul.img.json',
    ]);
    // In the order of a run the same names come out again.
    expect(reportNames(['a', 'a-2', 'a'], 'junit')).toEqual(['a.xml', 'a-2.xml', 'a-3.xml']);
  });
});

describe('one report on all cards', () => {
  it('is the same whether it goes to a file or to standard output, and whole in each form', async () => {
    const cards = [at('a', 'card.img.gz'), at('a', 'wrong.img.gz'), at('none.img')];
    for (const kind of ['text', 'json', 'sarif', 'junit']) {
      const { code, out } = await check(...cards, '--format', kind, '--report', `${kind}=${at(kind)}`);
      expect(code).toBe(66);
      expect(readFileSync(at(kind), 'utf8')).toBe(out);
      for (const path of cards) expect(out).toContain(path);
    }
    const text = readFileSync(at('text'), 'utf8');
    expect(text).toMatch(/\n3 targets:\n {2}fit .*\n/);
    expect(text.endsWith('\n1 fit, 1 refused, 0 not proven, 1 not checked.\n')).toBe(true);
  });

  it('leaves no report of an earlier run where the card could not be checked', async () => {
    for (const kind of ['json', 'sarif', 'junit', 'text']) writeFileSync(at(kind), 'fit');
    const { code, out } = await check(
      at('none.img'),
      '--force',
      ...['json', 'sarif', 'junit', 'text'].flatMap((kind) => ['--report', `${kind}=${at(kind)}`]),
    );
    expect({ code, out }).toEqual({ code: 66, out: '' });
    expect(JSON.parse(readFileSync(at('json'), 'utf8'))).toMatchObject({
      verdict: 'not-proven',
      reports: [],
    });
    expect(JSON.parse(readFileSync(at('sarif'), 'utf8')).runs[0].invocations[0].executionSuccessful).toBe(
      false,
    );
    expect(readFileSync(at('junit'), 'utf8')).toContain('<error type="not-checked"');
    expect(readFileSync(at('text'), 'utf8')).toContain('not checked');
  });

  it('that cannot be written does not keep the others from being, and leaves nothing behind', async () => {
    mkdirSync(at('gone'));
    let out = '';
    const surroundings = {
      folder: new URL('file:///'),
      version: '0',
      width: 80,
      color: false,
      note: () => {},
      out: async (text: string) => {
        out += text;
      },
    };
    const more = [at('gone', 'x.json'), at('kept.json')].map((file) => ({ kind: 'json', file }));
    const sinks = await ReportSinks.open(
      { kind: 'text', file: undefined, more, force: false },
      true,
      surroundings,
      {
        width: 80,
        color: false,
        verbose: false,
      },
    );
    await sinks.add(fit, 0);
    // The medium that one report goes to is pulled out in the middle.
    rmSync(at('gone'), { recursive: true });
    await sinks.add(refused, 1);
    await expect(sinks.end([])).rejects.toMatchObject({
      exit: 74,
      message: expect.stringContaining('x.json'),
    });
    expect(JSON.parse(readFileSync(at('kept.json'), 'utf8'))).toMatchObject({ verdict: 'refused' });
    expect(out).toContain('2 targets:');
    const unfinished = await ReportSinks.open(
      { kind: 'json', file: at('unfinished.json'), more: [], force: false },
      true,
      surroundings,
      { width: 80, color: false, verbose: false },
    );
    unfinished.abandon();
    expect(readdirSync(folder).sort()).toEqual(['a', 'b[1]', 'kept.json']);
  });
});
