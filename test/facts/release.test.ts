import { describe, expect, test } from 'vitest';
import type { Build, Profile } from '../../src/board/profile.js';
import { collectMachine } from '../../src/facts/collect-machine.js';
import { collectRelease } from '../../src/facts/collect-release.js';
import { Absent, FactList, type FactValue, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { type MachineOptions, machineFromOptions } from '../../src/machine/machine.js';
import { sample } from '../board/profiles.js';

const clinker = sample('clinker');
const tansy = sample('tansy');
const burr = sample('burr');

interface Given {
  profile?: Profile;
  /** Release on the card; null: not known. */
  to?: string | null | Absent;
  build?: string | null;
  machine?: MachineOptions;
  settings?: number;
  lastFileName?: string;
  name?: string;
}
function collect(given: Given): FactStore {
  const profile = given.profile ?? clinker;
  const { machine, problems } = machineFromOptions(given.machine ?? {}, profile);
  expect(problems).toEqual([]);
  if (given.settings !== undefined) machine.settingsNoted = given.settings;
  if (given.lastFileName !== undefined) machine.lastFileName = given.lastFileName;
  const store = new FactStore();
  collectMachine(store, machine, profile);
  const to: FactValue =
    given.to === undefined || given.to === null ? new Unseen('not-visible', 'no manifest') : given.to;
  store.set('image.release', to);
  if (given.name !== undefined) store.set('updateFile.name', given.name);
  collectRelease(store, profile, machine, given.build === undefined ? 'clinker-c' : given.build);
  return store;
}
function look(store: FactStore, path: string): unknown {
  const value = store.value(`release.${path}`);
  if (value instanceof Unseen) return `unseen: ${value.cause}`;
  if (value instanceof Absent) return 'absent';
  return value instanceof FactList ? [...value.items, ...(value.incomplete ? ['…'] : [])] : value;
}
const between = (from: string, to: string | null, more: Given = {}) =>
  collect({ ...more, to, machine: { installed: from, ...more.machine } });
const changed = (profile: Profile, change: (copy: Profile) => void): Profile => {
  const copy = structuredClone(profile);
  change(copy);
  return copy;
};

describe('the two releases', () => {
  // Dotted numbers are compared part by part, so 2.10 comes after 2.9.
  test.each([
    ['2.9', '2.10', 'newer'],
    ['2.10', '2.9', 'older'],
    ['2.1', '2.1.0', 'same'],
  ])('%s to %s is %s', (from, to, direction) => {
    expect(look(between(from, to), 'direction')).toBe(direction);
  });

  test('where nothing runs, what ran last stands for it', () => {
    const store = collect({ to: '2.9', machine: { installed: 'none', was: '2.8' } });
    expect(look(store, 'from')).toBe('2.8');
    expect(look(store, 'direction')).toBe('newer');
  });

  test('not told, or not known', () => {
    expect(look(collect({ to: '2.9' }), 'direction')).toBe('unseen: not-told');
    expect(look(between('2.9', null), 'direction')).toBe('unseen: not-visible');
  });

  test('a release of another numbering is unseen, not an error', () => {
    expect(look(between('2.9', 'beta'), 'direction')).toBe('unseen: profile-silent');
  });
});

describe('a release in between', () => {
  // The Clinker: from below 2.0 to 2.4 or later by way of 2.0.
  test.each([
    ['1.9', '2.4', '2.0'],
    ['1.9', '2.3', 'absent'],
    ['2.0', '2.4', 'absent'],
  ])('%s to %s: %s', (from, to, via) => {
    expect(look(between(from, to), 'stepVia')).toBe(via);
  });

  test('what one of the two rules out is settled without the other', () => {
    expect(look(collect({ to: '2.3' }), 'stepVia')).toBe('absent');
    expect(look(between('2.0', null), 'stepVia')).toBe('absent');
    expect(look(collect({ to: '2.4' }), 'stepVia')).toBe('unseen: not-told');
    expect(look(between('1.9', null), 'stepVia')).toBe('unseen: not-visible');
  });
});

describe('locks', () => {
  test.each([
    ['3.0', '2.9', '3.0', 'absent'],
    ['3.1', '3.0', 'absent', 'absent'],
    ['2.9', '2.8', 'absent', 'absent'],
    ['2.9', '3.0', 'absent', 'Release 3.0 replaces the key with which the loader checks programs.'],
  ])('%s to %s', (from, to, since, ahead) => {
    const store = between(from, to);
    expect(look(store, 'lockedSince')).toBe(since);
    expect(look(store, 'locksBecause')).toBe(ahead);
  });

  test('an older release may be locked out where nobody said what runs', () => {
    expect(look(collect({ to: '2.9' }), 'lockedSince')).toBe('unseen: not-told');
    expect(look(collect({ to: '3.0' }), 'lockedSince')).toBe('absent');
    expect(look(between('2.9', null), 'lockedSince')).toBe('absent');
  });

  test.each([
    ['2.9', '3.0', 'clinker-c', '3.0'],
    ['2.9', '2.10', 'clinker-c', 'absent'],
    ['3.0', '3.1', 'clinker-c', 'absent'],
    ['2.9', '3.0', 'clinker-ab', 'absent'],
  ])('way back from %s to %s with %s: %s', (from, to, build, expected) => {
    expect(look(between(from, to, { build }), 'noWayBackFrom')).toBe(expected);
  });

  test('a build that nobody knows may have no way back', () => {
    expect(look(between('2.9', '3.0', { build: null }), 'noWayBackFrom')).toBe('unseen: not-visible');
  });
});

describe('what the loader takes', () => {
  const compared = (takes: 'newer' | 'different', comparedBy: 'release' | 'checksum' | 'name'): Profile =>
    changed(clinker, ({ releases }) => {
      releases.takes = takes;
      releases.comparedBy = comparedBy;
    });
  test.each([
    ['newer', 'release', '2.9', '2.10', true],
    ['newer', 'release', '2.10', '2.10', false],
    ['newer', 'release', '2.10', '2.9', false],
    ['different', 'release', '2.10', '2.9', true],
    ['different', 'release', '2.10', '2.10', false],
    ['different', 'checksum', '2.10', '2.9', true],
    ['different', 'checksum', '2.10', '2.10', 'unseen: not-told'],
  ] as const)('%s by %s: %s to %s gives %s', (takes, by, from, to, expected) => {
    expect(look(between(from, to, { profile: compared(takes, by) }), 'taken')).toBe(expected);
  });

  test('by name, against the name of the last file', () => {
    const given = { profile: compared('different', 'name'), name: 'CLK07.HEX' };
    expect(look(between('2.9', '3.0', { ...given, lastFileName: 'clk07.hex' }), 'taken')).toBe(false);
    expect(look(between('2.9', '3.0', { ...given, lastFileName: 'CLK06.HEX' }), 'taken')).toBe(true);
    expect(look(between('2.9', '3.0', given), 'taken')).toBe('unseen: not-told');
  });

  test('any, or nothing to compare with', () => {
    expect(look(between('30', '31', { profile: tansy }), 'taken')).toBe('absent');
    expect(look(collect({ to: '2.9', machine: { installed: 'none' } }), 'taken')).toBe('absent');
  });
});

describe('stored settings', () => {
  const tansyBetween = (from: string, to: string, more: Given = {}) =>
    between(from, to, { profile: tansy, build: null, ...more });
  test.each([
    ['23', '24', true],
    ['24', '31', false],
  ])('%s to %s: another layout is %s', (from, to, expected) => {
    expect(look(tansyBetween(from, to), 'layoutChanges')).toBe(expected);
  });

  test('what to write down, in the words of the profile', () => {
    const store = tansyBetween('23', '31', { settings: 3 });
    expect(look(store, 'layoutBefore')).toBe('one');
    expect(look(store, 'layoutAfter')).toBe('two');
    expect(look(store, 'settingsToNote')).toEqual(['M92', 'M206', 'M301', 'M304', 'M851']);
    expect(look(store, 'settingsRenamed')).toEqual(['M665 is called M669 now']);
    expect(look(store, 'settingsDropped')).toEqual(['M145']);
    expect(look(store, 'settingsNamed')).toBe(true);
    expect(look(store, 'settingsNoted')).toBe(true);
    expect(look(tansyBetween('23', '31', { settings: 0 }), 'settingsNoted')).toBe(false);
  });

  test('`any` is an answer, silence is none', () => {
    expect(look(between('2.3', '2.4'), 'settingsNamed')).toBe(true);
    const silent = changed(clinker, ({ settings }) => Reflect.deleteProperty(settings, 'carry'));
    expect(look(between('2.3', '2.4', { profile: silent }), 'settingsNamed')).toBe(false);
  });

  test('a release for which the profile names no layout', () => {
    const gap = changed(clinker, ({ settings }) => {
      settings.layouts = [
        { id: 'zones', releases: '>=2.4' },
        { id: 'old', releases: '<2.0' },
      ];
    });
    expect(look(between('2.2', '2.4', { profile: gap }), 'layoutChanges')).toBe('unseen: profile-silent');
  });
});

describe('notes', () => {
  const old = { sets: { made: '2025-05-31' } };
  const young = { sets: { made: '2025-06-01' } };
  test('one for this release and this machine', () => {
    const store = between('2.5', '2.6', { machine: old });
    expect(look(store, 'worstNote')).toBe('unsafe');
    expect(look(store, 'notes')).toEqual([
      { hazard: 'unsafe', text: expect.stringContaining('may weld shut') },
    ]);
  });

  test('another machine, or another release', () => {
    expect(look(between('2.5', '2.6', { machine: young }), 'worstNote')).toBe('absent');
    expect(look(between('2.5', '2.8', { machine: old }), 'notes')).toEqual([]);
    expect(look(between('2.5', null, { machine: young }), 'worstNote')).toBe('absent');
  });

  test('nobody said which machine it is, or which release: it may be one', () => {
    expect(look(between('2.5', '2.6'), 'worstNote')).toBe('unseen: not-told');
    expect(look(between('2.5', '2.6'), 'notes')).toEqual(['…']);
    expect(look(between('2.5', null, { machine: old }), 'worstNote')).toBe('unseen: not-visible');
  });

  test('remarks are kept apart from warnings', () => {
    const store = between('30', '31', { profile: tansy, build: null });
    expect(look(store, 'remarks')).toEqual(['The fan of the hot end runs as soon as it is 45 degrees warm.']);
    expect(look(store, 'notes')).toEqual([]);
  });
});

describe('profiles that take any build or say nothing', () => {
  test('nothing is asked of a file whose release nobody can know', () => {
    const anyBuild = new Absent('the board profile accepts every build');
    const store = collect({
      to: anyBuild,
      build: null,
      machine: { installed: '2.5', sets: { made: '2025-05-31' } },
    });
    for (const path of [
      'direction',
      'stepVia',
      'lockedSince',
      'locksBecause',
      'taken',
      'layoutChanges',
      'worstNote',
    ])
      expect(look(store, path), path).toBe('absent');
  });

  test('a profile without releases', () => {
    const store = collect({ profile: burr, to: null, build: null });
    for (const path of [
      'stepVia',
      'lockedSince',
      'noWayBackFrom',
      'taken',
      'layoutChanges',
      'worstNote',
      'remarks',
    ])
      expect(look(store, path), path).toBe('absent');
  });

  test('no profile: unseen', () => {
    const store = new FactStore();
    collectRelease(store, null, null, null);
    expect(look(store, 'stepVia')).toBe('unseen: profile-silent');
  });

  test('the builds of the samples are what the tests say', () => {
    expect((clinker.builds as Build[]).map(({ id, cannotReturnFrom }) => [id, cannotReturnFrom])).toEqual([
      ['clinker-ab', undefined],
      ['clinker-c', '3.0'],
    ]);
  });
});
