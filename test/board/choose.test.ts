import { describe, expect, test } from 'vitest';
import { type Choice, chooseBuild, type Fitness, machinesText } from '../../src/board/choose.js';
import type { Profile } from '../../src/board/profile.js';
import { limits } from '../../src/bytes/limits.js';
import { type MachineOptions, machineFromOptions } from '../../src/machine/machine.js';
import { profileOf, sample } from './profiles.js';

const tansy = sample('tansy');
const clinker = sample('clinker');

function choose(profile: Profile, options: MachineOptions): Choice {
  const { machine, problems } = machineFromOptions(options, profile);
  expect(problems).toEqual([]);
  return chooseBuild(profile, machine);
}
const fitness = (choice: Choice): Record<string, Fitness> =>
  Object.fromEntries(choice.builds.map((one) => [one.build.id, one.fitness]));
const textOf = (choice: Choice, id: string): string | undefined =>
  choice.builds.find((one) => one.build.id === id)?.text;
const asked = (choice: Choice): string[] => choice.questions.map((one) => one.axis);

describe('the four Tansy machines', () => {
  // Written down from the labels: the full builds want 9 A, the limited ones 6.5 A; release 24 brought the newer loader.
  const table = [
    {
      machine: { supply: '24V/15A', installed: '31' },
      preferred: 'full-newer',
      fitness: {
        'full-newer': 'safe',
        'full-older': 'wrong',
        'limited-newer': 'safe',
        'limited-older': 'wrong',
      },
    },
    {
      machine: { supply: '24V/15A', installed: '23' },
      preferred: 'full-older',
      fitness: {
        'full-newer': 'wrong',
        'full-older': 'safe',
        'limited-newer': 'wrong',
        'limited-older': 'safe',
      },
    },
    {
      machine: { supply: '24V/6.5A', installed: '24' },
      preferred: 'limited-newer',
      fitness: {
        'full-newer': 'unsafe',
        'full-older': 'unsafe',
        'limited-newer': 'safe',
        'limited-older': 'wrong',
      },
    },
    {
      machine: { supply: '24V/6.5A', installed: '7' },
      preferred: 'limited-older',
      fitness: {
        'full-newer': 'unsafe',
        'full-older': 'unsafe',
        'limited-newer': 'wrong',
        'limited-older': 'safe',
      },
    },
  ];
  test.each(table)('$preferred for $machine', ({ machine, preferred, fitness: expected }) => {
    const choice = choose(tansy, machine);
    expect(choice.outcome).toBe('one');
    expect(choice.preferred).toBe(preferred);
    expect(choice.questions).toEqual([]);
    expect(fitness(choice)).toEqual(expected);
    for (const one of choice.builds) expect(one.text, one.build.id).not.toBe('');
  });

  test('each build that is not for a machine says why', () => {
    const small = choose(tansy, { supply: 'small', installed: '31' });
    expect(textOf(small, 'full-newer')).toBe('needs a supply of 24 V and 9 A; this machine has 6.5 A');
    expect(textOf(small, 'limited-older')).toBe(
      'is for the older boot loader; this machine has the newer one',
    );
    expect(textOf(small, 'full-older')).toBe(
      'needs a supply of 24 V and 9 A; this machine has 6.5 A; is for the older boot loader; this machine has the newer one',
    );
  });

  test('the limited build on the large supply is safe, only weaker', () => {
    const large = choose(tansy, { supply: 'large', installed: '31' });
    expect(large.builds.find((one) => one.build.id === 'limited-newer')).toMatchObject({
      fitness: 'safe',
      reasons: [{ kind: 'weaker', than: 'full-newer' }],
    });
  });

  test('a boot loader that the owner names counts before the one that follows', () => {
    expect(choose(tansy, { supply: 'large', sets: { loader: 'older' } }).preferred).toBe('full-older');
  });

  test('what ran last stands for what runs', () => {
    const choice = choose(tansy, { supply: 'small', installed: 'none', was: '23' });
    expect(choice.preferred).toBe('limited-older');
  });
});

describe('supplies', () => {
  test('a larger current is enough, a smaller one never', () => {
    expect(choose(tansy, { supply: '24V/9A', installed: '31' }).preferred).toBe('full-newer');
    expect(choose(tansy, { supply: '24V/8.9A', installed: '31' }).preferred).toBe('limited-newer');
    expect(choose(tansy, { supply: '24V/6.4A', installed: '31' })).toMatchObject({
      outcome: 'none',
      preferred: null,
      text: 'No build of this release is safe for this machine.',
    });
  });

  test.each(['12V/30A', '23.9V/15A', '24.1V/15A', '48V/15A'])(
    'a voltage that is not listed is refused: %s',
    (supply) => {
      const choice = choose(tansy, { supply, installed: '31' });
      expect(choice.outcome).toBe('none');
      expect(new Set(Object.values(fitness(choice)))).toEqual(new Set(['unsafe']));
    },
  );

  test('24.0 on a label is 24', () => {
    expect(choose(tansy, { supply: '24.0V/15.00A', installed: '31' }).preferred).toBe('full-newer');
  });

  test('a voltage that is not listed is refused even by a build that names none', () => {
    const profile = profileOf(
      'supplies: [{ id: a, title: A, volts: 24, amps: 5 }]\nbuilds: [{ id: b, title: B, kind: application, files: [b] }]\n',
    );
    expect(choose(profile, { supply: '12V/5A' })).toMatchObject({
      outcome: 'none',
      builds: [
        {
          fitness: 'unsafe',
          text: 'this board is made for 24 V; this machine has a supply of 12 V',
          reasons: [{ kind: 'voltage-not-listed', has: 12, listed: [24] }],
        },
      ],
    });
  });

  test('an owner who cannot read the label gets the build of whenUnsure, and it is safe', () => {
    const choice = choose(tansy, { supply: 'unsure', installed: '23' });
    expect(choice.preferred).toBe('limited-older');
    expect(choice.questions).toEqual([]);
    expect(fitness(choice)).toEqual({
      'full-newer': 'wrong',
      'full-older': 'unknown',
      'limited-newer': 'wrong',
      'limited-older': 'safe',
    });
  });

  test('whenUnsure is not believed when a listed supply cannot feed it', () => {
    const profile = profileOf(`
supplies: [{ id: a, title: A, volts: 24, amps: 5 }, { id: b, title: B, volts: 24, amps: 9 }]
builds: [{ id: strong, title: S, kind: application, files: [s], needs: { volts: 24, amps: 9 } }]
whenUnsure: strong
`);
    const choice = choose(profile, { supply: 'unsure' });
    expect(choice).toMatchObject({ outcome: 'none', preferred: null, builds: [{ fitness: 'unknown' }] });
    expect(choice.text).toContain('the label of the supply has to be read');
  });
});

describe('questions', () => {
  test('nothing told: both questions, in plain words, and no build is called safe', () => {
    const choice = chooseBuild(tansy, null);
    expect(choice.outcome).toBe('open');
    expect(choice.preferred).toBeNull();
    expect(asked(choice)).toEqual(['supply', 'installed']);
    expect(choice.questions[0]?.possible?.map((one) => one.value)).toEqual(['small', 'large', 'unsure']);
    expect(choice.questions[1]).toMatchObject({
      ask: 'Which release runs now?',
      option: '--installed RELEASE',
      help: 'The start-up screen shows it for three seconds. It also stands in the menu under About.',
    });
    expect(new Set(Object.values(fitness(choice)))).toEqual(new Set(['unknown']));
  });

  test('only what is open is asked', () => {
    expect(asked(choose(tansy, { supply: 'small' }))).toEqual(['installed']);
    expect(asked(choose(tansy, { installed: '31' }))).toEqual(['supply']);
    expect(asked(choose(tansy, { sets: { loader: 'newer' } }))).toEqual(['supply']);
  });

  test('a supply that was not told leaves every build open that needs one', () => {
    const choice = choose(tansy, { installed: '31' });
    expect(fitness(choice)).toEqual({
      'full-newer': 'unknown',
      'full-older': 'wrong',
      'limited-newer': 'unknown',
      'limited-older': 'wrong',
    });
    expect(choice.builds[2]?.settle).toBe(
      'read the label of the supply and say it: --supply 24V/6.5A, or --supply unsure',
    );
  });

  test('on a machine on which nothing runs, the release that ran last is asked', () => {
    expect(choose(tansy, { supply: 'small', installed: 'none' }).questions).toMatchObject([
      { axis: 'installed', ask: 'Which release ran last?', option: '--was RELEASE' },
    ]);
  });

  test('a question whose every answer leads to the same build is not asked', () => {
    // One supply, and two revisions that share a build: only the revision matters, and not when the machine was made.
    expect(asked(chooseBuild(clinker, null))).toEqual(['boardRevision']);
    const choice = choose(clinker, { sets: { boardRevision: 'A' } });
    expect(choice).toMatchObject({ outcome: 'one', preferred: 'clinker-ab', questions: [] });
    expect(choice.assumes).toBe('the power supply is one with which this board was sold: 12 V 3 A');
    expect(choose(clinker, { supply: '12V/3A', sets: { boardRevision: 'A' } }).assumes).toBeNull();
  });

  test('a question is asked only on the machines on which it matters', () => {
    const profile = profileOf(`
axes:
  - { id: rev, ask: Which revision?, values: [A, B] }
  - { id: chip, ask: Which chip?, values: [one, two] }
builds:
  - { id: a, title: A, kind: application, files: [a], for: { rev: A } }
  - { id: b1, title: B1, kind: application, files: [b1], for: { rev: B, chip: one } }
  - { id: b2, title: B2, kind: application, files: [b2], for: { rev: B, chip: two } }
`);
    expect(asked(chooseBuild(profile, null))).toEqual(['rev', 'chip']);
    expect(asked(choose(profile, { sets: { rev: 'B' } }))).toEqual(['chip']);
    expect(choose(profile, { sets: { rev: 'A' } })).toMatchObject({ preferred: 'a', questions: [] });
    expect(textOf(choose(profile, { sets: { rev: 'A' } }), 'b1')).toBe('is for rev B; this machine has A');
  });

  test('a release for which the profile names no loader: the loader is asked', () => {
    const profile = profileOf(`
axes:
  - { id: installed, ask: Which release?, numbering: integer }
  - { id: loader, ask: Which loader?, from: { old: { installed: "<20" }, new: { installed: ">=30" } } }
builds:
  - { id: o, title: O, kind: application, files: [o], for: { loader: old } }
  - { id: n, title: N, kind: application, files: [n], for: { loader: new } }
`);
    expect(asked(choose(profile, { installed: '25' }))).toEqual(['loader']);
    expect(choose(profile, { installed: '19' }).preferred).toBe('o');
    expect(choose(profile, { installed: '30' }).preferred).toBe('n');
  });
});

describe('what is preferred', () => {
  const builds = (extra: string): Profile =>
    profileOf(`
supplies: [{ id: a, title: A, volts: 24, amps: 10 }]
loads: [{ id: bed, watts: 100 }, { id: tool, watts: 40 }]
builds:
${extra}`);

  test('a build that replaces the boot loader never is, however strong', () => {
    const profile = builds(`
  - { id: plain, title: P, kind: application, files: [p], needs: { volts: 24, amps: 3 } }
  - { id: all, title: A, kind: both, files: [a], needs: { volts: 24, amps: 9 } }
`);
    const choice = choose(profile, { supply: 'a' });
    expect(choice.preferred).toBe('plain');
    expect(textOf(choice, 'all')).toBe(
      'replaces the boot loader, which is never chosen without being asked for',
    );
  });

  test('among equal needs, the one without a limit, then the one that switches on more at once', () => {
    const limited = builds(`
  - { id: l, title: L, kind: application, files: [l], needs: { amps: 5 }, heaters: { limit: { amps: 4, kind: peak } } }
  - { id: f, title: F, kind: application, files: [f], needs: { amps: 5 } }
`);
    expect(choose(limited, { supply: 'a' }).preferred).toBe('f');
    const turns = builds(`
  - { id: t, title: T, kind: application, files: [t], needs: { amps: 5 }, heaters: { together: [[bed], [tool]] } }
  - { id: f, title: F, kind: application, files: [f], needs: { amps: 5 }, heaters: { together: [[bed, tool]] } }
`);
    expect(choose(turns, { supply: 'a' }).preferred).toBe('f');
  });

  test('two that are equally strong: none, and both are named', () => {
    const twins = `
  - { id: one, title: O, kind: application, files: [o], needs: { amps: 5 } }
  - { id: two, title: T, kind: application, files: [t], needs: { amps: 5 } }
`;
    const choice = choose(builds(twins), { supply: 'a' });
    expect(choice).toMatchObject({ outcome: 'tie', preferred: null, tied: ['one', 'two'] });
    expect(choice.text).toContain('one and two are equally strong');
    // Unless the author says that it does not matter which.
    expect(choose(builds(`${twins}\nprefer: any\n`), { supply: 'a' }).preferred).toBe('one');
  });

  test('every build is accepted, or none is named: nothing is chosen', () => {
    expect(chooseBuild(sample('burr'), null)).toMatchObject({ outcome: 'any', preferred: null, builds: [] });
    expect(chooseBuild(profileOf(''), null)).toMatchObject({ outcome: 'silent', preferred: null });
  });
});

test('for which machines a build is, in words', () => {
  const builds = Array.isArray(clinker.builds) ? clinker.builds : [];
  expect(machinesText(clinker, builds[0]!)).toBe('machines with board revision A or B and a supply of 12 V');
  const { axes } = profileOf('axes: [{ id: made, ask: When?, numbering: date }]\n');
  const dated = { ...clinker, axes };
  expect(machinesText(dated, { ...builds[0]!, needs: undefined, for: { made: '<2025-06-01' } })).toBe(
    'machines with made before 2025-06-01',
  );
  expect(machinesText(clinker, { ...builds[0]!, needs: undefined, for: undefined })).toBe(
    'every machine with this board',
  );
});

test('more kinds of machines than are looked at: nothing is chosen and nothing hangs', () => {
  const ids = Array.from({ length: 12 }, (_, index) => `q${index}`);
  const values = Array.from({ length: 40 }, (_, index) => `"v${index}"`).join(', ');
  const builds = Array.from({ length: 40 }, (_, build) => {
    const condition = ids.map((id) => `${id}: v${build}`).join(', ');
    return `  - { id: b${build}, title: B, kind: application, files: [b], for: { ${condition} } }`;
  });
  const profile = profileOf(
    `axes:\n${ids.map((id) => `  - { id: ${id}, ask: Which?, values: [${values}] }`).join('\n')}\nbuilds:\n${builds.join('\n')}\n`,
  );
  expect(40 ** 12).toBeGreaterThan(limits.machines);
  const choice = chooseBuild(profile, null);
  expect(choice).toMatchObject({ outcome: 'open', preferred: null });
  expect(asked(choice)).toEqual(ids);
  expect(new Set(Object.values(fitness(choice)))).toEqual(new Set(['unknown']));
  // With the answers given the same profile has one build for the machine.
  const sets = Object.fromEntries(ids.map((id) => [id, 'v7']));
  expect(choose(profile, { sets }).preferred).toBe('b7');
});

test('answers that the profile does not know are no answers', () => {
  const choice = chooseBuild(tansy, { installed: 'thirty', answers: { loader: 'unheard-of', other: 'x' } });
  expect(choice.outcome).toBe('open');
  expect(asked(choice)).toEqual(['supply', 'installed']);
});
