import { describe, expect, test } from 'vitest';
import { parse, parseDocument } from 'yaml';
import { proveChoice } from '../../src/board/axes-proof.js';
import { cellsOf } from '../../src/board/cells.js';
import type { Profile } from '../../src/board/profile.js';
import { compareValues, inRange } from '../../src/board/ranges.js';
import { readProfile } from '../../src/board/read.js';
import { profileOf, sample, sampleText } from './profiles.js';

/** The Tansy with some keys set to other values, or cut out. */
function tansyWith(changes: readonly [path: readonly (string | number)[], value?: unknown][]): Profile {
  const document = parseDocument(sampleText('tansy'));
  for (const [path, value] of changes)
    if (value === undefined) document.deleteIn(path);
    else document.setIn(path, document.createNode(value));
  return readProfile(String(document), 'tansy.yaml').profile;
}
const problems = (profile: Profile): string[] => proveChoice(profile).problems.map((one) => one.text);

describe('the sample boards are proved', () => {
  test('Tansy: three kinds of releases, two supplies, one build each', () => {
    const proof = proveChoice(sample('tansy'));
    expect(proof).toMatchObject({ state: 'proved', problems: [], neverPreferred: [] });
    expect(proof.rows.map((row) => [row.tested.installed, row.supply?.amps, row.preferred])).toEqual([
      ['23', 6.5, 'limited-older'],
      ['23', 15, 'full-older'],
      ['24', 6.5, 'limited-newer'],
      ['24', 15, 'full-newer'],
      ['25', 6.5, 'limited-newer'],
      ['25', 15, 'full-newer'],
    ]);
    expect(proof.rows[0]).toEqual({
      machine: { installed: 'release below 24', loader: 'boot loader older' },
      tested: { installed: '23', loader: 'older' },
      supply: { id: 'small', volts: 24, amps: 6.5 },
      safe: ['limited-older'],
      preferred: 'limited-older',
      // In the order of the profile; by hand: 9 A are more than 6.5, and the newer boot loader is not the older one.
      fits: ['both', 'supply', 'machine', 'preferred'],
    });
    expect(proof.rows[3]?.fits).toEqual(['preferred', 'machine', 'safe', 'machine']);
    expect(proof.rows[3]?.safe).toEqual(['full-newer', 'limited-newer']);
    expect(proof.voltagesTested).toEqual([12, 23.976, 24.024, 48]);
  });

  test('Clinker: each revision has one build', () => {
    const proof = proveChoice(sample('clinker'));
    expect(proof.state).toBe('proved');
    expect(proof.rows.map((row) => [row.tested.boardRevision, row.preferred])).toEqual([
      ['A', 'clinker-ab'],
      ['B', 'clinker-ab'],
      ['C', 'clinker-c'],
    ]);
  });

  test('Burr takes every build, so there is nothing to prove', () => {
    expect(proveChoice(sample('burr')).state).toBe('any');
    expect(proveChoice(profileOf('')).state).toBe('silent');
  });
});

describe('planted gaps and overlaps', () => {
  test('a build that was forgotten: the machines that have none', () => {
    expect(problems(tansyWith([[['builds', 3]], [['whenUnsure'], ['limited-newer']]]))).toEqual([
      'No build is safe for a machine with release below 24 and the supply 24 V 6.5 A.',
      'whenUnsure names no build that every listed supply can feed for a machine with release below 24.',
    ]);
  });

  test('a supply that was forgotten', () => {
    expect(
      problems(tansyWith([[['supplies', 2], { id: 'tiny', title: '24 V 4 A', volts: 24, amps: 4 }]])),
    ).toEqual([
      'No build is safe for a machine with the supply 24 V 4 A.',
      'whenUnsure names no build that every listed supply can feed for any machine.',
    ]);
  });

  test('a stretch of releases between two builds', () => {
    const profile = profileOf(`
releases: { numbering: integer }
builds:
  - { id: old, title: O, kind: application, files: [o], for: { installed: "<20" } }
  - { id: new, title: N, kind: application, files: [n], for: { installed: ">22" } }
`);
    expect(problems(profile)).toEqual([
      'No build is safe for a machine with release 20 or later and 22 or lower.',
    ]);
    expect(proveChoice(profile).problems[0]).toMatchObject({ kind: 'gap', builds: [], rows: 3 });
  });

  test('one release that two builds claim', () => {
    const profile = profileOf(`
releases: { numbering: dotted }
builds:
  - { id: old, title: O, kind: application, files: [o], for: { installed: "<=1.10" } }
  - { id: new, title: N, kind: application, files: [n], for: { installed: ">=1.10" } }
`);
    expect(proveChoice(profile).problems).toEqual([
      {
        kind: 'overlap',
        text: 'old and new are equally strong and all safe for a machine with release 1.10: nothing says which is meant.',
        builds: ['old', 'new'],
        rows: 1,
      },
    ]);
  });

  test('an end point that belongs to neither side', () => {
    const profile = profileOf(`
axes: [{ id: made, ask: When?, numbering: date }]
builds:
  - { id: old, title: O, kind: application, files: [o], for: { made: "<2024-02-29" } }
  - { id: new, title: N, kind: application, files: [n], for: { made: ">2024-02-29" } }
`);
    expect(problems(profile)).toEqual(['No build is safe for a machine with made 2024-02-29.']);
  });

  test('a build that names no voltage is refused with a voltage that is not listed all the same', () => {
    const proof = proveChoice(tansyWith([[['builds', 0, 'needs', 'volts']]]));
    expect(proof.voltagesTested).toEqual([12, 23.976, 24.024, 48]);
    expect(proof.problems).toEqual([]);
  });

  test('needs without any listed supply cannot be tested', () => {
    expect(proveChoice(tansyWith([[['supplies']]])).problems.map((one) => one.kind)).toContain(
      'supplies-not-listed',
    );
  });

  test('a build for a voltage with which the board was never sold is preferred nowhere', () => {
    const proof = proveChoice(tansyWith([[['builds', 0, 'needs', 'volts'], 36]]));
    expect(proof.neverPreferred).toEqual(['full-newer']);
    expect(proof.voltagesTested).toContain(36);
    expect(proof.problems.filter((one) => one.kind === 'voltage')).toEqual([]);
  });

  test('whenUnsure that names the strong build', () => {
    expect(problems(tansyWith([[['whenUnsure'], ['full-newer', 'limited-older']]]))).toEqual([
      'whenUnsure names no build that every listed supply can feed for a machine with release 24 or later.',
    ]);
  });

  test('releases for which no loader is named are tried with each loader', () => {
    const axes = parse(sampleText('tansy')).axes;
    axes[1].from.newer.installed = '>=30';
    const proof = proveChoice(tansyWith([[['axes'], axes]]));
    const between = proof.rows.filter((row) => row.tested.installed === '25');
    expect(new Set(between.map((row) => row.tested.loader))).toEqual(new Set(['older', 'newer']));
    expect(proof.state).toBe('proved');
  });

  test('too many kinds of machines: nothing is proved', () => {
    const ids = Array.from({ length: 20 }, (_, index) => `q${index}`);
    const profile = profileOf(
      `axes:\n${ids.map((id) => `  - { id: ${id}, ask: Which?, values: [a, b] }`).join('\n')}\nbuilds: [{ id: x, title: X, kind: application, files: [x], for: { ${ids.map((id) => `${id}: a`).join(', ')} } }]\n`,
    );
    expect(proveChoice(profile)).toMatchObject({ state: 'over-limit', rows: [], problems: [] });
  });
});

describe('where answers are cut', () => {
  const profile = profileOf(`
axes:
  - { id: whole, ask: a, numbering: integer }
  - { id: dotted, ask: b, numbering: dotted }
  - { id: day, ask: c, numbering: date }
  - { id: letter, ask: d, values: [A, B] }
`);
  test.each([
    ['whole', ['>=20 <31'], ['19', '20', '21', '31', '32']],
    ['whole', ['<=0', '1'], ['0', '1', '2']],
    ['whole', ['3', '>=4'], ['2', '3', '4', '5']],
    ['dotted', ['<1.9', '>=1.10'], ['1.8', '1.9', '1.9.1', '1.10', '1.11']],
    ['dotted', ['2.0', '2.0.0'], ['1', '2.0', '2.1']],
    ['dotted', ['>=0'], ['0', '1']],
    ['dotted', ['1.2', '1.2.1'], ['1.1', '1.2', '1.2.0.1', '1.2.1', '1.2.2']],
    ['day', ['<2024-03-01'], ['2024-02-29', '2024-03-01', '2024-03-02']],
    ['day', [['2024-12-31', '2025-01-01']], ['2024-12-30', '2024-12-31', '2025-01-01', '2025-01-02']],
    ['letter', ['A'], ['A', 'B']],
  ] as [string, (string | string[])[], string[]][])('%s at %j', (axis, ranges, expected) => {
    const cells = cellsOf(profile, axis, ranges);
    expect(cells.map((cell) => cell.value)).toEqual(expected);
    const numbering = ({ whole: 'integer', dotted: 'dotted', day: 'date' } as const)[axis];
    if (!numbering) return;
    // In ascending order, and each value lies where its cell says.
    for (const [index, cell] of cells.entries()) {
      if (index > 0) expect(compareValues(cells[index - 1]!.value, cell.value, numbering)).toBeLessThan(0);
      if (cell.kind === 'between')
        expect(inRange(cell.value, `>${cell.from} <${cell.to}`, numbering)).toBe(true);
    }
  });
});
