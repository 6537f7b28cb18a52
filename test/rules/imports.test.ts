import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

/** All modules that a source file loads, through its own and its relatives' imports of values. */
function loadedBy(start: URL): { files: Set<string>; packages: Set<string> } {
  const files = new Set<string>();
  const packages = new Set<string>();
  const visit = (file: URL): void => {
    if (files.has(file.href)) return;
    files.add(file.href);
    const source = readFileSync(file, 'utf8');
    for (const [, names, from] of source.matchAll(
      /^(?:import|export)\s+(?!type\b)([^;]*?)from '([^']+)';/gm,
    )) {
      // Names that are all types load nothing.
      if (names && /^\{(?:\s*type [^,}]+,?)+\s*\}\s*$/.test(names)) continue;
      if (from!.startsWith('.')) visit(new URL(from!.replace(/\.js$/, '.ts'), file));
      else packages.add(from!);
    }
  };
  visit(start);
  return { files, packages };
}

test('judging loads neither the YAML parser nor the expression library', () => {
  const judging = loadedBy(new URL('../../src/rules/index.ts', import.meta.url));
  expect([...judging.packages]).toEqual([]);
  expect([...judging.files].some((file) => file.endsWith('/judge.ts'))).toBe(true);
  const loading = loadedBy(new URL('../../src/rules/load.ts', import.meta.url));
  expect([...loading.packages].sort()).toEqual(['@marcbachmann/cel-js', 'yaml']);
});
