import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Question } from '../../src/board/choose.js';
import { readProfile } from '../../src/board/read.js';
import { answerFrom, questionText } from '../../src/cli/ask.js';
import { askOpenQuestions } from '../../src/cli/ask-machine.js';
import { openQuestions } from '../../src/core/choice-report.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import type { ChoiceReport } from '../../src/report/choice.js';

const root = join(import.meta.dirname, '..', '..');
const release = 'samples/releases/tansy-31';

interface Outcome {
  code: number | null;
  out: string;
  err: string;
}

/** Runs the built program in the root of the project, with nobody at a terminal. */
function run(...args: string[]): Outcome {
  const { status, stdout, stderr } = spawnSync(process.execPath, ['dist/flashworthy.js', ...args], {
    cwd: root,
    encoding: 'utf8',
    input: '1\n31\n',
    env: { ...process.env, NO_COLOR: '', FORCE_COLOR: '' },
  });
  return { code: status, out: stdout, err: stderr };
}

const validate = new Ajv2020({ allErrors: true, allowUnionTypes: true }).compile(
  JSON.parse(readFileSync(join(root, 'src/report/schema/choice.schema.json'), 'utf8')),
);

/** The choice as JSON, held against the published schema. */
function chosen(folder: string, ...args: string[]): { code: number | null; report: ChoiceReport } {
  const { code, out, err } = run('choose', folder, ...args, '--format', 'json');
  expect(err).toBe('');
  const report = JSON.parse(out) as ChoiceReport;
  validate(report);
  expect(validate.errors).toBeNull();
  return { code, report };
}

let work: string;
/** A copy of the release with a changed profile, or with a changed file. */
let copies = 0;
function copy(change: (text: string) => string = (text) => text): string {
  const folder = join(work, `release-${copies++}`);
  cpSync(join(root, release), folder, { recursive: true });
  const path = join(folder, 'board.yaml');
  writeFileSync(path, change(readFileSync(path, 'utf8')));
  return folder;
}
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-choose-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

describe('choose', () => {
  it('finds the build of each Tansy, and a reason for each other one', () => {
    const machines: [string, string, string, Record<string, string>][] = [
      [
        '24V/6.5A',
        '23',
        'limited-older',
        { 'limited-newer': 'wrong', 'full-older': 'unsafe', 'full-newer': 'unsafe' },
      ],
      [
        '24V/6.5A',
        '24',
        'limited-newer',
        { 'limited-older': 'wrong', 'full-older': 'unsafe', 'full-newer': 'unsafe' },
      ],
      [
        '24V/15A',
        '23',
        'full-older',
        { 'limited-newer': 'wrong', 'limited-older': 'safe', 'full-newer': 'wrong' },
      ],
      [
        '24V/15A',
        '24',
        'full-newer',
        { 'limited-newer': 'safe', 'limited-older': 'wrong', 'full-older': 'wrong' },
      ],
    ];
    for (const [supply, installed, build, others] of machines) {
      const { code, report } = chosen(release, '--supply', supply, '--installed', installed);
      expect({ code, outcome: report.outcome, build: report.build }).toEqual({
        code: 0,
        outcome: 'one',
        build,
      });
      expect(report.file).toMatchObject({ state: 'published', bytes: 16384 });
      expect(report.card).toMatchObject([
        { role: 'update', from: report.file?.path, to: 'TANSY.LKF' },
        { role: 'companion', from: 'LARKGO.TXT', to: 'LARKGO.TXT' },
      ]);
      const rest = report.builds.filter(({ id }) => id !== build);
      expect(Object.fromEntries(rest.map(({ id, fitness }) => [id, fitness]))).toEqual(others);
      for (const { text } of rest) expect(text).not.toBe('');
      expect(report.next).toBe(
        `flashworthy check CARD --board ${release} --supply ${supply} --installed ${installed}`,
      );
    }
  });

  it('takes a machine record, and the word of the owner in its place', () => {
    const record = join(work, 'machine.yaml');
    writeFileSync(record, 'schema: flashworthy-machine/1\nboard: tansy\nsupply: small\ninstalled: "31"\n');
    const { code, report } = chosen(release, '--machine', record);
    expect({ code, build: report.build }).toEqual({ code: 0, build: 'limited-newer' });
    expect(report.inputs.map(({ role }) => role)).toContain('machine record');
    expect(report.next).toBe(`flashworthy check CARD --board ${release} --machine ${record}`);
    expect(chosen(release, '--machine', record, '--supply', 'large').report.build).toBe('full-newer');
  });

  it('lists what is open when nobody is there to answer, even with answers in the pipe', () => {
    const { code, report } = chosen(release);
    expect(code).toBe(2);
    expect(report).toMatchObject({ outcome: 'open', build: null, card: [], next: null, stated: [] });
    expect(report.questions.map(({ option }) => option)).toEqual([
      '--supply 24V/6.5A',
      '--installed RELEASE',
    ]);
    const text = run('choose', release).out;
    expect(text).toMatch(/^NOT DECIDED YET: 2 questions are open\./);
    expect(text).toContain('--supply 24V/6.5A');
    for (const line of text.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
    // The loader decides the build, but not whether another release has to come in between.
    const half = chosen(release, '--supply', 'small', '--set', 'loader=newer');
    expect(half.code).toBe(2);
    expect(half.report.questions.map(({ axis }) => axis)).toEqual(['installed']);
  });

  it('finds none for a supply that no build can live with, or over a release that has to be left first', () => {
    const other = chosen(release, '--supply', '12V/15A', '--installed', '31');
    expect(other).toMatchObject({ code: 1, report: { outcome: 'none', build: null, next: null } });
    const old = chosen(release, '--supply', 'small', '--installed', '17');
    expect(old).toMatchObject({ code: 1, report: { outcome: 'none', build: null } });
    expect(old.report.text).toContain('flash release 22 first');
    expect(chosen(release, '--supply', 'small', '--installed', '18').code).toBe(0);
  });

  it('takes the safest build for an owner who cannot read the label, and says so', () => {
    const { code, report } = chosen(release, '--supply', 'unsure', '--installed', '31');
    expect({ code, build: report.build }).toEqual({ code: 0, build: 'limited-newer' });
    expect(report.power?.rating).toEqual({ watts: 156, amps: 6.5, volts: 24, whose: 'smallest-listed' });
    expect(report.cautions.join(' ')).toContain('Read the label');
  });

  it('estimates the power, and never recommends what is above a rating', () => {
    // 24 V over 4.8 ohms of copper at 20 degrees are 120 W; 1.1 A at 24 V are 26.4 W.
    const { power } = chosen(release, '--supply', 'small', '--installed', '31').report;
    expect(power?.peak).toEqual({ watts: 146.4, amps: 6.1, limitAmps: null, marginWatts: 9.6 });
    expect(power?.sustained?.ratingWatts).toBe(124.8);
    const generous = copy((text) => text.replaceAll('amps: 6.5 }', 'amps: 6 }'));
    const enough = chosen(generous, '--supply', '24V/6.1A', '--installed', '31');
    expect(enough).toMatchObject({
      code: 0,
      report: { build: 'limited-newer', power: { peak: { marginWatts: 0 } } },
    });
    const less = chosen(generous, '--supply', '24V/6.09A', '--installed', '31');
    expect(less).toMatchObject({ code: 1, report: { outcome: 'none', build: null, next: null, card: [] } });
    expect(less.report.text).toContain('nothing above a rating is recommended');
  });

  it('does not hand out a file that is not the published one', () => {
    const damaged = copy();
    const path = join(damaged, 'builds', 'TANSY-065N.LKF');
    const bytes = readFileSync(path);
    bytes[1000] = 0;
    writeFileSync(path, bytes);
    const machine = ['--supply', 'small', '--installed', '31'];
    expect(chosen(damaged, ...machine)).toMatchObject({
      code: 1,
      report: { file: { state: 'differs' }, build: null },
    });
    // Another build's file is not this machine's business.
    expect(chosen(damaged, '--supply', 'large', '--installed', '31').code).toBe(0);
    rmSync(path);
    expect(chosen(damaged, ...machine)).toMatchObject({ code: 1, report: { file: { state: 'missing' } } });
    rmSync(join(damaged, 'manifest.json'));
    const bare = chosen(damaged, '--supply', 'large', '--installed', '31');
    expect(bare).toMatchObject({ code: 0, report: { file: { state: 'not-compared' }, release: null } });
    expect(bare.report.cautions.join(' ')).toContain('no release manifest');
  });

  it('tells when the profile is not the published one, and needs none of the files to say which build it is', () => {
    const changed = copy((text) => text.replace('revision: 7', 'revision: 8'));
    const { report } = chosen(changed, '--supply', 'small', '--installed', '31');
    expect(report.cautions.join(' ')).toContain('somebody changed it');
    expect(chosen(release, '--supply', 'small', '--installed', '31').report.cautions.join(' ')).not.toContain(
      'somebody changed it',
    );
    const alone = chosen('samples/boards/tansy.yaml', '--supply', 'small', '--installed', '31');
    expect(alone).toMatchObject({ code: 0, report: { build: 'limited-newer', file: { state: 'missing' } } });
  });

  it('has nothing to choose where the author takes every build', () => {
    expect(chosen('samples/boards/burr.yaml')).toMatchObject({
      code: 2,
      report: { outcome: 'any', build: null },
    });
  });

  it('ends with 64 and 66 as every command does', () => {
    expect(run('choose').code).toBe(64);
    expect(run('choose', join(work, 'nothing')).code).toBe(66);
    expect(run('choose', release, '--supply', 'plenty')).toMatchObject({
      code: 64,
      err: expect.stringContaining("'plenty' is no supply"),
    });
    expect(run('choose', release, '--format', 'sarif').code).toBe(64);
    const broken = copy();
    writeFileSync(join(broken, 'manifest.json'), '{ "schema": "flashworthy-manifest/1" }');
    expect(run('choose', broken).err).toMatch(/manifest\.json:1:\d+: /);
  });

  it('names the one build whose sample card passes the check', () => {
    const machine = ['--board', release, '--supply', '24V/6.5A', '--installed', '31', '--format', 'json'];
    const cards: [string, number, string[]][] = [
      ['tansy-fit', 0, []],
      ['tansy-large-supply', 1, ['machine/supply']],
      ['tansy-older-loader', 1, ['machine/loader-generation']],
    ];
    for (const [card, exit, rules] of cards) {
      const { code, out } = run('check', `samples/cards/${card}.img.gz`, ...machine);
      const { findings } = JSON.parse(out) as {
        findings: { rule: string; outcome: string; hazard: string }[];
      };
      const failed = findings.filter(({ outcome, hazard }) => outcome === 'failed' && hazard !== 'advice');
      expect({ code, rules: failed.map(({ rule }) => rule) }).toEqual({ code: exit, rules });
    }
  });
});

describe('questions on a terminal', () => {
  const { profile } = readProfile(readFileSync(join(root, release, 'board.yaml'), 'utf8'), 'board.yaml');
  /** What was told after these lines were typed; null stands for the end of the input. */
  const told = async (...typed: (string | null)[]) => {
    const asked: string[] = [];
    const lines = [...typed];
    const { options } = await askOpenQuestions(
      { options: {}, machine: { answers: {} } },
      (machine) => openQuestions(profile, machine, null),
      {
        ask: async (text) => {
          asked.push(text);
          return lines.shift() ?? null;
        },
        end: () => {},
      },
      (stated) => machineFromOptions(stated, profile),
      80,
    );
    return { options, asked };
  };

  it('are asked until the build is decided, in the words of the profile', async () => {
    const { options, asked } = await told('2', '31');
    expect(options).toMatchObject({ supply: 'large', installed: '31' });
    expect(asked).toHaveLength(2);
    expect(asked[0]).toContain('  1  24 V 6.5 A (small)');
    expect(asked[1]).toContain('Which release runs now?');
  });

  it('take a label, a name and a number, and ask again after a wrong answer', async () => {
    expect((await told('24 V 15 A', '31')).options.supply).toBe('large');
    expect((await told('24V/9A', '31')).options.supply).toBe('24V/9A');
    expect((await told('SMALL', '31')).options.supply).toBe('small');
    const wrong = await told('plenty', '1', 'thirty', '31');
    expect(wrong.options).toMatchObject({ supply: 'small', installed: '31' });
    expect(wrong.asked[1]).toMatch(/^'plenty' is no supply[\s\S]*Once more: $/);
    // After three wrong answers it is left open.
    expect((await told('a', 'b', 'c', '31')).options).toEqual({ installed: '31', sets: undefined });
  });

  it('follow an answer with the question that it leads to', async () => {
    const { options, asked } = await told('1', 'none', '23');
    expect(options).toMatchObject({ supply: 'small', installed: 'none', was: '23' });
    expect(asked[2]).toContain('Which release ran last?');
  });

  it('are left open by an empty line, and end with the input', async () => {
    expect((await told('', '31')).options).toMatchObject({ installed: '31' });
    expect((await told('', '31')).options.supply).toBeUndefined();
    expect((await told(null)).asked).toHaveLength(1);
  });

  it('number no answers that are numbers themselves', () => {
    const question: Question = {
      axis: 'panel',
      ask: 'How many panels?',
      possible: [{ value: '2' }, { value: '1' }],
      option: '--set panel=2',
    };
    expect(answerFrom(question, '1')).toBe('1');
    expect(questionText(question, 80)).toContain('  - 2');
    expect(answerFrom({ ...question, possible: [{ value: 'one' }, { value: 'two' }] }, '2')).toBe('two');
    expect(answerFrom(question, '  ')).toBeNull();
  });

  it('are put where somebody sits, and the report goes to standard output alone', () => {
    const inner = `${process.execPath} dist/flashworthy.js choose ${release} --format json >${join(work, 'out.json')}`;
    const { status, stdout } = spawnSync('script', ['-qec', inner, '/dev/null'], {
      cwd: root,
      encoding: 'utf8',
      input: '2\n31\n',
      timeout: 20_000,
    });
    expect(status).toBe(0);
    expect(stdout).toContain('What does the label of the power supply say?');
    expect(JSON.parse(readFileSync(join(work, 'out.json'), 'utf8'))).toMatchObject({
      build: 'full-newer',
      next: `flashworthy check CARD --board ${release} --supply large --installed 31`,
    });
  });
});
