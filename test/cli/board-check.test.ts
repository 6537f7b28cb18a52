import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readProfile } from '../../src/board/read.js';
import { checkBoard, type RuleOutline } from '../../src/board/soundness.js';
import { type Processor, processorOf, processorTable } from '../../src/firmware/processors.js';
import type { BoardCheck } from '../../src/report/board-check.js';
import type { RuleSet } from '../../src/rules/rule.js';

const root = join(import.meta.dirname, '..', '..');
const json = (path: string): unknown => JSON.parse(readFileSync(join(root, path), 'utf8'));
const sample = (name: string): string => readFileSync(join(root, `samples/boards/${name}.yaml`), 'utf8');
const rules: RuleOutline[] = (json('dist/rules.json') as RuleSet).rules.map((rule) => ({
  id: rule.id,
  keystone: rule.keystone,
  hazards: rule.hazard.map(({ is }) => is),
  touches: rule.touches,
}));
const processors = processorTable(json('dist/processors.json') as Processor[]);

/** What is said of a profile, each as `level path: text`. */
function remarksOn(text: string, release: string | null = null): string[] {
  const { profile } = readProfile(text, 'board.yaml');
  const said = profile.processor;
  const processor = said === undefined || said === 'any' ? null : processorOf(said, processors);
  return checkBoard(profile, { rules, processor, release }).remarks.map(
    ({ level, path, text: words }) => `${level} ${path.join('.')}: ${words}`,
  );
}

/** The Tansy with something changed; the text that is replaced must be there. */
function tansy(from: string | RegExp, to: string): string {
  const text = sample('tansy');
  const changed = text.replace(from, to);
  expect(changed).not.toBe(text);
  return changed;
}

const withWaiver = (waiver: string): string => `${sample('tansy')}\nwaive:\n  - ${waiver}\n`;
const goodWaiver =
  '{ rule: volume/clean-shutdown, because: "The loader never looks at the mark, as 40 cards showed.", until: "32" }';

describe('soundness', () => {
  it('finds nothing in the samples', () => {
    for (const name of ['tansy', 'clinker', 'burr']) expect(remarksOn(sample(name))).toEqual([]);
    expect(remarksOn(sample('tansy'), '31')).toEqual([]);
  });

  it.each([
    [
      'a core key that says nothing',
      tansy(/^ {2}partitioning: .*\n/m, ''),
      /^fault loader: loader.partitioning is left out/,
    ],
    [
      'an application area outside the flash memory',
      tansy('start: 0x08010000, bytes: 832KiB', 'start: 0x20000000, bytes: 64KiB'),
      /^fault memory.application.1: .*flash memory of the STM32F407VG/,
    ],
    [
      'a processor that is not known',
      tansy('STM32F407VG', 'LK32F999'),
      /^fault processor: .*not in the table/,
    ],
    [
      'a machine for which no build is safe',
      tansy('needs: { volts: 24, amps: 6.5 }', 'needs: { volts: 24, amps: 8 }'),
      /^fault builds: No build is safe for/,
    ],
    [
      'two builds for one machine',
      tansy(/(id: full-older[\s\S]*?for: \{ loader: )older/, '$1[older, newer]'),
      /^fault builds: .*equally strong/,
    ],
    [
      'a build that no machine can use',
      tansy(/(id: full-older[\s\S]*?needs: \{ volts: 24, amps: )9/, '$130'),
      /^fault builds.1: full-older is safe for no machine/,
    ],
    [
      'a build that is never chosen',
      tansy(
        /^ {2}- id: limited-older/m,
        '  - { id: spare, title: Spare, kind: application, files: [builds/SPARE.LKF], for: { loader: older }, needs: { volts: 24, amps: 6 }, heaters: { together: [[base]], limit: { amps: 5, kind: peak } }, marker: { text: LKF-SPARE } }\n  - id: limited-older',
      ),
      /^advice builds.3: spare is never the one/,
    ],
    [
      'a build that draws more than the supply it asks for',
      tansy(
        'together: [[bed, base], [hotend, base]]\n      limit: { amps: 6.2, kind: peak }',
        'together: [[bed, hotend, base]]',
      ),
      /^fault builds.2.needs: limited-newer asks for a supply of 24 V and 6.5 A \(156 W\), but .* 19[0-9.]+ W/,
    ],
    [
      'a waiver of no rule',
      withWaiver('{ rule: volume/nothing, because: "It has always been so here." }'),
      /^fault waive.0.rule: There is no rule/,
    ],
    [
      'a waiver of a keystone',
      withWaiver('{ rule: image/known-build, because: "It has always been so here." }'),
      /^fault waive.0.rule: .*keystone/,
    ],
    [
      'a waiver of an unsafe machine',
      withWaiver('{ rule: power/peak, because: "It has always been so here." }'),
      /^fault waive.0.rule: .*unsafe/,
    ],
    [
      'a waiver of advice',
      withWaiver('{ rule: card/litter, because: "It has always been so here." }'),
      /^advice waive.0.rule: .*only advice/,
    ],
    [
      'a waiver without a reason',
      withWaiver('{ rule: volume/clean-shutdown, because: ok, until: "32" }'),
      /^fault waive.0.because/,
    ],
    [
      'a waiver that is past',
      withWaiver(goodWaiver.replace('"32"', '"30"')),
      /^fault waive.0.until: .*until release 30, and this is release 31/,
    ],
    ['a waiver for ever', withWaiver(goodWaiver.replace(', until: "32"', '')), /^advice waive.0: .*no until/],
    ['a guide that does not say the way back', tansy(/^ {2}wayBack: .*\n/m, ''), /^advice guide: .*wayBack/],
    ['something hot, and no caution', tansy(/^cautions: .*\n/m, ''), /^advice loads: .*hot/],
  ])('tells of %s', (_what, text, expected) => {
    const remarks = remarksOn(text, '31');
    expect(remarks.filter((remark) => expected.test(remark))).toHaveLength(1);
  });

  it('accepts a waiver with a reason, whose release is still to come', () => {
    expect(remarksOn(withWaiver(goodWaiver), '31')).toEqual([]);
    expect(remarksOn(withWaiver(goodWaiver))).toEqual([]);
  });
});

describe('board check', () => {
  let work: string;
  beforeAll(() => {
    work = mkdtempSync(join(tmpdir(), 'flashworthy-board-'));
  });
  afterAll(() => rmSync(work, { recursive: true, force: true }));

  const validate = new Ajv2020({ allErrors: true, allowUnionTypes: true }).compile(
    json('src/report/schema/board-check.schema.json') as object,
  );
  function run(...args: string[]): { code: number | null; out: string; err: string } {
    const { status, stdout, stderr } = spawnSync(
      process.execPath,
      ['dist/flashworthy.js', 'board', ...args],
      {
        cwd: root,
        encoding: 'utf8',
      },
    );
    return { code: status, out: stdout, err: stderr };
  }
  function checked(path: string): { code: number | null; report: BoardCheck } {
    const { code, out, err } = run('check', path, '--format', 'json');
    expect(err).toBe('');
    const report = JSON.parse(out) as BoardCheck;
    validate(report);
    expect(validate.errors).toBeNull();
    return { code, report };
  }

  it('accepts a release folder, and says what the profile leaves out', () => {
    const { code, report } = checked('samples/releases/tansy-31');
    expect(code).toBe(0);
    expect(report).toMatchObject({ sound: true, problems: [], board: { id: 'tansy' } });
    expect(report.silent).toContainEqual({
      key: 'loader.cardBytes',
      core: false,
      rules: ['card/exact-size'],
    });
    const { out } = run('check', 'samples/releases/tansy-31');
    expect(out).toMatch(/^SOUND/);
    expect(Math.max(...out.split('\n').map((line) => line.length))).toBeLessThanOrEqual(80);
  });

  it('places each fault, and a profile that cannot be read is one', () => {
    const path = join(work, 'faulty.yaml');
    writeFileSync(path, withWaiver(goodWaiver.replace('clean-shutdown', 'clean')));
    const faulty = checked(path);
    expect(faulty.code).toBe(1);
    const line =
      readFileSync(path, 'utf8')
        .split('\n')
        .findIndex((text) => text.includes('volume/clean')) + 1;
    expect(faulty.report.problems).toMatchObject([{ level: 'fault', file: path, line }]);

    writeFileSync(path, tansy('id: tansy', 'id: tansy\nkolour: red'));
    const unreadable = checked(path);
    expect(unreadable.code).toBe(1);
    expect(unreadable.report).toMatchObject({ board: null, sound: false, coverage: null });
    expect(unreadable.report.problems[0]).toMatchObject({ level: 'wrong', line: 6, column: 1 });
  });

  it('ends with 66 and 64 where it is wrongly used', () => {
    expect(run('check', join(work, 'nothing.yaml')).code).toBe(66);
    expect(run('check').code).toBe(64);
    expect(run('chek', 'x').err).toContain('did you mean check?');
    expect(run().err).toContain('name what to do');
  });

  it('holds the waivers of a release folder against its manifest', () => {
    const folder = join(work, 'release');
    cpSync(join(root, 'samples/releases/tansy-31'), folder, { recursive: true });
    writeFileSync(join(folder, 'board.yaml'), withWaiver(goodWaiver.replace('"32"', '"30"')));
    expect(checked(folder).report.problems).toMatchObject([
      { level: 'fault', text: expect.stringContaining('until release 30') },
    ]);
  });
});
