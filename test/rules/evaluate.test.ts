import { describe, expect, test } from 'vitest';
import { Absent, FactList, type FactValue, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { compileExpression } from '../../src/rules/compile.js';
import { evaluate, expressionText } from '../../src/rules/evaluate.js';

const lost = new Unseen('damaged', 'unreadable', 'read it again');

function storeOf(facts: Record<string, FactValue>): FactStore {
  const store = new FactStore();
  for (const [path, value] of Object.entries(facts)) store.set(path, value);
  return store;
}

/** The value, or the paths of the missing facts in order. */
function outcome(source: string, facts: Record<string, FactValue> = {}): unknown {
  const result = evaluate(compileExpression(source).expression, { facts: storeOf(facts) });
  return result.known ? result.value : { missing: result.missing.map((missing) => missing.fact) };
}

/** Three facts whose values are true, false and unknown. */
const three = {
  'partition.found': true,
  'partition.pastEnd': false,
  'partition.overlaps': lost,
} as const;
const named = { T: 'partition.found', F: 'partition.pastEnd', U: 'partition.overlaps' } as const;
type Letter = keyof typeof named;
const letter = (value: unknown): string => (value === true ? 'T' : value === false ? 'F' : 'U');

describe('three-valued logic', () => {
  // Kleene's strong logic (S. C. Kleene, Introduction to Metamathematics, 1952, section 64), rows T F U, columns T F U.
  const and = ['TFU', 'FFF', 'UFU'];
  const or = ['TTT', 'TFU', 'TUU'];
  const letters: readonly Letter[] = ['T', 'F', 'U'];

  test.each([
    ['&&', and],
    ['||', or],
  ])('%s follows the truth table', (operator, table) => {
    for (const [row, left] of letters.entries())
      for (const [column, right] of letters.entries()) {
        const found = letter(outcome(`${named[left]} ${operator} ${named[right]}`, three));
        expect([left, operator, right, found]).toEqual([left, operator, right, table[row]![column]]);
      }
  });

  test('not', () => {
    expect(letters.map((each) => letter(outcome(`!${named[each]}`, three))).join('')).toBe('FTU');
  });

  test('a choice whose condition is unknown is known only when both branches are equal', () => {
    expect(outcome('partition.overlaps ? 3 : 3', three)).toBe(3);
    expect(outcome('partition.overlaps ? partition.found : partition.found', three)).toBe(true);
    expect(outcome('partition.overlaps ? 3 : 4', three)).toEqual({ missing: ['partition.overlaps'] });
    expect(outcome('partition.overlaps ? 3 : volume.fatCount', three)).toEqual({
      missing: ['partition.overlaps', 'volume.fatCount'],
    });
    expect(outcome('partition.found ? 3 : volume.fatCount', three)).toBe(3);
  });

  test('comparing with an unseen fact is unknown, even with itself', () => {
    expect(outcome('partition.overlaps == partition.overlaps', three)).toEqual({
      missing: ['partition.overlaps'],
    });
    expect(outcome('volume.clusterBytes + volume.fatCount > media.bytes')).toEqual({
      missing: ['volume.clusterBytes', 'volume.fatCount', 'media.bytes'],
    });
  });
});

describe('what is missing', () => {
  test('only what the rest does not decide', () => {
    const facts = { 'partition.pastEnd': false };
    expect(outcome('partition.pastEnd && volume.fatCount == 2', facts)).toBe(false);
    expect(outcome('volume.fatCount == 2 && partition.pastEnd', facts)).toBe(false);
    expect(outcome('volume.fatCount == 2 || !partition.pastEnd', facts)).toBe(true);
    expect(outcome('volume.fatCount == 2 && !partition.pastEnd', facts)).toEqual({
      missing: ['volume.fatCount'],
    });
  });

  test('carries cause, text and what would settle it', () => {
    const result = evaluate(compileExpression('volume.fatCount == 2').expression, {
      facts: storeOf({ 'volume.fatCount': lost }),
    });
    expect(result).toEqual({
      known: false,
      missing: [
        {
          fact: 'volume.fatCount',
          cause: 'damaged',
          text: 'unreadable',
          settle: 'read it again',
          kind: 'unseen',
        },
      ],
    });
  });

  test('names an absent fact that was not asked for with present', () => {
    const result = evaluate(compileExpression('volume.label == "CARD"').expression, {
      facts: storeOf({ 'volume.label': new Absent('the volume has no label') }),
    });
    expect(result).toEqual({
      known: false,
      missing: [
        { fact: 'volume.label', cause: 'not-visible', text: 'the volume has no label', kind: 'absent' },
      ],
    });
  });

  test('names each fact once, with each cause', () => {
    const files = new FactList([
      { bytes: lost },
      { bytes: lost },
      { bytes: new Unseen('over-limit', 'too many') },
      {},
    ]);
    const result = evaluate(compileExpression('files.all(f, f.bytes > 0)').expression, {
      facts: storeOf({ files }),
    });
    expect(result.known ? [] : result.missing.map(({ fact, cause }) => [fact, cause])).toEqual([
      ['files[].bytes', 'damaged'],
      ['files[].bytes', 'over-limit'],
      ['files[].bytes', 'not-visible'],
    ]);
  });
});

describe('present', () => {
  test('known, absent and unseen facts', () => {
    expect(outcome('present(volume.label)', { 'volume.label': '' })).toBe(true);
    expect(outcome('present(volume.label)', { 'volume.label': new Absent('none') })).toBe(false);
    expect(outcome('present(volume.label)')).toEqual({ missing: ['volume.label'] });
  });

  test('a list is there even when empty or incomplete', () => {
    expect(outcome('present(files)', { files: new FactList([]) })).toBe(true);
    expect(outcome('present(files)', { files: new FactList([], lost) })).toBe(true);
    expect(outcome('present(files)', { files: lost })).toEqual({ missing: ['files'] });
  });

  test('fields of items', () => {
    const facts = { companions: new FactList([{ bytes: new Absent('not there') }, { bytes: 3 }]) };
    expect(outcome('companions.exists(c, !present(c.bytes))', facts)).toBe(true);
    expect(outcome('companions.all(c, !present(c.bytes) || c.bytes == 3)', facts)).toBe(true);
    expect(outcome('companions.all(c, present(c.elsewhere))', facts)).toEqual({
      missing: ['companions[].elsewhere'],
    });
    expect(outcome('present(companions[1].bytes)', facts)).toBe(true);
  });
});

describe('lists', () => {
  const sizes = (items: FactValue[], incomplete?: Unseen): Record<string, FactValue> => ({
    'board.loader.clusterBytes': new FactList(items, incomplete),
  });
  const list = 'board.loader.clusterBytes';

  test('in', () => {
    expect(outcome(`4096 in ${list}`, sizes([512, 4096]))).toBe(true);
    expect(outcome(`4096 in ${list}`, sizes([512]))).toBe(false);
    expect(outcome(`4096 in ${list}`, sizes([]))).toBe(false);
    expect(outcome(`4096 in ${list}`, sizes([4096], lost))).toBe(true);
    expect(outcome(`4096 in ${list}`, sizes([512], lost))).toEqual({ missing: [list] });
    expect(outcome(`4096 in ${list}`, sizes([lost, 4096]))).toBe(true);
    expect(outcome(`4096 in ${list}`, sizes([lost, 512]))).toEqual({ missing: [`${list}[]`] });
    expect(outcome(`4096 in [volume.clusterBytes, 4096]`)).toBe(true);
    expect(outcome(`4096 in [volume.clusterBytes, 512]`)).toEqual({ missing: ['volume.clusterBytes'] });
  });

  test('in a long list gives what it gives in a short one', () => {
    const long = Array.from({ length: 100 }, (_, index) => index);
    expect(outcome(`99 in ${list}`, sizes(long))).toBe(true);
    expect(outcome(`100 in ${list}`, sizes(long))).toBe(false);
    expect(outcome(`100 in ${list}`, sizes([...long, lost]))).toEqual({ missing: [`${list}[]`] });
    expect(outcome(`99 in ${list}`, sizes([lost, ...long], lost))).toBe(true);
    expect(outcome(`100 in ${list}`, sizes(long, lost))).toEqual({ missing: [list] });
  });

  test('exists and all decide early, and never guess the rest', () => {
    const of = (operator: string, items: FactValue[], incomplete?: Unseen) =>
      outcome(`${list}.${operator}(x, x == 512)`, sizes(items, incomplete));
    expect(of('exists', [lost, 512])).toBe(true);
    expect(of('exists', [512], lost)).toBe(true);
    expect(of('exists', [4096], lost)).toEqual({ missing: [list] });
    expect(of('exists', [lost, 4096])).toEqual({ missing: [`${list}[]`] });
    expect(of('exists', [])).toBe(false);
    expect(of('exists', [], lost)).toEqual({ missing: [list] });
    expect(of('all', [lost, 4096])).toBe(false);
    expect(of('all', [4096], lost)).toBe(false);
    expect(of('all', [512], lost)).toEqual({ missing: [list] });
    expect(of('all', [])).toBe(true);
    expect(outcome(`${list}.all(x, x == 512)`)).toEqual({ missing: [list] });
  });

  test('size', () => {
    expect(outcome(`size(${list})`, sizes([1, lost]))).toBe(2);
    expect(outcome(`size(${list})`, sizes([1], lost))).toEqual({ missing: [list] });
  });

  test('an absent list is not an empty one', () => {
    const facts = { [list]: new Absent('it does not matter') };
    expect(outcome(`${list}.all(x, x == 512)`, facts)).toEqual({ missing: [list] });
    expect(outcome(`512 in ${list}`, facts)).toEqual({ missing: [list] });
  });

  test('an index past the end is unknown, not an error', () => {
    expect(outcome(`${list}[0]`, sizes([7]))).toBe(7);
    expect(outcome(`${list}[1]`, sizes([7]))).toEqual({ missing: [`${list}[1]`] });
    expect(outcome(`${list}[1]`, sizes([7], lost))).toEqual({ missing: [list] });
    expect(outcome(`${list}[-1] == 3`, sizes([7]))).toEqual({ missing: [`${list}[-(1)]`] });
  });
});

describe('numbers and texts', () => {
  test('whole numbers divide without a rest, towards zero', () => {
    expect(outcome('7 / 2')).toBe(3);
    expect(outcome('-7 / 2')).toBe(-3);
    expect(outcome('-7 % 3')).toBe(-1);
    expect(outcome('power.peakWatts / 2.0', { 'power.peakWatts': 5 })).toBe(2.5);
    expect(outcome('power.peakWatts > 5', { 'power.peakWatts': 5.5 })).toBe(true);
  });

  test('division by zero is unknown and names the divisor', () => {
    const facts = { 'volume.fatCount': 0, 'volume.clusterCount': 8 };
    expect(outcome('volume.clusterCount / volume.fatCount > 1', facts)).toEqual({
      missing: ['volume.fatCount'],
    });
    expect(outcome('volume.clusterCount % volume.fatCount > 1', facts)).toEqual({
      missing: ['volume.fatCount'],
    });
    expect(outcome('power.peakWatts / 0.0 > 1.0', { 'power.peakWatts': 5 })).toEqual({ missing: ['0'] });
  });

  test('offsets past 32 bits are exact, past 53 bits unknown', () => {
    const facts = { 'media.bytes': 2 ** 41 };
    expect(outcome('media.bytes + 1', facts)).toBe(2199023255553);
    expect(outcome('media.bytes % 4294967296', facts)).toBe(0);
    expect(outcome('media.bytes * media.bytes > 0', facts)).toEqual({
      missing: ['(media.bytes * media.bytes)'],
    });
  });

  test('texts', () => {
    const facts = { 'updateFile.name': 'TANSY.BIN' };
    expect(outcome('updateFile.name.endsWith(".BIN")', facts)).toBe(true);
    expect(outcome('lower(updateFile.name).startsWith("tan")', facts)).toBe(true);
    expect(outcome('updateFile.name.contains("SY.")', facts)).toBe(true);
    expect(outcome('updateFile.name + "X" == "TANSY.BINX"', facts)).toBe(true);
    expect(outcome('size("a\u{1F600}")')).toBe(2);
  });

  test('a number never equals a text', () => {
    expect(outcome('partition.type == 12', { 'partition.type': '12' })).toBe(false);
    expect(
      outcome('partition.type in board.loader.partitionTypes', {
        'partition.type': 'EBD0A0A2-B9E5-4433-87C0-68B6B72699C7',
        'board.loader.partitionTypes': new FactList([12]),
      }),
    ).toBe(false);
  });
});

describe('our own faults', () => {
  test('a value of the wrong type throws and is no outcome', () => {
    const must = compileExpression('partition.found && volume.fatCount == 2').expression;
    expect(() => evaluate(must, { facts: storeOf({ 'partition.found': 'yes' }) })).toThrow(
      /expected true or false/,
    );
    const all = compileExpression('files.all(f, f.bytes > 0)').expression;
    expect(() => evaluate(all, { facts: storeOf({ files: 7 }) })).toThrow(/expected a list/);
  });

  test('a fact outside the schema throws', () => {
    expect(() => evaluate(['fact', 'volume.nope'], { facts: new FactStore() })).toThrow(/no such fact/);
  });
});

test('an expression as text reads like its source', () => {
  const source =
    'files.exists(f, f.bytes / 2 > 3 && !present(f.path)) ? -1 : size([volume.fatCount][0] in [2] ? "a" : "b")';
  expect(expressionText(compileExpression(source).expression)).toBe(
    '(files.exists(f, (((f.bytes / 2) > 3) && !(present(f.path)))) ? -(1) : size((([volume.fatCount][0] in [2]) ? "a" : "b")))',
  );
});

test('two hundred thousand files in one iteration stay quick', () => {
  const names = Array.from({ length: 200_000 }, (_, index) => `F${index}`);
  const facts = {
    files: new FactList(names.map((path) => ({ path, bytes: 1 }))),
    'updateFile.candidates': new FactList(names),
  };
  const started = performance.now();
  expect(outcome('files.all(f, f.bytes >= 0 && f.path in updateFile.candidates)', facts)).toBe(true);
  expect(performance.now() - started).toBeLessThan(5000);
});
