import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parse, parseDocument } from 'yaml';
import { coverage, says } from '../../src/board/coverage.js';
import { coreKeys } from '../../src/board/keys.js';
import { readProfile } from '../../src/board/read.js';
import { resolveProfile } from '../../src/board/resolve.js';
import { boardSchema, type SchemaNode, validateBoard } from '../../src/board/schema/validators.js';
import { resolve, shapeProblems } from '../../src/board/validate.js';
import { collectBoard } from '../../src/facts/collect-board.js';
import { Absent, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { factSchema } from '../../src/facts/schema.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { boards, sample, sampleText } from './profiles.js';

type Tree = { readonly [key: string]: unknown };
const isTree = (value: unknown): value is Tree =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** Dotted names of all keys that a schema knows, without list indexes and names that authors choose. */
function schemaKeys(schema: SchemaNode, prefix = ''): string[] {
  const node = resolve(schema, boardSchema);
  if (Array.isArray(node.anyOf))
    return node.anyOf.flatMap((branch: SchemaNode) => schemaKeys(branch, prefix));
  if (isTree(node.items)) return schemaKeys(node.items, prefix);
  const keys = Object.entries(isTree(node.properties) ? node.properties : {}).flatMap(([name, inner]) => {
    const path = prefix === '' ? name : `${prefix}.${name}`;
    return [path, ...schemaKeys(inner as SchemaNode, path)];
  });
  // What authors name themselves: generations of loaders, questions of `for`, keys of `basis`.
  return isTree(node.additionalProperties)
    ? [...keys, ...schemaKeys(node.additionalProperties, prefix)]
    : keys;
}

/** The same names for a value, guided by the schema. */
function usedKeys(value: unknown, schema: SchemaNode, prefix = ''): string[] {
  const node = resolve(schema, boardSchema);
  if (Array.isArray(node.anyOf))
    return node.anyOf.flatMap((branch: SchemaNode) => usedKeys(value, branch, prefix));
  if (Array.isArray(value)) {
    const items = node.items;
    return isTree(items) ? value.flatMap((item) => usedKeys(item, items, prefix)) : [];
  }
  if (!isTree(value)) return [];
  return Object.entries(value).flatMap(([name, inner]) => {
    const properties = isTree(node.properties) ? node.properties : {};
    const own = Object.hasOwn(properties, name) ? properties[name] : undefined;
    const path = prefix === '' ? name : `${prefix}.${name}`;
    if (isTree(own)) return [path, ...usedKeys(inner, own, path)];
    return isTree(node.additionalProperties) ? usedKeys(inner, node.additionalProperties, prefix) : [];
  });
}

describe('the sample boards', () => {
  test.each(boards)('%s is valid and leaves out no core key', (id) => {
    const profile = sample(id);
    expect(profile.id).toBe(id);
    expect(coverage(profile).coreSilent).toEqual([]);
  });

  test('together they use every key of the schema', () => {
    const used = new Set(boards.flatMap((id) => usedKeys(parse(sampleText(id)), boardSchema)));
    // A list by axis repeats the name of its key: `update.match: [{ for, match: { glob } }]`.
    const plain = (key: string): string => key.replace(/^update\.(\w+)\.\1/, 'update.$1');
    const known = new Set([...used].map(plain));
    // Every generation under `loaders` has the keys of `loader`.
    const all = schemaKeys(boardSchema)
      .map(plain)
      .filter((key) => !key.startsWith('loaders.'));
    const isCondition = (key: string): boolean => /^(update|memory)\.\w+\.for$/.test(key);
    expect(all.filter((key) => !known.has(key) && !isCondition(key))).toEqual([]);
    expect(schemaKeys(boardSchema).length).toBeGreaterThan(150);
  });

  test('the Tansy has a build for each supply and each loader generation', () => {
    const profile = sample('tansy');
    expect(profile.builds).toHaveLength(4);
    for (const [installed, loader, start] of [
      ['23', 'older', 0x0800c000],
      ['24', 'newer', 0x08010000],
    ] as const) {
      const { machine, problems } = machineFromOptions({ installed, supply: 'small' }, profile);
      expect(problems).toEqual([]);
      const resolved = resolveProfile(profile, machine);
      expect(resolved.loaderId).toBe(loader);
      expect(resolved.memory.application).toMatchObject({ start });
      expect(resolved.open).toEqual({});
    }
  });
});

describe('a core key that is left out', () => {
  const cases = boards.flatMap((id) => coreKeys.map((key) => ({ id, key })));
  test.each(cases)('$key of $id: its facts are unseen, so nothing is proved', ({ id, key }) => {
    const document = parseDocument(sampleText(id));
    for (const name of key === 'update.path' ? ['update.path', 'update.names', 'update.match'] : [key])
      document.deleteIn(name.split('.'));
    // The Tansy says it for each of its loaders; the newer one then has no key of its own.
    if (key === 'loader.erases' && id === 'tansy')
      for (const path of [['older', 'erases'], ['newer']]) document.deleteIn(['loaders', ...path]);
    if (key === 'builds') document.delete('whenUnsure');
    const { profile } = readProfile(String(document), `${id}.yaml`);
    expect(says(profile, key)).toBe(false);
    expect(coverage(profile).coreSilent).toEqual([key]);
    const store = new FactStore();
    collectBoard(store, resolveProfile(profile, null), profile);
    const prefix = key === 'update.path' ? 'board.update.looksFor' : `board.${key}`;
    const facts = Object.keys(factSchema).filter((path) => path === prefix || path.startsWith(`${prefix}.`));
    expect(facts.length).toBeGreaterThan(0);
    for (const path of facts) {
      const value = store.value(path);
      expect(value, path).toBeInstanceOf(Unseen);
      expect((value as Unseen).cause, path).toBe('profile-silent');
      expect((value as Unseen).settle, path).toContain(key);
    }
  });
});

describe('the schema', () => {
  test('every key has a description for editors', () => {
    const full: unknown = JSON.parse(
      readFileSync(`${import.meta.dirname}/../../src/board/schema/board.schema.json`, 'utf8'),
    );
    const lacking: string[] = [];
    const walk = (value: unknown, path: string): void => {
      if (Array.isArray(value)) {
        for (const [index, item] of value.entries()) walk(item, `${path}/${index}`);
        return;
      }
      if (!isTree(value)) return;
      for (const [name, inner] of Object.entries(value)) {
        if (name === 'properties' && isTree(inner))
          for (const [key, property] of Object.entries(inner)) {
            const isDescribed =
              isTree(property) && typeof property.description === 'string' && property.description.length > 8;
            // `loader` refers to the keys in `$defs`, where each has its description.
            const refers = isTree(property) && String(property.$ref).startsWith('#/$defs/loaderKeys/');
            if (!isDescribed && !refers) lacking.push(`${path}/${key}`);
          }
        walk(inner, `${path}/${name}`);
      }
    };
    walk(full, '');
    expect(lacking).toEqual([]);
  });

  test('patterns have no nested repetition that could take for ever', () => {
    const patterns = [...JSON.stringify(boardSchema).matchAll(/"pattern":"((?:[^"\\]|\\.)*)"/g)].map(
      (found) => found[1]!,
    );
    expect(patterns.length).toBeGreaterThan(5);
    for (const pattern of patterns) expect(pattern).not.toMatch(/[*+]\)[*+{]|[^\\]\.[*+]/);
  });

  test('words in a message and the compiled validator agree about every mutation of the samples', () => {
    const values: unknown[] = [
      'any',
      'mbr',
      'FAT32',
      '<31',
      '4KiB',
      '0x10',
      'a',
      '',
      0,
      -1,
      1.5,
      300,
      true,
      null,
      [],
      {},
      ['any'],
      [1],
      { max: 1 },
      { for: { a: 'b' } },
      { start: 1, bytes: 2 },
      1e300,
    ];
    const documents: unknown[] = boards.map((id) => parse(sampleText(id)));
    const pathsOf = (value: unknown, path: (string | number)[]): (string | number)[][] => {
      if (Array.isArray(value))
        return [path, ...value.flatMap((item, index) => pathsOf(item, [...path, index]))];
      if (isTree(value))
        return [path, ...Object.entries(value).flatMap(([key, inner]) => pathsOf(inner, [...path, key]))];
      return [path];
    };
    const places = documents.map((document) => pathsOf(document, []));
    const context = { root: boardSchema, sourceOf: () => undefined };
    let refused = 0;
    let accepted = 0;
    fc.assert(
      fc.property(
        fc.nat(2),
        fc.nat(),
        fc.constantFrom('set', 'delete', 'add'),
        fc.constantFrom(...values),
        (which, at, how, value) => {
          const copy = { root: structuredClone(documents[which]) } as Record<string, unknown>;
          const path = ['root', ...places[which]![at % places[which]!.length]!];
          const last = path.pop()!;
          let parent: unknown = copy;
          for (const step of path) parent = (parent as Record<string | number, unknown>)[step];
          const holder = parent as Record<string | number, unknown>;
          if (how === 'set') holder[last] = value;
          else if (how === 'delete' && !Array.isArray(holder)) delete holder[last];
          else if (isTree(holder[last])) (holder[last] as Record<string, unknown>).mistyped = value;
          else holder[last] = [holder[last], value];
          const isValid = validateBoard(copy.root);
          if (isValid) accepted++;
          else refused++;
          expect(shapeProblems(copy.root, boardSchema, context).length === 0).toBe(isValid);
        },
      ),
      { numRuns: 1500 },
    );
    // Both answers must have come up often for the comparison to mean something.
    expect(Math.min(accepted, refused)).toBeGreaterThan(100);
  });

  test('reading never does anything but give a profile or a list of problems', () => {
    const text = sampleText('burr');
    fc.assert(
      fc.property(
        fc.nat(text.length - 1),
        fc.string({ minLength: 0, maxLength: 3, unit: 'binary-ascii' }),
        fc.nat(20),
        (at, inserted, cut) => {
          try {
            return (
              readProfile(text.slice(0, at) + inserted + text.slice(at + cut), 'b').profile.schema ===
              'flashworthy-board/1'
            );
          } catch (error) {
            const problems =
              (error as { problems?: { line: number; column: number; message: string }[] }).problems ?? [];
            return (
              problems.length > 0 &&
              problems.every((one) => one.line >= 1 && one.column >= 1 && one.message !== '')
            );
          }
        },
      ),
      { numRuns: 150 },
    );
  });
});

test('a fact whose key is not core and left out is absent, never a value', () => {
  const document = parseDocument(sampleText('burr'));
  document.deleteIn(['loader', 'clusterBytes']);
  const { profile } = readProfile(String(document), 'burr.yaml');
  const store = new FactStore();
  collectBoard(store, resolveProfile(profile, null), profile);
  expect(store.value('board.loader.clusterBytes')).toEqual(new Absent('the profile does not say'));
});
