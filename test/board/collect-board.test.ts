import { describe, expect, test } from 'vitest';
import { resolveProfile } from '../../src/board/resolve.js';
import { collectBoard } from '../../src/facts/collect-board.js';
import { Absent, FactList, type FactValue, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { factSchema } from '../../src/facts/schema.js';
import type { Machine } from '../../src/machine/machine.js';
import { boards, profileOf, sample } from './profiles.js';

function storeOf(body: string, machine: Machine | null = null): FactStore {
  const profile = profileOf(body);
  const store = new FactStore();
  collectBoard(store, resolveProfile(profile, machine), profile);
  return store;
}

const boardPaths = Object.keys(factSchema).filter((path) => path.startsWith('board.'));
const anyValue = new Absent('the profile says that this does not matter');
const silent = new Absent('the profile does not say');

test('without a profile every board fact is unseen', () => {
  const store = new FactStore();
  collectBoard(store, null, null);
  for (const path of boardPaths) expect((store.value(path) as Unseen).cause, path).toBe('profile-silent');
});

describe('the three states of a key', () => {
  test('a value is known, with the profile as its origin', () => {
    const store = storeOf(
      'loader: { fileSystems: [FAT16], fragments: { max: 61 }, erases: never-blank, refusesDirty: false }\n',
    );
    expect(store.get('board.loader.fileSystems')).toEqual({
      value: new FactList(['FAT16']),
      origin: 'profile',
    });
    expect(store.value('board.loader.fragments.max')).toBe(61);
    expect(store.value('board.loader.erases')).toBe('never-blank');
    expect(store.value('board.loader.refusesDirty')).toBe(false);
  });

  test('any is absent, for core keys too', () => {
    const store = storeOf('loader: { fileSystems: any, fragments: any, reads: { fat: any } }\nmemory: any\n');
    for (const path of [
      'loader.fileSystems',
      'loader.fragments.max',
      'loader.reads.fat',
      'memory.application.start',
    ])
      expect(store.value(`board.${path}`), path).toEqual(anyValue);
  });

  test('left out: a core key is unseen, any other absent', () => {
    const store = storeOf('');
    expect(store.value('board.loader.takesPartition')).toEqual(
      new Unseen(
        'profile-silent',
        'the board profile does not say: which partition the loader takes: first-slot, first-fat, active, slot-N, whole-card',
        'ask the author of the profile for loader.takesPartition',
      ),
    );
    for (const path of [
      'loader.clusterBytes',
      'loader.reads.fat',
      'loader.fragments.max',
      'card.otherFiles',
      'cautions',
    ])
      expect(store.value(`board.${path}`), path).toEqual(silent);
  });

  test('a value that depends on an answer nobody gave is unseen: not told', () => {
    const body = `
axes: [{ id: chip, ask: Which chip?, values: [one, two] }]
memory: { application: [{ for: { chip: one }, start: 0x1000, bytes: 1KiB }, { for: { chip: two }, start: 0x2000, bytes: 1KiB }] }
update: { match: [{ for: { chip: one }, match: { glob: "A*", takes: first-entry } }] }
`;
    const open = storeOf(body);
    for (const path of [
      'memory.application.start',
      'memory.application.bytes',
      'update.takes',
      'update.looksFor',
    ])
      expect((open.value(`board.${path}`) as Unseen).cause, path).toBe('not-told');
    expect((open.value('board.memory.application.start') as Unseen).settle).toContain('--set chip=one');
    const told = storeOf(body, { answers: { chip: 'two' } });
    expect(told.value('board.memory.application.start')).toBe(0x2000);
    // No entry for this machine: the profile does not say what the loader looks for.
    expect((told.value('board.update.looksFor') as Unseen).cause).toBe('profile-silent');
  });
});

describe('keys with facts of another form', () => {
  test('builds', () => {
    const listed = storeOf('builds: [{ id: a, title: A, kind: both, files: [A.BIN] }]\n');
    expect(listed.value('board.builds')).toEqual(new FactList([{ id: 'a', title: 'A', kind: 'both' }]));
    expect(listed.value('board.takesAnyBuild')).toBe(false);
    const open = storeOf('builds: any\n');
    expect(open.value('board.builds')).toEqual(anyValue);
    expect(open.value('board.takesAnyBuild')).toBe(true);
    for (const path of ['board.builds', 'board.takesAnyBuild'])
      expect(storeOf('').value(path)).toBeInstanceOf(Unseen);
  });

  test('partition types and boot code', () => {
    const facts = (said: string): FactValue[] => {
      const store = storeOf(`loader: { ${said} }\n`);
      return ['partitionTypes', 'partitionTypesAnyButZero', 'bootCodeMustBeZero'].map((name) =>
        store.value(`board.loader.${name}`),
      );
    };
    expect(facts('partitionTypes: [0x0C]')).toEqual([new FactList([12]), false, silent]);
    expect(facts('partitionTypes: any-but-zero')).toEqual([anyValue, true, silent]);
    expect(facts('partitionTypes: any, bootCode: any')).toEqual([anyValue, anyValue, anyValue]);
    expect(facts('bootCode: must-be-zero')).toEqual([silent, silent, true]);
  });

  test('what the loader looks for', () => {
    const looksFor = (said: string): FactValue =>
      storeOf(`update: { ${said} }\n`).value('board.update.looksFor');
    expect(looksFor('path: DIR/A.BIN')).toEqual(new FactList(['DIR/A.BIN']));
    expect(looksFor('names: [A.BIN, B.BIN]')).toEqual(new FactList(['A.BIN', 'B.BIN']));
    expect(looksFor('match: { glob: "A*.HEX", folder: DIR }')).toEqual(new FactList(['DIR/A*.HEX']));
    expect(looksFor('match: { contains: BIN }')).toEqual(new FactList(['*BIN*']));
    expect(looksFor('path: any')).toEqual(anyValue);
    expect(storeOf('update: { match: { glob: "*", takes: last-entry } }\n').value('board.update.takes')).toBe(
      'last-entry',
    );
  });
});

test.each(boards)('every fact of %s has the declared type and word', (id) => {
  const profile = sample(id);
  const store = new FactStore();
  collectBoard(store, resolveProfile(profile, { answers: {} }), profile);
  let known = 0;
  for (const path of boardPaths) {
    const value = store.value(path);
    if (value instanceof Unseen || value instanceof Absent) continue;
    known++;
    const { type, words } = factSchema[path]!;
    const items = value instanceof FactList ? value.items : [value];
    expect(value instanceof FactList, path).toBe(type.startsWith('list'));
    for (const item of items) {
      if (type === 'list<record>') continue;
      const kind = type.replace('list<', '').replace('>', '');
      expect(typeof item, path).toBe({ bool: 'boolean', string: 'string' }[kind] ?? 'number');
      if (kind === 'int') expect(Number.isInteger(item), path).toBe(true);
      if (words) expect(words, path).toContain(item);
    }
  }
  expect(known).toBeGreaterThan(40);
});
