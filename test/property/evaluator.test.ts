/**
 * The evaluator against the expression library itself, whose facts throw when they are not known. Where the library
 * gives a value, ours must give the same; where it ends with such an error, ours must be unknown.
 */
import { Environment, EvaluationError } from '@marcbachmann/cel-js';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  Absent,
  FactList,
  type FactRecord,
  type FactValue,
  type Scalar,
  Unseen,
} from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { factSchema } from '../../src/facts/schema.js';
import { compileExpression } from '../../src/rules/compile.js';
import { evaluate } from '../../src/rules/evaluate.js';

// ---- worlds: every fact has a value, and what is seen of it ------------------------------------------------

type State = 'known' | 'unseen' | 'absent';
interface Held<T> {
  readonly state: State;
  readonly value: T;
}
interface HeldList<T> {
  readonly items: readonly T[];
  readonly complete: boolean;
}
type HeldFile = Held<Readonly<Record<string, Held<Scalar>>>>;

interface World {
  readonly scalars: Readonly<Record<string, Held<Scalar>>>;
  readonly lists: Readonly<Record<string, Held<HeldList<Held<Scalar>>>>>;
  readonly files: Held<HeldList<HeldFile>>;
}

const state = fc.oneof(
  { weight: 14, arbitrary: fc.constant<State>('known') },
  { weight: 3, arbitrary: fc.constant<State>('unseen') },
  { weight: 2, arbitrary: fc.constant<State>('absent') },
);
const held = <T>(value: fc.Arbitrary<T>): fc.Arbitrary<Held<T>> => fc.record({ state, value });
const heldList = <T>(item: fc.Arbitrary<T>): fc.Arbitrary<Held<HeldList<T>>> =>
  held(fc.record({ items: fc.array(item, { maxLength: 4 }), complete: fc.boolean() }));

const flag = fc.boolean();
const whole = fc.constantFrom(0, 1, 2, 3, 512, 4096);
const broken = fc.constantFrom(0, 0.5, 1, 24, 156.25);
const name = fc.constantFrom('', 'A', 'AB', 'TANSY.BIN', '\u{1F600}');
const fat = fc.constantFrom('FAT12', 'FAT16', 'FAT32', 'exFAT');
const litter = fc.constantFrom('none', 'trash', 'desktop-index');

const flags = ['partition.found', 'partition.pastEnd', 'media.reinserted', 'board.loader.longNames'] as const;
const wholes = [
  'volume.fatCount',
  'volume.clusterBytes',
  'media.bytes',
  'board.loader.fragments.max',
] as const;
const brokens = ['power.peakWatts', 'power.supplyWatts'] as const;
const names = ['volume.label', 'updateFile.name'] as const;

/** A record of arbitraries, one for each path. */
const every = <T>(paths: readonly string[], value: fc.Arbitrary<T>): Record<string, fc.Arbitrary<T>> =>
  Object.fromEntries(paths.map((path) => [path, value]));

const world: fc.Arbitrary<World> = fc.record({
  scalars: fc.record<Record<string, Held<Scalar>>>({
    ...every(flags, held<Scalar>(flag)),
    ...every(wholes, held<Scalar>(whole)),
    ...every(brokens, held<Scalar>(broken)),
    ...every(names, held<Scalar>(name)),
    'volume.fileSystem': held<Scalar>(fat),
  }),
  lists: fc.record<Record<string, Held<HeldList<Held<Scalar>>>>>({
    'board.loader.clusterBytes': heldList(held<Scalar>(whole)),
    'board.loader.fileSystems': heldList(held<Scalar>(fat)),
  }),
  files: heldList(
    held<Record<string, Held<Scalar>>>(
      fc.record({
        path: held<Scalar>(name),
        bytes: held<Scalar>(whole),
        isFolder: held<Scalar>(flag),
        litter: held<Scalar>(litter),
      }),
    ),
  ),
});

/** The world as our facts. */
function storeOf({ scalars, lists, files }: World): FactStore {
  const store = new FactStore();
  const factOf = <T>({ state, value }: Held<T>, how: (value: T) => FactValue): FactValue =>
    state === 'known'
      ? how(value)
      : state === 'absent'
        ? new Absent('gone')
        : new Unseen('damaged', 'unreadable');
  const listOf = <T>({ items, complete }: HeldList<T>, how: (item: T) => FactValue): FactList =>
    new FactList(items.map(how), complete ? undefined : new Unseen('over-limit', 'and more'));
  const scalar = (each: Held<Scalar>): FactValue => factOf(each, (value) => value);
  const record = (file: HeldFile): FactValue =>
    factOf(
      file,
      (fields): FactRecord =>
        Object.fromEntries(Object.entries(fields).map(([field, value]) => [field, scalar(value)])),
    );
  for (const [path, each] of Object.entries(scalars)) store.set(path, scalar(each));
  for (const [path, each] of Object.entries(lists))
    store.set(
      path,
      factOf(each, (list) => listOf(list, scalar)),
    );
  store.set(
    'files',
    factOf(files, (list) => listOf(list, record)),
  );
  return store;
}

/** Thrown by everything that is not known. `direct`: the very thing that was asked for is proved absent. */
class NotKnown extends Error {
  constructor(readonly direct: boolean) {
    super('not known');
  }
}

/** The value as the library wants it: whole numbers as BigInt. */
const native = (value: Scalar, type: string): unknown => (type === 'int' ? BigInt(value as number) : value);

function getter(target: object, key: string, { state, value }: Held<unknown>): void {
  Object.defineProperty(target, key, {
    enumerable: true,
    get: () => {
      if (state !== 'known') throw new NotKnown(state === 'absent');
      return value;
    },
  });
}

const unseen: Held<unknown> = { state: 'unseen', value: undefined };

/**
 * The world as the library's context. Items of lists are objects: `v` is the item of a list of single values, and
 * `alive` throws in the one item more that stands for what an incomplete list lacks.
 */
function contextOf({ scalars, lists, files }: World): Record<string, unknown> {
  const context: Record<string, Record<string, unknown>> = {};
  const place = (path: string, value: Held<unknown>): void => {
    const steps = path.split('.');
    const last = steps.pop()!;
    let at = context as Record<string, unknown>;
    for (const step of steps) {
      at[step] ??= {};
      at = at[step] as Record<string, unknown>;
    }
    getter(at, last, value);
  };
  const itemsOf = <T>(
    { items, complete }: HeldList<T>,
    fields: readonly string[],
    fill: (target: object, item: T) => void,
  ): object[] => {
    const all = items.map((item): object => {
      const target = { alive: true };
      fill(target, item);
      return target;
    });
    if (complete) return all;
    const lost = {};
    for (const field of ['alive', ...fields]) getter(lost, field, unseen);
    return [...all, lost];
  };
  for (const [path, { state, value }] of Object.entries(scalars))
    place(path, { state, value: native(value, factSchema[path]!.type) });
  for (const [path, { state, value }] of Object.entries(lists)) {
    const type = factSchema[path]!.type === 'list<int>' ? 'int' : 'string';
    const items = itemsOf(value, ['v'], (target, item) =>
      getter(target, 'v', { state: item.state, value: native(item.value, type) }),
    );
    place(path, { state, value: items });
  }
  const fields = Object.keys(files.value.items[0]?.value ?? { path: 0, bytes: 0, isFolder: 0, litter: 0 });
  const items = itemsOf(files.value, fields, (target, file) => {
    for (const [field, each] of Object.entries(file.value)) {
      const value = native(each.value, field === 'bytes' ? 'int' : 'string');
      // Nothing can be asked of an item that is itself not known, and nothing of it is proved absent.
      getter(target, field, file.state === 'known' ? { state: each.state, value } : unseen);
    }
  });
  place('files', { state: files.state, value: items });
  return context;
}

// ---- expressions: the same one for us and for the library ------------------------------------------------

interface Part {
  readonly ours: string;
  /** The library's form; how it asks for the size of a list depends on whether the list is complete. */
  readonly theirs: (world: World) => string;
}

const same = (text: string): Part => ({ ours: text, theirs: () => text });
/** Joins texts and parts. */
const put = (strings: TemplateStringsArray, ...parts: readonly Part[]): Part => ({
  ours: String.raw({ raw: strings }, ...parts.map((part) => part.ours)),
  theirs: (of) => String.raw({ raw: strings }, ...parts.map((part) => part.theirs(of))),
});

/** What an iteration's variable gives its body. */
interface Scope {
  readonly bools: readonly Part[];
  readonly ints: readonly Part[];
  readonly strings: readonly Part[];
  readonly words: readonly Part[];
}
const noScope: Scope = { bools: [], ints: [], strings: [], words: [] };

interface Grammar {
  bool: Part;
  int: Part;
  double: Part;
  string: Part;
  word: Part;
}

const comparison = fc.constantFrom('==', '!=', '<', '<=', '>', '>=');

function grammar(scope: Scope, iterates: boolean): fc.Arbitrary<Part> {
  const quoted = (value: string): Part => same(JSON.stringify(value));
  const among = (parts: readonly Part[]): fc.Arbitrary<Part>[] =>
    parts.length > 0 ? [fc.constantFrom(...parts)] : [];
  return fc.letrec<Grammar>((tie: fc.LetrecTypedTie<Grammar>) => {
    const bool = tie('bool');
    const int = tie('int');
    const compared = (
      side: fc.Arbitrary<Part>,
      operators: fc.Arbitrary<string>,
      other = side,
    ): fc.Arbitrary<Part> =>
      fc.tuple(side, operators, other).map(([a, operator, b]) => put`(${a} ${same(operator)} ${b})`);
    return {
      bool: fc.oneof(
        { maxDepth: 3, withCrossShrink: true },
        fc.oneof(
          fc.constantFrom(...flags.map(same)),
          ...among(scope.bools),
          fc.constantFrom(same('true'), same('false')),
        ),
        fc.constantFrom(
          ...[...flags, ...wholes, ...names, 'files', 'board.loader.clusterBytes'].map((path) =>
            same(`present(${path})`),
          ),
        ),
        bool.map((a) => put`!${a}`),
        fc.tuple(bool, bool).map(([a, b]) => put`(${a} && ${b})`),
        fc.tuple(bool, bool).map(([a, b]) => put`(${a} || ${b})`),
        fc.tuple(bool, bool, bool).map(([c, a, b]) => ({
          ours: `(${c.ours} ? ${a.ours} : ${b.ours})`,
          // The library gives up when the condition is not known; ours asks whether both branches agree.
          theirs: (of: World) => {
            const [condition, yes, no] = [c.theirs(of), a.theirs(of), b.theirs(of)];
            return `((${condition} && ${yes}) || (!${condition} && ${no}) || (${yes} && ${no}))`;
          },
        })),
        compared(int, comparison),
        compared(
          tie('double'),
          comparison.filter((each) => each !== '==' && each !== '!='),
          fc.oneof(tie('double'), int),
        ),
        compared(tie('string'), comparison),
        compared(tie('word'), fc.constantFrom('==', '!=')),
        fc
          .tuple(tie('string'), fc.constantFrom('startsWith', 'endsWith', 'contains'), tie('string'))
          .map(([a, method, b]) => put`${a}.${same(method)}(${b})`),
        fc.tuple(int, fc.constant('board.loader.clusterBytes')).map(([x, list]) => memberOf(x, list)),
        fc.tuple(tie('word'), fc.constant('board.loader.fileSystems')).map(([x, list]) => memberOf(x, list)),
        fc.tuple(int, fc.array(int, { minLength: 1, maxLength: 3 })).map(([x, items]) => ({
          ours: `(${x.ours} in [${items.map((item) => item.ours).join(', ')}])`,
          theirs: (of: World) => {
            const value = x.theirs(of);
            return `first(${items.map((item) => `${value} == ${item.theirs(of)}`).join(' || ')}, ${value})`;
          },
        })),
        ...(iterates ? [iteration()] : []),
      ),
      int: fc.oneof(
        { maxDepth: 2, withCrossShrink: true },
        fc.oneof(
          fc.constantFrom(...wholes.map(same)),
          whole.map((value) => same(String(value))),
          ...among(scope.ints),
        ),
        fc
          .tuple(int, fc.constantFrom('+', '-'), int)
          .map(([a, operator, b]) => put`(${a} ${same(operator)} ${b})`),
        fc
          .tuple(
            int,
            fc.constantFrom('*', '/', '%'),
            fc.oneof(fc.constantFrom(same('2'), same('3'), same('volume.fatCount'))),
          )
          .map(([a, operator, b]) => put`(${a} ${same(operator)} ${b})`),
        int.map((a) => put`(-${a})`),
        tie('string').map((a) => put`size(${a})`),
        fc.constantFrom('files', 'board.loader.clusterBytes').map(sizeOf),
        // The branches differ, so an unknown condition leaves the whole unknown, as with the library.
        bool.map((c) => put`(${c} ? 7 : 8)`),
      ),
      double: fc.oneof(
        { maxDepth: 2 },
        fc.constantFrom(...brokens.map(same), same('1.0'), same('24.5')),
        fc
          .tuple(tie('double'), fc.constantFrom('+', '-', '*'), tie('double'))
          .map(([a, operator, b]) => put`(${a} ${same(operator)} ${b})`),
        tie('double').map((a) => put`(${a} / 2.0)`),
      ),
      string: fc.oneof(
        { maxDepth: 2 },
        fc.oneof(fc.constantFrom(...names.map(same)), name.map(quoted), ...among(scope.strings)),
        fc.tuple(tie('string'), tie('string')).map(([a, b]) => put`(${a} + ${b})`),
      ),
      word: fc.oneof(fc.constant(same('volume.fileSystem')), fat.map(quoted), ...among(scope.words)),
    };
  }).bool;
}

/** Membership item by item, so that the library too passes over items that it cannot see. */
function memberOf(x: Part, list: string): Part {
  return {
    ours: `(${x.ours} in ${list})`,
    theirs: (of) => `first(${list}.exists(m, first(m.v == ${x.theirs(of)}, m.alive)), ${x.theirs(of)})`,
  };
}

function sizeOf(list: string): Part {
  return {
    ours: `size(${list})`,
    theirs: ({ lists, files }) => {
      const { complete } = (list === 'files' ? files : lists[list]!).value;
      return complete ? `size(${list})` : `first(size(${list}), ${list}.all(m, m.alive))`;
    },
  };
}

/** `all` and `exists` over a list; their bodies have the variable and no iteration of their own. */
function iteration(): fc.Arbitrary<Part> {
  const item: Part = { ours: 'x', theirs: () => 'x.v' };
  const over = (list: string, scope: Scope): fc.Arbitrary<Part> =>
    fc.tuple(fc.constantFrom('all', 'exists'), grammar(scope, false)).map(([kind, body]) => ({
      ours: `${list}.${kind}(x, ${body.ours})`,
      theirs: (of: World) => `${list}.${kind}(x, first(${body.theirs(of)}, x.alive))`,
    }));
  return fc.oneof(
    over('board.loader.clusterBytes', { ...noScope, ints: [item] }),
    over('board.loader.fileSystems', { ...noScope, words: [item] }),
    over('files', {
      bools: [
        same('x.isFolder'),
        same('present(x.bytes)'),
        same('present(x.path)'),
        same('(x.litter == "trash")'),
      ],
      ints: [same('x.bytes')],
      strings: [same('x.path')],
      words: [],
    }),
  );
}

// ---- the library -------------------------------------------------------------------------------------------

interface Checker {
  check(node: unknown, context: unknown): unknown;
  getType(name: string): unknown;
}
interface Runner {
  run(node: unknown, context: unknown): unknown;
}

const library = new Environment({ limits: { maxDepth: 200 } })
  .registerType({ name: 'Number', schema: { v: 'int', alive: 'bool' } })
  .registerType({ name: 'Word', schema: { v: 'string', alive: 'bool' } })
  .registerType({
    name: 'File',
    schema: { path: 'string', bytes: 'int', isFolder: 'bool', litter: 'string', alive: 'bool' },
  })
  .registerVariable({ name: 'partition', schema: { found: 'bool', pastEnd: 'bool' } })
  .registerVariable({ name: 'media', schema: { reinserted: 'bool', bytes: 'int' } })
  .registerVariable({
    name: 'volume',
    schema: { fatCount: 'int', clusterBytes: 'int', label: 'string', fileSystem: 'string' },
  })
  .registerVariable({ name: 'power', schema: { peakWatts: 'double', supplyWatts: 'double' } })
  .registerVariable({ name: 'updateFile', schema: { name: 'string' } })
  .registerVariable({
    name: 'board',
    schema: {
      loader: {
        longNames: 'bool',
        fragments: { max: 'int' },
        clusterBytes: 'list<Number>',
        fileSystems: 'list<Word>',
      },
    },
  })
  .registerVariable('files', 'list<File>')
  // The first value, once the second is known too.
  .registerFunction('first(bool, bool): bool', (value: boolean) => value)
  .registerFunction('first(bool, int): bool', (value: boolean) => value)
  .registerFunction('first(bool, string): bool', (value: boolean) => value)
  .registerFunction('first(int, bool): int', (value: bigint) => value)
  .registerFunction('present(ast): bool', ({ args }: { args: unknown[] }) => ({
    args,
    async: false,
    typeCheck(checker: Checker, _macro: unknown, context: unknown) {
      checker.check(args[0], context);
      return checker.getType('bool');
    },
    evaluate(runner: Runner, _macro: unknown, context: unknown) {
      try {
        runner.run(args[0], context);
        return true;
      } catch (error) {
        if (error instanceof NotKnown && error.direct) return false;
        throw error;
      }
    },
  }));

const arithmeticFaults = ['division_by_zero', 'modulo_by_zero'];

/** True or false, or `undefined` when the library stopped at something that is not known or has no value. */
function theirAnswer(text: string, context: Record<string, unknown>): boolean | undefined {
  try {
    const answer: unknown = library.evaluate(text, context);
    if (typeof answer !== 'boolean') throw new Error(`the library answered ${String(answer)}`);
    return answer;
  } catch (error) {
    if (error instanceof NotKnown) return undefined;
    if (error instanceof EvaluationError && arithmeticFaults.includes(error.code)) return undefined;
    throw error;
  }
}

function ourAnswer(text: string, of: World): { answer: boolean | undefined; missing: readonly string[] } {
  const result = evaluate(compileExpression(text).expression, { facts: storeOf(of) });
  if (!result.known) return { answer: undefined, missing: result.missing.map((each) => each.fact) };
  if (typeof result.value !== 'boolean') throw new Error('our answer is no condition');
  return { answer: result.value, missing: [] };
}

const expression = grammar(noScope, true);
const runs = 3000;

test('gives what the expression library gives, and is unknown where it is stopped', () => {
  const counts = new Map<boolean | undefined, number>();
  fc.assert(
    fc.property(expression, world, (part, of) => {
      const theirs = part.theirs(of);
      const expected = theirAnswer(theirs, contextOf(of));
      const { answer, missing } = ourAnswer(part.ours, of);
      expect({ text: part.ours, theirs, answer }).toEqual({ text: part.ours, theirs, answer: expected });
      expect(missing.length > 0).toBe(answer === undefined);
      counts.set(answer, (counts.get(answer) ?? 0) + 1);
    }),
    { numRuns: runs },
  );
  for (const answer of [true, false, undefined])
    expect([answer, (counts.get(answer) ?? 0) > runs / 10]).toEqual([answer, true]);
});

/** The same world with everything seen that was only not seen; what is proved absent stays so. */
function filled({ scalars, lists, files }: World): World {
  const seen = <T>({ state, value }: Held<T>): Held<T> => ({
    state: state === 'unseen' ? 'known' : state,
    value,
  });
  const list = <T>(
    { state, value }: Held<HeldList<T>>,
    item: (item: T) => T,
    more: readonly T[],
  ): Held<HeldList<T>> =>
    seen({
      state,
      value: { items: [...value.items, ...(value.complete ? [] : more)].map(item), complete: true },
    });
  const all = <T>(record: Readonly<Record<string, T>>, how: (value: T) => T): Record<string, T> =>
    Object.fromEntries(Object.entries(record).map(([path, value]) => [path, how(value)]));
  const file = (each: HeldFile): HeldFile => seen({ state: each.state, value: all(each.value, seen) });
  return {
    scalars: all(scalars, seen),
    lists: all(lists, (each) => list(each, seen, each.value.items.slice(0, 1))),
    files: list(files, file, files.value.items.slice(0, 1)),
  };
}

test('what is decided without an unseen fact stays so whatever that fact turns out to be', () => {
  let decided = 0;
  fc.assert(
    fc.property(expression, world, world, (part, of, other) => {
      const { answer } = ourAnswer(part.ours, of);
      if (answer === undefined) return;
      decided++;
      expect([part.ours, ourAnswer(part.ours, filled(of)).answer]).toEqual([part.ours, answer]);
      // The same with other values behind what was not seen.
      const swapped: World = {
        ...of,
        scalars: Object.fromEntries(
          Object.entries(of.scalars).map(([path, each]) => [
            path,
            each.state === 'unseen' ? { state: 'known', value: other.scalars[path]!.value } : each,
          ]),
        ),
      };
      expect([part.ours, ourAnswer(part.ours, swapped).answer]).toEqual([part.ours, answer]);
    }),
    { numRuns: runs },
  );
  expect(decided).toBeGreaterThan(runs / 5);
});
