import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { powerOf } from '../../src/board/power.js';
import type { Build, Load, Profile } from '../../src/board/profile.js';
import { collectPower } from '../../src/facts/collect-power.js';
import { Absent, type FactList, type FactRecord, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { factSchema } from '../../src/facts/schema.js';
import type { Machine } from '../../src/machine/machine.js';
import { profileOf, sample } from './profiles.js';

const tansy = sample('tansy');
const clinker = sample('clinker');
const buildOf = (profile: Profile, id: string): Build => {
  const found = (profile.builds as Build[]).find((one) => one.id === id);
  if (!found) throw new Error(`no build ${id}`);
  return found;
};
const small = { volts: 24, amps: 6.5 };

describe('the Tansy, worked out by hand', () => {
  // Bed: 24^2 / 4.8 = 120 W at 20 °C; at 80 °C 4.8 * 1.2358 = 5.93184 ohm, 97.103 W. Electronics: 1.1 * 24 = 26.4 W.
  test('all at once', () => {
    const { peak, sustained, rating, sustainedRating } = powerOf(tansy, buildOf(tansy, 'full-newer'), small);
    expect(peak?.watts).toBeCloseTo(120 + 50 + 26.4, 9);
    expect(peak?.amps).toBeCloseTo(196.4 / 24, 9);
    expect(peak?.loads).toEqual(['bed', 'hotend', 'base']);
    expect(sustained?.watts).toBeCloseTo(0.7 * 97.103 + 0.6 * 50 + 26.4, 2);
    expect(rating).toEqual({ watts: 156, amps: 6.5 });
    expect(sustainedRating?.watts).toBeCloseTo(124.8, 9);
  });

  test('bed and hot end take turns', () => {
    const { peak, sustained } = powerOf(tansy, buildOf(tansy, 'limited-newer'), small);
    expect(peak).toMatchObject({ loads: ['bed', 'base'], limitedBy: null });
    expect(peak?.watts).toBeCloseTo(146.4, 9);
    // On average never more than the bed and the electronics when they are on all the time.
    expect(sustained?.watts).toBeCloseTo(97.103 + 26.4, 2);
  });

  test('where the bed levels off: what it takes in there is what it loses there', () => {
    const [bed] = powerOf(tansy, buildOf(tansy, 'full-newer'), small).heating;
    const { levelsOffAt = 0, watts = 0 } = bed ?? {};
    expect(watts).toBeCloseTo(24 ** 2 / (4.8 * (1 + 0.00393 * (levelsOffAt - 20))), 6);
    expect(levelsOffAt).toBeCloseTo(22 + watts / 1.3, 6);
    expect(bed).toMatchObject({ load: 'bed', target: 80, boundBy: 'heater' });
  });
});

describe('limits, sides and sets', () => {
  const loads = `
loads:
  - { id: bed, watts: 120, duty: 0.5, heats: { target: 60, ambient: 20, lossWattsPerKelvin: 2 } }
  - { id: tool, watts: 60 }
  - { id: oven, watts: 2000, side: mains, heats: { target: 900, ambient: 20, lossWattsPerKelvin: 2 } }
supplies: [{ id: a, title: A, volts: 24, amps: 10 }]
`;
  const withBuild = (heaters: string): { profile: Profile; build: Build } => {
    const profile = profileOf(
      `${loads}builds: [{ id: b, title: B, kind: application, files: [b], heaters: ${heaters} }]\n`,
    );
    return { profile, build: buildOf(profile, 'b') };
  };

  test('the mains side is not counted, but its heat is worked out', () => {
    const { profile } = withBuild('{ together: [[bed, tool]] }');
    const figures = powerOf(profile, null, { volts: 24, amps: 10 });
    expect(figures.peak).toMatchObject({ watts: 180, loads: ['bed', 'tool'] });
    expect(figures.heating.map((one) => [one.load, one.levelsOffAt])).toEqual([
      ['bed', 80],
      ['oven', 1020],
    ]);
  });

  test('a limit of the peak caps both figures, a limit of the average only the sustained one', () => {
    const peak = withBuild('{ together: [[bed, tool]], limit: { amps: 4, kind: peak } }');
    expect(powerOf(peak.profile, peak.build, null)).toMatchObject({
      volts: 24,
      rating: null,
      sustainedRating: null,
      peak: { watts: 96, amps: 4, limitedBy: { amps: 4, kind: 'peak' } },
      sustained: { watts: 96, limitedBy: { kind: 'peak' } },
    });
    const average = withBuild('{ together: [[bed, tool]], limit: { amps: 4, kind: average } }');
    expect(powerOf(average.profile, average.build, null)).toMatchObject({
      peak: { watts: 180, limitedBy: null },
      sustained: { watts: 96, limitedBy: { kind: 'average' } },
    });
    // 96 W less the 60 W of the tool are left to the bed.
    expect(powerOf(average.profile, average.build, null).heating[0]).toMatchObject({
      watts: 36,
      levelsOffAt: 38,
      boundBy: 'build',
    });
  });

  test('a load that no set names may be on at any time', () => {
    const { profile, build } = withBuild('{ together: [[bed]] }');
    expect(powerOf(profile, build, null).peak).toMatchObject({ watts: 180, loads: ['bed', 'tool'] });
  });

  test('a metal that conducts better when hot: the hot end is the peak', () => {
    const profile = profileOf(
      'loads: [{ id: x, ohms: 10, at: 20, tempco: -0.005, heats: { target: 120, ambient: 20, lossWattsPerKelvin: 100 } }]\n',
    );
    expect(powerOf(profile, null, { volts: 10, amps: 5 }).peak?.watts).toBeCloseTo(20, 9);
  });

  test('without a supply, a need or one listed voltage, nothing is worked out', () => {
    const profile = profileOf(
      'supplies: [{ id: a, title: A, volts: 12, amps: 1 }, { id: b, title: B, volts: 24, amps: 1 }]\nloads: [{ id: x, ohms: 10 }]\n',
    );
    expect(powerOf(profile, null, null)).toMatchObject({
      volts: null,
      peak: null,
      sustained: null,
      notKnown: [{ load: 'x' }],
    });
  });
});

test('more supply never means less heat, less supply never more, and no figure passes what bounds it', () => {
  const load = fc.record({
    watts: fc.double({ min: 1, max: 500, noNaN: true }),
    duty: fc.double({ min: 0, max: 1, noNaN: true }),
    loss: fc.double({ min: 0.1, max: 10, noNaN: true }),
  });
  const amps = fc.double({ min: 0.5, max: 40, noNaN: true });
  fc.assert(
    fc.property(fc.array(load, { minLength: 1, maxLength: 4 }), amps, amps, amps, (list, one, two, limit) => {
      const loads: Load[] = list.map(({ watts, duty, loss }, index) => ({
        id: `l${index}`,
        watts,
        duty,
        heats: { target: 60, ambient: 20, lossWattsPerKelvin: loss },
      }));
      const profile: Profile = { ...tansy, loads };
      const build = {
        ...buildOf(tansy, 'full-newer'),
        heaters: { limit: { amps: limit, kind: 'peak' as const } },
      };
      const [low, high] = [Math.min(one, two), Math.max(one, two)];
      const weak = powerOf(profile, build, { volts: 24, amps: low });
      const strong = powerOf(profile, build, { volts: 24, amps: high });
      for (const [index, heated] of weak.heating.entries()) {
        expect(heated.levelsOffAt).toBeLessThanOrEqual(strong.heating[index]!.levelsOffAt + 1e-6);
        expect(heated.watts).toBeLessThanOrEqual(low * 24 + 1e-6);
      }
      expect(weak.sustained!.watts).toBeLessThanOrEqual(weak.peak!.watts + 1e-9);
      expect(weak.peak!.watts).toBeLessThanOrEqual(limit * 24 + 1e-9);
      expect(powerOf(profile, null, null).peak!.watts).toBeGreaterThanOrEqual(weak.peak!.watts);
    }),
    { numRuns: 200 },
  );
});

describe('the facts', () => {
  const collect = (profile: Profile | null, machine: Machine | null, build: string | null): FactStore => {
    const store = new FactStore();
    collectPower(store, profile, machine, build);
    return store;
  };
  const machine: Machine = { supply: small, answers: {} };
  const paths = Object.keys(factSchema).filter((path) => path.startsWith('power.'));

  test('for the strong build on the small supply', () => {
    const store = collect(tansy, machine, 'full-newer');
    expect(store.value('power.peakWatts')).toBe(196.4);
    expect(store.value('power.supplyWatts')).toBe(156);
    expect(store.value('power.peakMarginWatts')).toBe(-40.4);
    expect(store.value('power.deratedWatts')).toBe(124.8);
    expect(store.value('power.volts')).toBe(24);
    expect(store.value('power.limitAmps')).toBeInstanceOf(Absent);
    const [bed] = (store.value('power.heating') as FactList).items as FactRecord[];
    expect(bed).toMatchObject({ load: 'bed', title: 'heated bed', target: 80, shortBy: 0 });
    expect(Object.keys(bed ?? {}).sort()).toEqual(
      Object.keys(factSchema['power.heating']?.item ?? {}).sort(),
    );
    for (const path of paths) expect(store.value(path), path).not.toBeInstanceOf(Unseen);
  });

  test('the last bit of a sum does not decide', () => {
    const profile = profileOf('loads: [{ id: a, watts: 0.1 }, { id: b, watts: 0.2 }]\nbuilds: any\n');
    const store = collect(profile, { supply: { volts: 1, amps: 0.3 }, answers: {} }, null);
    expect(0.1 + 0.2 > 0.3).toBe(true);
    expect(store.value('power.peakWatts')).toBe(0.3);
    expect(store.value('power.peakMarginWatts')).toBe(0);
  });

  test('a supply that was not told: what is drawn is known, what is left is not', () => {
    const store = collect(tansy, { supplyUnsure: true, answers: {} }, 'limited-newer');
    expect(store.value('power.peakWatts')).toBe(146.4);
    expect(store.value('power.limitAmps')).toBe(6.2);
    expect(store.value('power.limitKind')).toBe('peak');
    for (const path of [
      'power.supplyWatts',
      'power.supplyAmps',
      'power.peakMarginWatts',
      'power.deratedWatts',
    ]) {
      const value = store.value(path);
      expect(value, path).toBeInstanceOf(Unseen);
      expect((value as Unseen).text).toBe('the owner is not sure which supply is fitted');
    }
  });

  test('a build that is not known, a profile that is silent, one that does not care, and none', () => {
    const unseen = collect(tansy, machine, null).value('power.peakWatts');
    expect(unseen).toBeInstanceOf(Unseen);
    expect((unseen as Unseen).text).toContain('which build is on the card is not known');
    expect(collect(profileOf('builds: any\n'), machine, null).value('power.peakWatts')).toBeInstanceOf(
      Absent,
    );
    const any = profileOf('builds: any\nloads: any\n');
    expect(collect(any, machine, null).value('power.peakWatts')).toBeInstanceOf(Absent);
    expect(collect(null, machine, null).value('power.peakWatts')).toBeInstanceOf(Unseen);
    // A board that takes every build: nothing limits what is on at once.
    expect(
      collect(sample('burr'), { supply: { volts: 24, amps: 5 }, answers: {} }, null).value('power.peakWatts'),
    ).toBe(98.4);
    expect(collect(sample('burr'), null, null).value('power.derating')).toBeInstanceOf(Absent);
  });

  test('a heater on the mains side whose voltage nobody knows makes the list incomplete', () => {
    const store = collect(clinker, { supply: { volts: 12, amps: 3 }, answers: {} }, 'clinker-c');
    expect(store.value('power.peakWatts')).toBe(12);
    const heating = store.value('power.heating') as FactList;
    expect(heating.items).toEqual([]);
    expect(heating.incomplete?.text).toBe(
      'heating element: it is fed by the mains, whose voltage the profile does not say',
    );
  });
});
