import fc from 'fast-check';
import { expect, test } from 'vitest';
import { proveChoice } from '../../src/board/axes-proof.js';
import { chooseBuild } from '../../src/board/choose.js';
import type { Profile } from '../../src/board/profile.js';
import type { Machine } from '../../src/machine/machine.js';
import { profileOf } from './profiles.js';

/**
 * The same choice made the slow way, over every single machine of a small world, by a reading of the contract of its
 * own: ranges are lists of the releases that lie in them, and no cell is ever cut.
 */
const releases = Array.from({ length: 13 }, (_, index) => index);
const revisions = ['A', 'B', 'C'];
const supplyPool = [
  { id: 's0', volts: 24, amps: 4 },
  { id: 's1', volts: 24, amps: 8 },
  { id: 's2', volts: 12, amps: 8 },
];

interface RangeOf {
  readonly text: string | string[];
  readonly inside: readonly number[];
}
const release = fc.integer({ min: 1, max: 11 });
const rangeOf: fc.Arbitrary<RangeOf> = fc.oneof(
  release.map((n) => ({ text: `<${n}`, inside: releases.filter((one) => one < n) })),
  release.map((n) => ({ text: `>=${n}`, inside: releases.filter((one) => one >= n) })),
  release.map((n) => ({ text: `${n}`, inside: [n] })),
  fc
    .uniqueArray(release, { minLength: 1, maxLength: 3 })
    .map((list) => ({ text: list.map(String), inside: list })),
  fc
    .tuple(release, release)
    .filter(([low, high]) => high - low > 1)
    .map(([low, high]) => ({
      text: `>${low} <${high}`,
      inside: releases.filter((one) => one > low && one < high),
    })),
);

interface BuildSpec {
  readonly kind: 'application' | 'both';
  readonly installed?: RangeOf;
  readonly revisions?: readonly string[];
  readonly loader?: string;
  readonly volts?: number;
  readonly amps?: number;
}
const option = <T>(arbitrary: fc.Arbitrary<T>): fc.Arbitrary<T | undefined> =>
  fc.option(arbitrary, { nil: undefined, freq: 2 });
const buildSpec: fc.Arbitrary<BuildSpec> = fc.record({
  kind: fc.constantFrom('application', 'application', 'application', 'both'),
  installed: option(rangeOf),
  revisions: option(fc.subarray(revisions, { minLength: 1 })),
  loader: option(fc.constantFrom('old', 'new')),
  volts: option(fc.constantFrom(24, 24, 12, 36)),
  amps: option(fc.constantFrom(3, 6, 8)),
}) as fc.Arbitrary<BuildSpec>;
const world = fc.record({
  cut: fc.integer({ min: 1, max: 11 }),
  supplies: fc.subarray(supplyPool, { minLength: 1 }),
  builds: fc.array(buildSpec, { minLength: 1, maxLength: 5 }),
  unsure: option(fc.integer({ min: 0, max: 4 })),
});
type World = typeof world extends fc.Arbitrary<infer T> ? T : never;

function profileFrom({ cut, supplies, builds, unsure }: World): Profile {
  const list = builds.map((build, index) => {
    const condition = {
      ...(build.installed ? { installed: build.installed.text } : {}),
      ...(build.revisions ? { rev: [...build.revisions] } : {}),
      ...(build.loader ? { loader: build.loader } : {}),
    };
    const needs = {
      ...(build.volts === undefined ? {} : { volts: build.volts }),
      ...(build.amps === undefined ? {} : { amps: build.amps }),
    };
    return {
      id: `b${index}`,
      title: 'B',
      kind: build.kind,
      files: ['b'],
      ...(Object.keys(condition).length > 0 ? { for: condition } : {}),
      ...(Object.keys(needs).length > 0 ? { needs } : {}),
    };
  });
  const axes = [
    { id: 'installed', ask: 'Which release?', numbering: 'integer' },
    { id: 'rev', ask: 'Which revision?', values: revisions },
    {
      id: 'loader',
      ask: 'Which loader?',
      from: { old: { installed: `<${cut}` }, new: { installed: `>=${cut}` } },
    },
  ];
  const whenUnsure = unsure === undefined ? '' : `whenUnsure: [b${unsure % builds.length}]\n`;
  return profileOf(
    `axes: ${JSON.stringify(axes)}\nsupplies: ${JSON.stringify(supplies.map((one) => ({ ...one, title: one.id })))}\nbuilds: ${JSON.stringify(list)}\n${whenUnsure}`,
  );
}

interface Plain {
  readonly installed: number;
  readonly rev: string;
  readonly supply: { readonly volts: number; readonly amps: number };
}
const made = (build: BuildSpec, machine: Plain, cut: number): boolean =>
  (build.installed === undefined || build.installed.inside.includes(machine.installed)) &&
  (build.revisions === undefined || build.revisions.includes(machine.rev)) &&
  (build.loader === undefined || build.loader === (machine.installed < cut ? 'old' : 'new'));
const fed = (build: BuildSpec, supply: Plain['supply'], world: World): boolean =>
  (build.volts ?? supply.volts) === supply.volts &&
  (build.amps ?? 0) <= supply.amps &&
  world.supplies.some((one) => one.volts === supply.volts);

/** Ids of the safe builds, and of the strongest of those that leave the boot loader alone. */
function slowly(machine: Plain, spec: World): { safe: string[]; best: string[] } {
  const safe = spec.builds
    .map((build, index) => ({ build, id: `b${index}` }))
    .filter(({ build }) => made(build, machine, spec.cut) && fed(build, machine.supply, spec));
  const usable = safe.filter(({ build }) => build.kind === 'application');
  const most = Math.max(...usable.map(({ build }) => build.amps ?? 0));
  return {
    safe: safe.map((one) => one.id),
    best: usable.filter(({ build }) => (build.amps ?? 0) === most).map((one) => one.id),
  };
}

const everyMachine = (spec: World): Plain[] =>
  releases.flatMap((installed) =>
    revisions.flatMap((rev) => spec.supplies.map((supply) => ({ installed, rev, supply }))),
  );

const asMachine = ({ installed, rev, supply }: Partial<Plain>): Machine => ({
  ...(installed === undefined ? {} : { installed: String(installed) }),
  ...(supply === undefined ? {} : { supply: { volts: supply.volts, amps: supply.amps } }),
  answers: rev === undefined ? {} : { rev },
});

const someMachine = fc.record({
  installed: fc.constantFrom(...releases),
  rev: fc.constantFrom(...revisions),
  supply: fc.constantFrom(
    ...supplyPool,
    { volts: 36, amps: 9 },
    { volts: 24, amps: 6 },
    { volts: 23.9, amps: 9 },
  ),
});

test('with everything told, the choice is that of the slow way', () => {
  fc.assert(
    fc.property(world, someMachine, (spec, machine) => {
      const choice = chooseBuild(profileFrom(spec), asMachine(machine));
      const { safe, best } = slowly(machine, spec);
      expect(choice.questions).toEqual([]);
      expect(choice.builds.filter((one) => one.fitness === 'safe').map((one) => one.build.id)).toEqual(safe);
      expect(choice.builds.some((one) => one.fitness === 'unknown')).toBe(false);
      expect(choice.preferred).toBe(best.length === 1 ? best[0] : null);
      expect(choice.tied).toEqual(best.length > 1 ? best : []);
      for (const one of choice.builds) expect(one.text).not.toBe('');
    }),
    { numRuns: 200 },
  );
});

test('with something left out: preferred only when every machine that it can be has the same one', () => {
  const told = fc.record({ installed: fc.boolean(), rev: fc.boolean(), supply: fc.boolean() });
  fc.assert(
    fc.property(world, someMachine, told, (spec, machine, says) => {
      const known: Partial<Plain> = {
        ...(says.installed ? { installed: machine.installed } : {}),
        ...(says.rev ? { rev: machine.rev } : {}),
        ...(says.supply ? { supply: machine.supply } : {}),
      };
      const choice = chooseBuild(profileFrom(spec), asMachine(known));
      const possible = everyMachine(spec)
        .map((one) => ({ ...one, ...known }))
        .map((one) => slowly(one, spec));
      const outcomes = new Set(possible.map(({ best }) => best.join(' ')));
      const [only] = outcomes;
      const isOne = outcomes.size === 1 && only !== '' && !only?.includes(' ');
      expect(choice.preferred).toBe(isOne ? only : null);
      expect(choice.outcome === 'open').toBe(outcomes.size > 1);
      expect(choice.questions.length > 0).toBe(outcomes.size > 1);
      // No build is called safe, or refused, that is not so on every machine that this can be.
      for (const { build, fitness } of choice.builds) {
        const verdicts = possible.map(({ safe }) => safe.includes(build.id));
        if (fitness === 'safe') expect(verdicts).not.toContain(false);
        if (fitness === 'unsafe' || fitness === 'wrong') expect(verdicts).not.toContain(true);
      }
      const preferred = choice.builds.find((one) => one.build.id === choice.preferred);
      if (preferred) expect(preferred.fitness).toBe('safe');
    }),
    { numRuns: 200 },
  );
});

test('each question that is asked can change the build, and none that was answered is asked', () => {
  const told = fc.record({ installed: fc.boolean(), rev: fc.boolean(), supply: fc.boolean() });
  fc.assert(
    fc.property(world, someMachine, told, (spec, machine, says) => {
      const known: Partial<Plain> = {
        ...(says.installed ? { installed: machine.installed } : {}),
        ...(says.rev ? { rev: machine.rev } : {}),
        ...(says.supply ? { supply: machine.supply } : {}),
      };
      const asked = chooseBuild(profileFrom(spec), asMachine(known)).questions.map((one) => one.axis);
      const keys = ['installed', 'rev', 'supply'] as const;
      const machines = everyMachine(spec).map((one) => ({ ...one, ...known }));
      const matters = keys.filter((key) => {
        const found = new Map<string, string>();
        return machines.some((one) => {
          const place = JSON.stringify({ ...one, [key]: null });
          const best = slowly(one, spec).best.join(' ');
          const other = found.get(place);
          found.set(place, best);
          return other !== undefined && other !== best;
        });
      });
      expect(new Set(asked)).toEqual(new Set(matters));
    }),
    { numRuns: 150 },
  );
});

test('an owner who is unsure never gets a build that a listed supply cannot feed', () => {
  fc.assert(
    fc.property(world, someMachine, (spec, { installed, rev }) => {
      const choice = chooseBuild(profileFrom(spec), { ...asMachine({ installed, rev }), supplyUnsure: true });
      if (choice.preferred === null) return;
      for (const supply of spec.supplies)
        expect(slowly({ installed, rev, supply }, spec).safe).toContain(choice.preferred);
      if (spec.unsure !== undefined) expect(choice.preferred).toBe(`b${spec.unsure % spec.builds.length}`);
    }),
    { numRuns: 150 },
  );
});

test('the proof finds exactly the machines without a build, and those with two', () => {
  fc.assert(
    fc.property(world, (spec) => {
      const proof = proveChoice(profileFrom(spec));
      const all = everyMachine(spec).map((one) => slowly(one, spec).best);
      const kinds = new Set(proof.problems.map((one) => one.kind));
      expect(kinds.has('gap')).toBe(all.some((best) => best.length === 0));
      expect(kinds.has('overlap')).toBe(all.some((best) => best.length > 1));
      const used = new Set(all.flatMap((best) => (best.length === 1 ? best : [])));
      const applications = spec.builds.flatMap((one, index) =>
        one.kind === 'application' ? [`b${index}`] : [],
      );
      expect(proof.neverPreferred).toEqual(applications.filter((id) => !used.has(id)));
      const rows = proof.problems.filter((one) => one.kind === 'gap').reduce((sum, one) => sum + one.rows, 0);
      expect(rows).toBe(proof.rows.filter((row) => row.safe.length === 0).length);
    }),
    { numRuns: 150 },
  );
});
