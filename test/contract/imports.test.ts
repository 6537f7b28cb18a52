import { readdirSync, readFileSync } from 'node:fs';
import { builtinModules } from 'node:module';
import { join, normalize, relative } from 'node:path';
import { describe, expect, it } from 'vitest';

const root = join(import.meta.dirname, '..', '..');
const core = [
  'bytes',
  'card',
  'firmware',
  'facts',
  'rules',
  'board',
  'machine',
  'rehearsal',
  'report',
  'core',
];

interface Import {
  /** File under `src`, with `/`. */
  readonly file: string;
  readonly folder: string;
  /** What is imported: a path under `src`, or the name of a package. */
  readonly target: string;
  readonly targetFolder: string | null;
}

const sources = readdirSync(join(root, 'src'), { recursive: true, encoding: 'utf8' })
  .filter((path) => /\.(ts|mjs)$/.test(path) && !path.endsWith('.d.ts'))
  .map((path) => path.replaceAll('\\', '/'));

/** Static imports, re-exports, dynamic imports and imports of types. */
const specifiers = (text: string): string[] =>
  [
    ...text.matchAll(
      /(?:^(?:import|export)\s[^'";]*?\bfrom\s*|^import\s+|\bimport\s*\(\s*)(['"])([^'"\n]+)\1/gm,
    ),
  ].map((match) => match[2] ?? '');

const imports: Import[] = sources.flatMap((file) =>
  specifiers(readFileSync(join(root, 'src', file), 'utf8')).map((specifier) => {
    const inside = specifier.startsWith('.');
    const target = inside
      ? relative(join(root, 'src'), normalize(join(root, 'src', file, '..', specifier))).replaceAll('\\', '/')
      : specifier;
    return {
      file,
      folder: file.split('/')[0] ?? '',
      target,
      targetFolder: inside ? (target.split('/')[0] ?? '') : null,
    };
  }),
);

const from = (...folders: string[]): Import[] => imports.filter(({ folder }) => folders.includes(folder));
const into = (list: Import[], ...folders: string[]): string[] =>
  list
    .filter(({ targetFolder }) => targetFolder !== null && folders.includes(targetFolder))
    .map(({ file, target }) => `${file} imports ${target}`);

describe('who may import whom', () => {
  it('finds the imports it is to judge', () => {
    expect(imports.length).toBeGreaterThan(100);
    expect(from('cli').some(({ target }) => target === 'yargs')).toBe(true);
    expect(from('node').some(({ target }) => target === 'node:fs')).toBe(true);
    expect(
      specifiers("import a from 'a';\nexport { b } from './b.js';\nawait import('c');\nimport 'd';"),
    ).toEqual(['a', './b.js', 'c', 'd']);
  });

  it('the core knows no Node', () => {
    const modules = new Set([...builtinModules, ...builtinModules.map((name) => `node:${name}`)]);
    const wrong = from(...core).filter(({ target }) => target.startsWith('node:') || modules.has(target));
    expect(wrong.map(({ file, target }) => `${file} imports ${target}`)).toEqual([]);
    expect(into(from(...core), 'node', 'cli', 'build')).toEqual([]);
  });

  it('decoders never judge', () => {
    expect(into(from('bytes', 'card', 'firmware'), 'rules', 'report', 'core')).toEqual([]);
  });

  it('rules never read', () => {
    expect(into(from('rules'), 'card', 'firmware', 'node')).toEqual([]);
  });

  it('only the command line knows the parser of command lines', () => {
    const wrong = imports.filter(({ folder, target }) => folder !== 'cli' && target.startsWith('yargs'));
    expect(wrong.map(({ file }) => file)).toEqual([]);
  });

  it('nothing of the program imports what builds it, and the command line is imported by nothing', () => {
    const others = imports.filter(({ folder }) => folder !== 'build');
    expect(into(others, 'build')).toEqual([]);
    expect(
      into(
        imports.filter(({ folder }) => folder !== 'cli'),
        'cli',
      ),
    ).toEqual([]);
  });

  it('no import leads out of src', () => {
    const wrong = imports.filter(({ target, file }) => target.startsWith('..') && !file.startsWith('build/'));
    expect(wrong.map(({ file, target }) => `${file} imports ${target}`)).toEqual([]);
  });

  it('every package that is imported at run time is a dependency', () => {
    const { dependencies, optionalDependencies } = JSON.parse(
      readFileSync(join(root, 'package.json'), 'utf8'),
    );
    const builtin = new Set(builtinModules);
    const packages = imports
      .filter(
        ({ folder, targetFolder, target }) =>
          folder !== 'build' && targetFolder === null && !target.startsWith('node:'),
      )
      .map(({ target }) => /^(@[^/]+\/)?[^/]+/.exec(target)?.[0] ?? '')
      .filter((name) => !builtin.has(name));
    expect(
      [...new Set(packages)].filter((name) => !(name in dependencies || name in optionalDependencies)),
    ).toEqual([]);
  });
});

describe('the top level', () => {
  it('holds nothing but what belongs there', () => {
    const allowed = [
      'src',
      'rules',
      'samples',
      'test',
      'README.md',
      'DEVELOPERS.md',
      'CHANGELOG.md',
      'LICENSE',
      'package.json',
      'package-lock.json',
      'biome.json',
      'tsconfig.json',
      'tsconfig.core.json',
      'vitest.config.ts',
      'vitest.long.config.ts',
      '.ci',
      '.git',
      '.github',
      '.gitignore',
      // Made by installing and building; never committed.
      'node_modules',
      'dist',
    ];
    expect(readdirSync(root).filter((name) => !allowed.includes(name))).toEqual([]);
  });
});
