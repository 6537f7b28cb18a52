import { describe, expect, test } from 'vitest';
import { collectMachine } from '../../src/facts/collect-machine.js';
import { Absent, type FactList, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { type MachineOptions, machineFromOptions, parseSupply } from '../../src/machine/machine.js';
import { sample } from '../board/profiles.js';

const tansy = sample('tansy');
const clinker = sample('clinker');
const messages = (options: MachineOptions, profile: typeof tansy | null = tansy): string[] =>
  machineFromOptions(options, profile).problems.map((one) => `${one.option}: ${one.message}`);

describe('supply', () => {
  test('a label, the name of a supply, or unsure', () => {
    expect(machineFromOptions({ supply: '24V/6.5A' }, tansy).machine.supply).toEqual({
      id: 'small',
      volts: 24,
      amps: 6.5,
    });
    expect(machineFromOptions({ supply: 'large' }, tansy).machine.supply).toEqual({
      id: 'large',
      volts: 24,
      amps: 15,
    });
    expect(machineFromOptions({ supply: 'unsure' }, tansy).machine).toEqual({
      answers: {},
      supplyUnsure: true,
    });
    expect(parseSupply('24 v, 6.5 a')).toEqual({ volts: 24, amps: 6.5 });
  });

  test('a supply that the profile does not list is taken as numbers', () => {
    const { machine, problems } = machineFromOptions({ supply: '24V/10A' }, tansy);
    expect(problems).toEqual([]);
    expect(machine.supply).toEqual({ volts: 24, amps: 10 });
    expect(machineFromOptions({ supply: '24V/10A' }, null).machine.supply).toEqual({ volts: 24, amps: 10 });
  });

  test('what is no supply is an error that says what may stand there', () => {
    expect(messages({ supply: 'smal' })).toEqual([
      "--supply: 'smal' is no supply; say its label as 24V/6.5A, the name of a supply (small or large), or unsure. Did you mean small?",
    ]);
    for (const supply of ['24V', '6.5A', '0V/5A', '24/6.5', '-24V/5A', 'NaNV/1A'])
      expect(messages({ supply }), supply).toHaveLength(1);
  });
});

describe('releases and other answers', () => {
  test('a release is a string; none says that nothing runs', () => {
    expect(machineFromOptions({ installed: '2.10' }, clinker).machine.installed).toBe('2.10');
    expect(machineFromOptions({ installed: 'none', was: '30' }, tansy).machine).toEqual({
      answers: {},
      nothingInstalled: true,
      was: '30',
    });
    expect(machineFromOptions({ sets: { installed: '31' } }, tansy).machine.installed).toBe('31');
  });

  test('wrong values are told with what is expected', () => {
    expect(messages({ installed: '1.2' })).toEqual(["--installed: '1.2' is no whole number"]);
    expect(messages({ installed: '31', was: '30' })).toEqual([
      '--was: it goes with --installed none, when nothing runs now',
    ]);
    expect(messages({ installed: '31', sets: { installed: '32' } })).toHaveLength(1);
    expect(messages({ sets: { loader: 'oldr' } })).toEqual([
      "--set: loader: 'oldr' is no answer; expected older or newer",
    ]);
    expect(messages({ sets: { made: '30.06.2025' } }, clinker)[0]).toContain('no date');
    expect(messages({ sets: { boardRevison: 'A' } }, clinker)[0]).toContain('did you mean boardRevision?');
    expect(messages({ sets: { colour: 'red' } }, clinker)).toEqual([
      "--set: there is no question 'colour'; the questions of this board are installed, boardRevision and made",
    ]);
    expect(messages({ sets: { constructor: 'x' } }, clinker)).toHaveLength(1);
    expect(messages({ sets: { a: 'b' } }, null)[0]).toContain('without a board profile');
  });
});

describe('facts', () => {
  const factsOf = (options: MachineOptions, profile: typeof tansy | null = tansy): FactStore => {
    const store = new FactStore();
    collectMachine(store, machineFromOptions(options, profile).machine, profile);
    return store;
  };

  test('what was told is a fact with origin stated; what follows is derived', () => {
    const store = factsOf({ supply: 'small', installed: '31' });
    expect(store.get('machine.supply')).toEqual({ value: 'small', origin: 'derived' });
    expect(store.get('machine.supplyVolts')).toEqual({ value: 24, origin: 'stated' });
    expect(store.get('machine.supplyAmps')).toEqual({ value: 6.5, origin: 'stated' });
    expect(store.value('machine.supplyTold')).toBe(true);
    expect(factsOf({}).value('machine.supplyTold')).toBe(false);
    expect(factsOf({ supply: 'unsure' }).value('machine.supplyTold')).toBe(false);
    expect(store.get('machine.installed')).toEqual({ value: '31', origin: 'stated' });
    expect(store.value('machine.nothingInstalled')).toBe(false);
    expect(store.value('machine.was')).toBeInstanceOf(Absent);
    expect(store.get('machine.loader')).toEqual({ value: 'newer', origin: 'derived' });
    expect(factsOf({ sets: { loader: 'older' } }).get('machine.loader')).toEqual({
      value: 'older',
      origin: 'stated',
    });
    expect(store.value('machine.board')).toBe('tansy');
  });

  test('what was not told is unseen, with what would settle it', () => {
    const store = factsOf({});
    for (const path of [
      'supply',
      'supplyVolts',
      'supplyAmps',
      'installed',
      'was',
      'nothingInstalled',
      'loader',
      'lastFileName',
    ]) {
      const value = store.value(`machine.${path}`);
      expect(value, path).toBeInstanceOf(Unseen);
      expect((value as Unseen).cause, path).toBe('not-told');
      expect((value as Unseen).settle, path).toBeTypeOf('string');
    }
    expect((store.value('machine.loader') as Unseen).settle).toBe(
      'say which release runs now: --installed RELEASE',
    );
    expect((factsOf({ supply: 'unsure' }).value('machine.supply') as Unseen).text).toContain('not sure');
  });

  test('nothing installed', () => {
    const store = factsOf({ installed: 'none' });
    expect(store.value('machine.installed')).toBeInstanceOf(Absent);
    expect(store.value('machine.nothingInstalled')).toBe(true);
    expect(store.value('machine.was')).toBeInstanceOf(Unseen);
    expect(factsOf({ installed: 'none', was: '12' }).value('machine.loader')).toBe('older');
  });

  test('a supply that is not listed has numbers and no name', () => {
    const store = factsOf({ supply: '24V/10A' });
    expect(store.value('machine.supply')).toEqual(new Absent('the profile lists no supply of 24 V, 10 A'));
    expect(store.value('machine.supplyAmps')).toBe(10);
  });

  test('answers are listed, and the list is not complete while one is open', () => {
    const some = factsOf({ sets: { boardRevision: 'B' } }, clinker).value('machine.answers');
    expect(some).toMatchObject({ items: [{ axis: 'boardRevision', value: 'B' }] });
    expect((some as FactList).incomplete?.cause).toBe('not-told');
    const all = factsOf({ sets: { boardRevision: 'B', made: '2025-01-31' } }, clinker).value(
      'machine.answers',
    );
    expect((all as FactList).incomplete).toBeUndefined();
    expect(factsOf({}, clinker).value('machine.loader')).toBeInstanceOf(Absent);
  });

  test('without a profile the loader is unseen, and no machine at all leaves all unseen', () => {
    const store = new FactStore();
    collectMachine(store, null, null);
    for (const path of ['board', 'supply', 'installed', 'loader', 'was'])
      expect(store.value(`machine.${path}`), path).toBeInstanceOf(Unseen);
  });
});
