import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';

const root = join(import.meta.dirname, '../..');

interface Schema {
  readonly $ref?: string;
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly anyOf?: readonly Schema[];
  readonly oneOf?: readonly Schema[];
  readonly allOf?: readonly Schema[];
  readonly items?: Schema | false;
}

/**
 * Every key of the schema of profiles that holds a value of its own, by its path: `loader.volumeBytes.min`,
 * `builds.files`. A list by axis repeats its key inside (`update.path.path`), and a loader generation repeats the keys
 * of `loader`; each of those is one key. `for` is the same everywhere.
 */
function keysOfSchema(): string[] {
  const schema = JSON.parse(readFileSync(join(root, 'src/board/schema/board.schema.json'), 'utf8')) as Schema;
  const leaves = new Set<string>();
  const parents = new Set<string>();
  const walk = (node: Schema, path: string): void => {
    if (node.$ref !== undefined) {
      const target = node.$ref
        .slice(2)
        .split('/')
        .reduce<unknown>((at, name) => (at as Record<string, unknown>)[name], schema);
      walk(target as Schema, path);
      return;
    }
    for (const [name, child] of Object.entries(node.properties ?? {})) {
      if (name === 'for') {
        leaves.add('for');
        continue;
      }
      const isRepeated = path.endsWith(`.${name}`) && path.startsWith('update.');
      const own = isRepeated ? path : path === '' ? name : `${path}.${name}`;
      if (!isRepeated && path !== '') parents.add(path);
      walk(child, own);
    }
    for (const child of [...(node.anyOf ?? []), ...(node.oneOf ?? []), ...(node.allOf ?? [])])
      walk(child, path);
    if (node.items) walk(node.items, path);
    if (path !== '') leaves.add(path);
  };
  walk(schema, '');
  return [...leaves].filter((path) => !parents.has(path)).sort();
}

/** Paths of facts that a compiled rule names anywhere: conditions, guards and texts. */
function factsOfRules(): Set<string> {
  const found = new Set<string>();
  const look = (part: unknown): void => {
    if (Array.isArray(part)) {
      if (part[0] === 'fact' && typeof part[1] === 'string') found.add(part[1]);
      for (const each of part) look(each);
    } else if (typeof part === 'object' && part !== null) for (const each of Object.values(part)) look(each);
  };
  look(JSON.parse(readFileSync(join(root, 'dist/rules.json'), 'utf8')));
  return found;
}

/** Facts whose key in the profile has another name, or is a part of one. */
const factOfKey: Readonly<Record<string, string>> = {
  'loader.bootCode': 'loader.bootCodeMustBeZero',
};

/** Keys that code reads: the file in which each key below a path (or the path itself) stands by its name. */
const readByCode: Readonly<Record<string, string>> = {
  guide: 'src/report/guide.ts',
  schema: 'src/board/read.ts',
  id: 'src/core/check.ts',
  title: 'src/core/check.ts',
  revision: 'src/core/check.ts',
  basis: 'src/board/coverage.ts',
  for: 'src/board/resolve.ts',
  axes: 'src/board/axes.ts',
  'axes.ask': 'src/board/choose.ts',
  'axes.help': 'src/board/choose.ts',
  loaders: 'src/board/keys.ts',
  cautions: 'src/core/choice-report.ts',
  waive: 'src/cli/check-request.ts',
  'memory.application': 'src/board/resolve.ts',
  'loader.takesPartition': 'src/facts/collect-partitions.ts',
  'loader.logicalPartitions': 'src/facts/collect-partitions.ts',
  'loader.rootEntries': 'src/facts/collect-update-file.ts',
  'loader.longNames': 'src/facts/update-file-name.ts',
  'loader.nameLength': 'src/facts/update-file-name.ts',
  'loader.nameCase': 'src/facts/update-file-name.ts',
  'loader.nameCharacters': 'src/facts/update-file-name.ts',
  'update.path': 'src/facts/update-file-name.ts',
  'update.names': 'src/facts/update-file-name.ts',
  'update.match': 'src/facts/update-file-name.ts',
  'update.match.takes': 'src/facts/collect-update-file.ts',
  'update.checksum': 'src/facts/collect-image.ts',
  'update.scrambling': 'src/facts/collect-image.ts',
  'update.skipBytes': 'src/facts/collect-image.ts',
  'processor.espChipId': 'src/facts/collect-image.ts',
  'processor.uf2Family': 'src/facts/collect-image.ts',
  'processor.wordSum': 'src/facts/collect-program.ts',
  'memory.loader': 'src/facts/collect-program.ts',
  'memory.settings': 'src/facts/collect-program.ts',
  'processor.core': 'src/firmware/processors.ts',
  'processor.flash': 'src/firmware/processors.ts',
  'processor.ram': 'src/firmware/processors.ts',
  'update.doneMarker': 'src/facts/collect-update-file.ts',
  'update.stageNames': 'src/facts/collect-update-file.ts',
  'update.factoryName': 'src/facts/collect-update-file.ts',
  others: 'src/facts/collect-other-files.ts',
  'settings.file': 'src/facts/collect-other-files.ts',
  companions: 'src/facts/collect-companions.ts',
  'supplies.id': 'src/machine/machine.ts',
  'supplies.volts': 'src/machine/machine.ts',
  'supplies.amps': 'src/machine/machine.ts',
  'supplies.title': 'src/board/axes-proof.ts',
  'supplies.peakAmps': 'src/facts/collect-power.ts',
  loads: 'src/board/power.ts',
  'loads.title': 'src/facts/collect-power.ts',
  'derating.factor': 'src/board/power.ts',
  'builds.id': 'src/board/choose.ts',
  'builds.title': 'src/board/choose.ts',
  'builds.kind': 'src/board/choose.ts',
  'builds.needs': 'src/board/choose.ts',
  'builds.files': 'src/facts/collect-identity.ts',
  'builds.heaters': 'src/board/power.ts',
  'builds.marker': 'src/board/markers.ts',
  'builds.cannotReturnFrom': 'src/facts/collect-release.ts',
  'releases.takes': 'src/facts/collect-release.ts',
  'releases.comparedBy': 'src/facts/collect-release.ts',
  'releases.steps': 'src/facts/collect-release.ts',
  'releases.locks': 'src/facts/collect-release.ts',
  'releases.notes': 'src/facts/collect-release.ts',
  'settings.layouts': 'src/facts/collect-release.ts',
  'settings.carry': 'src/facts/collect-release.ts',
  'settings.dropped': 'src/facts/collect-release.ts',
  'settings.renamed': 'src/facts/collect-release.ts',
  'settings.stepsTolerance': 'src/core/confirmation-report.ts',
  'identity.release': 'src/machine/machine-identity.ts',
  'identity.board': 'src/machine/machine-identity.ts',
  prefer: 'src/board/choose.ts',
  whenUnsure: 'src/board/choose.ts',
  siblings: 'src/board/markers.ts',
  'releases.numbering': 'src/board/check.ts',
};

/** Keys of which the code reads the whole map, whatever its names. */
const readWhole = ['loader.rootEntries'];

/** What will read the keys that nothing reads yet. A key that something reads must leave this list. */
const notReadYet: Readonly<Record<string, readonly string[]>> = {
  'the choice of a build by the revision of its board': ['builds.board.revision'],
};

/** The code that could read a profile's key for a purpose: not what parses, checks or mirrors profiles. */
function readersOfProfiles(): string {
  const others =
    /^(board\/(read|validate|check|profile|keys|coverage|units|schema\/.*)|facts\/(schema|collect-board))\.ts$/;
  return ['board', 'facts', 'core', 'machine', 'report', 'cli']
    .flatMap((folder) =>
      readdirSync(join(root, 'src', folder))
        .filter((name) => name.endsWith('.ts') && !others.test(`${folder}/${name}`))
        .map((name) => readFileSync(join(root, 'src', folder, name), 'utf8')),
    )
    .join('\n');
}

const keys = keysOfSchema();
const ruleFacts = factsOfRules();
const isBelow = (key: string, path: string): boolean => key === path || key.startsWith(`${path}.`);
const readerOf = (key: string): string | undefined =>
  Object.keys(readByCode)
    .filter((path) => isBelow(key, path))
    .sort((a, b) => b.length - a.length)[0];
const isReadByRule = (key: string): boolean => {
  const fact = `board.${factOfKey[key] ?? key}`;
  return [...ruleFacts].some((path) => isBelow(path, fact) || isBelow(fact, path));
};
const stands = (name: string, text: string): boolean => new RegExp(`\\b${name}\\b`).test(text);

describe('every key of a profile is read', () => {
  test('the schema has keys', () => {
    expect(keys).toContain('loader.clusterBytes');
    expect(keys).toContain('companions.text.grammar');
    expect(keys).not.toContain('loader');
    expect(keys.length).toBeGreaterThan(120);
  });

  test('by a rule, or by code, or it stands on the list of what is to come', () => {
    const unread = keys.filter((key) => !isReadByRule(key) && readerOf(key) === undefined);
    expect(unread).toEqual(Object.values(notReadYet).flat().sort());
  });

  test('the code that is named does read it', () => {
    const wrong = keys.flatMap((key) => {
      const path = readerOf(key);
      if (path === undefined || readWhole.includes(path)) return [];
      const file = readByCode[path] as string;
      const name = key.slice(key.lastIndexOf('.') + 1);
      return stands(name, readFileSync(join(root, file), 'utf8')) ? [] : [`${key} in ${file}`];
    });
    expect(wrong).toEqual([]);
  });

  test('no code reads what stands on the list of what is to come', () => {
    const code = readersOfProfiles();
    const read = Object.values(notReadYet)
      .flat()
      .filter((key) => {
        const [last = '', parent = ''] = key.split('.').reverse();
        // A name with a capital inside is nobody else's; a plain one counts behind what it belongs to.
        const owner = key === 'builds.board.revision' ? 'build\\.board' : parent || '[pP]rofile';
        const pattern = /[A-Z]/.test(last) ? `\\.${last}\\b` : `\\b${owner}\\??\\.${last}\\b`;
        return new RegExp(pattern).test(code);
      });
    expect(read).toEqual([]);
  });

  test('every path that is named here is one of the schema', () => {
    for (const path of Object.keys(readByCode))
      expect(
        keys.some((key) => isBelow(key, path)),
        path,
      ).toBe(true);
  });
});
