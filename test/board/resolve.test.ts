import { describe, expect, test } from 'vitest';
import { answerOf, holdsOn } from '../../src/board/axes.js';
import { basisOf, coverage, seenKeys } from '../../src/board/coverage.js';
import { resolveProfile } from '../../src/board/resolve.js';
import type { Machine } from '../../src/machine/machine.js';
import { profileOf, sample } from './profiles.js';

const machine = (known: Partial<Machine> = {}): Machine => ({ answers: {}, ...known });

const twoLoaders = `
axes:
  - { id: installed, ask: Which release?, numbering: integer }
  - { id: chip, ask: Which chip?, values: [one, two, three] }
  - { id: loader, ask: Which loader?, from: { old: { installed: "<31" }, new: { installed: ">=31" } } }
loader:
  fileSystems: [FAT32]
  erases: after-checks
loaders:
  old: { fileSystems: [FAT16], clusterBytes: [512] }
  new: { clusterBytes: [512] }
`;

describe('loader generations', () => {
  const profile = profileOf(twoLoaders);

  test('the generation follows from the release that runs', () => {
    const old = resolveProfile(profile, machine({ installed: '30' }));
    expect(old.loaderId).toBe('old');
    expect(old.loader.fileSystems).toEqual(['FAT16']);
    expect(old.loader.erases).toBe('after-checks');
    expect(resolveProfile(profile, machine({ installed: '31' })).loader.fileSystems).toEqual(['FAT32']);
  });

  test('what ran last counts on a machine on which nothing runs', () => {
    expect(resolveProfile(profile, machine({ nothingInstalled: true, was: '12' })).loaderId).toBe('old');
    const open = resolveProfile(profile, machine({ nothingInstalled: true })).open['loader.fileSystems'];
    expect(open?.settle).toBe('say which release ran last: --was RELEASE');
  });

  test('what the owner says about the loader itself comes first', () => {
    const said = machine({ installed: '31', answers: { loader: 'old' } });
    expect(answerOf(profile, said, 'loader')).toEqual({ state: 'known', value: 'old', how: 'stated' });
    expect(resolveProfile(profile, said).loader.fileSystems).toEqual(['FAT16']);
  });

  test('unanswered: what all generations agree on is used, the rest is open', () => {
    for (const unknown of [null, machine()]) {
      const resolved = resolveProfile(profile, unknown);
      expect(resolved.loaderId).toBeUndefined();
      expect(resolved.loader.clusterBytes).toEqual([512]);
      expect(resolved.loader.erases).toBe('after-checks');
      expect(resolved.loader.fileSystems).toBeUndefined();
      expect(resolved.open).toEqual({
        'loader.fileSystems': {
          axes: ['installed'],
          text: 'it depends on the release that runs now, which was not told',
          settle: 'say which release runs now: --installed RELEASE',
        },
      });
    }
  });

  test('a release for which no generation is named leaves the loader open', () => {
    const gap = profileOf(twoLoaders.replace('">=31"', '">=40"'));
    expect(answerOf(gap, machine({ installed: '35' }), 'loader')).toEqual({
      state: 'open',
      possible: ['old', 'new'],
      ask: ['loader'],
    });
  });
});

describe('lists by axis', () => {
  const profile = profileOf(`${twoLoaders}
memory:
  application:
    - { for: { chip: one }, start: 0x1000, bytes: 4KiB }
    - { for: { chip: [two, three] }, start: 0x2000, bytes: 4KiB }
  settings:
    - { start: 0x9000, bytes: 1KiB }
    - { for: { chip: two }, start: 0xA000, bytes: 1KiB }
update:
  path:
    - { for: { loader: old }, path: OLD/X.BIN }
    - { path: X.BIN }
  skipBytes:
    - { for: { chip: one }, skipBytes: 0 }
    - { for: { chip: two }, skipBytes: 0 }
companions:
  - { path: ALL.TXT, role: asset, required: true }
  - { path: OLD.TXT, role: asset, required: true, for: { loader: old } }
`);

  test('the first entry that holds is taken', () => {
    const resolved = resolveProfile(profile, machine({ installed: '30', answers: { chip: 'two' } }));
    expect(resolved.update.path).toBe('OLD/X.BIN');
    expect(resolved.memory.application).toEqual({ start: 0x2000, bytes: 4096 });
    expect(resolved.memory.settings).toHaveLength(2);
    expect(resolved.update.skipBytes).toBe(0);
    expect(resolved.companions).toMatchObject([{ path: 'ALL.TXT' }, { path: 'OLD.TXT' }]);
    expect(resolved.open).toEqual({});
    expect(resolveProfile(profile, machine({ installed: '31' })).update.path).toBe('X.BIN');
  });

  test('an entry without a condition ends the list', () => {
    const resolved = resolveProfile(profile, machine({ installed: '31', answers: { chip: 'one' } }));
    expect(resolved.companions).toMatchObject([{ path: 'ALL.TXT' }]);
    expect(resolved.memory.settings).toHaveLength(1);
  });

  test('no entry for this machine: the profile is silent, not open', () => {
    const resolved = resolveProfile(profile, machine({ installed: '31', answers: { chip: 'three' } }));
    expect(resolved.update.skipBytes).toBeUndefined();
    expect(resolved.open).not.toHaveProperty('update.skipBytes');
  });

  test('unanswered questions are named, each key by itself', () => {
    const { open } = resolveProfile(profile, null);
    expect(Object.keys(open).sort()).toEqual([
      'companions',
      'loader.fileSystems',
      'memory.application',
      'memory.settings',
      'update.path',
      'update.skipBytes',
    ]);
    expect(open['memory.application']).toEqual({
      axes: ['chip'],
      text: 'it depends on the answer to "Which chip?", which was not told',
      settle: 'answer "Which chip?": --set chip=one',
    });
  });
});

describe('conditions', () => {
  const profile = profileOf(twoLoaders);
  test('one false part decides, whatever is open', () => {
    const known = machine({ answers: { chip: 'one' } });
    expect(holdsOn(profile, known, { installed: '<31', chip: 'two' })).toEqual({ value: false });
    expect(holdsOn(profile, known, { installed: '<31', chip: 'one' })).toEqual({
      value: undefined,
      ask: ['installed'],
    });
    expect(holdsOn(profile, known, undefined)).toEqual({ value: true });
  });
  test('a question whose every answer leads to the same is not asked', () => {
    expect(holdsOn(profile, null, { chip: ['one', 'two', 'three'] })).toEqual({ value: true });
    expect(holdsOn(profile, null, { loader: ['old', 'new'] })).toEqual({ value: true });
  });
});

describe('coverage and basis', () => {
  test('any is a word about a key; leaving it out is not', () => {
    const { silent, coreSilent } = coverage(
      profileOf('loader: { fragments: any, erases: after-checks }\nbuilds: any\n'),
    );
    expect(silent).not.toContain('loader.fragments');
    expect(silent).toContain('loader.refusesDirty');
    expect(silent).not.toContain('loader.erases');
    expect(silent).not.toContain('update.names');
    expect(coreSilent).toEqual([
      'memory.application',
      'loader.partitioning',
      'loader.takesPartition',
      'loader.fileSystems',
      'update.path',
      'update.encoding',
      'update.checks',
    ]);
  });

  test('each of path, names and match says which file is wanted', () => {
    for (const said of ['path: A.BIN', 'names: [A.BIN]', 'match: { glob: "*.BIN" }', 'match: any'])
      expect(coverage(profileOf(`update: { ${said} }\n`)).silent, said).not.toContain('update.path');
  });

  test('a loader key counts only when every generation has it', () => {
    const { silent } = coverage(
      profileOf(twoLoaders.replace('new: { clusterBytes: [512] }', 'new: { fatCount: [2] }')),
    );
    expect(silent).toContain('loader.clusterBytes');
    expect(silent).toContain('loader.fatCount');
    expect(silent).not.toContain('loader.fileSystems');
  });

  test('the closest basis counts', () => {
    const profile = profileOf(
      'basis: { default: maker, loader: measured, loader.clusterBytes: seen }\nloader: { clusterBytes: [512], fragments: any }\n',
    );
    expect(basisOf(profile, 'loader.clusterBytes')).toBe('seen');
    expect(basisOf(profile, 'loader.fragments')).toBe('measured');
    expect(basisOf(profile, 'builds')).toBe('maker');
    expect(basisOf(profileOf('basis: assumed\n'), 'builds')).toBe('assumed');
    expect(basisOf(profileOf(''), 'builds')).toBeUndefined();
    expect(seenKeys(profile)).toEqual(['loader.clusterBytes']);
    expect(seenKeys(profileOf('basis: seen\nloader: { fragments: any }\n'))).toEqual(['loader.fragments']);
    expect(resolveProfile(sample('tansy'), null).seenKeys).toEqual(['loader.clusterBytes']);
  });
});
