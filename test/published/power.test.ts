import { describe, expect, test } from 'vitest';
import { chooseBuild } from '../../src/board/choose.js';
import { copperTempco, ohmsAt, powerOf, usualDerating } from '../../src/board/power.js';
import type { Build, Profile } from '../../src/board/profile.js';
import { profileOf, sample } from '../board/profiles.js';

/** A board of one build and some loads. */
const board = (loads: string, heaters = ''): { profile: Profile; build: Build } => {
  const profile = profileOf(
    `loads:\n${loads}\nbuilds: [{ id: b, title: B, kind: application, files: [b], needs: { volts: 24 }${heaters} }]\n`,
  );
  return { profile, build: (profile.builds as Build[])[0]! };
};

describe('copper', () => {
  // Conversion factors R_T / R_20 of "Resistance Conversion Factors for Copper Wires", Precision Wires
  // (http://precisionwires.com/RCF/), with its coefficient of 0.00393 at 20 °C.
  test.each([
    [20, 1],
    [25, 1.0196],
    [60, 1.1572],
    [80, 1.2358],
    [100, 1.3144],
    [110, 1.3537],
  ])('at %d °C the resistance of 20 °C times %d', (celsius, factor) => {
    const load = { id: 'x', ohms: 1, at: 20, material: 'copper' } as const;
    expect(ohmsAt(load, celsius)).toBeCloseTo(factor, 4);
    // Measured at that temperature instead, the way back leads to 20 °C.
    expect(ohmsAt({ ...load, at: celsius, ohms: factor }, 20)).toBeCloseTo(1, 4);
  });

  test('at a constant voltage a heater of 100 °C takes 76.1 % of what it takes at 20 °C', () => {
    expect(copperTempco).toBe(0.00393);
    const { profile, build } = board(
      '  - { id: bed, ohms: 1.6, at: 20, material: copper, heats: { target: 100, ambient: 20, lossWattsPerKelvin: 1 } }',
    );
    const { peak, sustained } = powerOf(profile, build, { volts: 24, amps: 20 });
    expect(peak?.watts).toBeCloseTo(360, 9);
    expect((sustained?.watts ?? 0) / (peak?.watts ?? 1)).toBeCloseTo(0.761, 3);
  });
});

describe('Ohm and Joule', () => {
  // P = V I = V^2 / R: 24 V over 1.6 ohm is 15 A and 360 W; one per cent more voltage is 2.01 per cent more power.
  test('24 V over 1.6 ohm', () => {
    const { profile, build } = board('  - { id: x, ohms: 1.6 }');
    expect(powerOf(profile, build, { volts: 24, amps: 15 }).peak).toMatchObject({ watts: 360, amps: 15 });
    const more = powerOf(profile, build, { volts: 24.24, amps: 15 }).peak?.watts ?? 0;
    expect(more / 360 - 1).toBeCloseTo(0.0201, 6);
  });
});

describe('the share of a rating that is used all the time', () => {
  // NEC 210.20(A), as quoted by Schneider Electric's "Conductor Ampacity Tables": 125 % of a continuous load, so 80 % of
  // the rating. That it is used for the rating of a DC supply is common practice, no published source.
  test.each([
    [350, 280],
    [240, 192],
    [600, 480],
  ])('a rating of %d W gives %d W', (rating, share) => {
    expect(usualDerating).toBe(1 / 1.25);
    const { profile, build } = board('  - { id: x, watts: 1 }');
    const figures = powerOf(profile, build, { volts: 24, amps: rating / 24 });
    expect(figures.sustainedRating?.watts).toBeCloseTo(share, 9);
  });
});

describe('what owners and menders know: common practice, no published source', () => {
  // A bed that needs 120 W for 60 °C in a room of 20 °C: 3 W for each kelvin.
  const bed =
    '  - { id: bed, watts: 150, heats: { target: 60, ambient: 20, lossWattsPerKelvin: 3 } }\n  - { id: rest, watts: 24 }';

  test('a marginal supply leaves the bed about five degrees short of 60 °C', () => {
    const { profile, build } = board(bed);
    const marginal = powerOf(profile, build, { volts: 24, amps: 5.4 }).heating[0];
    expect(marginal?.levelsOffAt).toBeGreaterThan(54);
    expect(marginal?.levelsOffAt).toBeLessThan(56);
    expect(marginal?.boundBy).toBe('supply');
    // With a supply that has power to spare the same bed passes its target.
    expect(powerOf(profile, build, { volts: 24, amps: 15 }).heating[0]?.levelsOffAt).toBe(70);
  });

  test('a larger supply alone does not help while the build still limits the current', () => {
    const { profile, build } = board(bed, ', heaters: { limit: { amps: 5.4, kind: average } }');
    const [small, large] = [5.4, 15].map((amps) => powerOf(profile, build, { volts: 24, amps }).heating[0]);
    expect(large?.levelsOffAt).toBe(small?.levelsOffAt);
    expect(large?.boundBy).toBe('build');
    const unlimited = board(bed);
    const freed = powerOf(unlimited.profile, unlimited.build, { volts: 24, amps: 15 }).heating[0];
    expect(freed?.levelsOffAt).toBeGreaterThan(60);
  });

  test('the build with limited current belongs to the small stock supply', () => {
    const machine = { supply: { volts: 24, amps: 6.5 }, installed: '31', answers: {} };
    const tansy = sample('tansy');
    const choice = chooseBuild(tansy, machine);
    expect(choice.preferred).toBe('limited-newer');
    // Its reason: both heaters at once are more than that supply is rated for, one after the other is not.
    const builds = tansy.builds as Build[];
    const peak = (id: string): number =>
      powerOf(tansy, builds.find((one) => one.id === id) ?? null, machine.supply).peak?.watts ?? 0;
    expect(peak('full-newer')).toBeGreaterThan(24 * 6.5);
    expect(peak('limited-newer')).toBeLessThan(24 * 6.5);
    expect(peak('full-newer')).toBeLessThan(24 * 15);
  });
});
