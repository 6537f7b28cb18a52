import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A card made by a recipe: a shell script that uses real formatters (`card-tools.sh`). */
export interface RecipeCard {
  /** Name of the folder under test/ok or test/err. */
  readonly name: string;
  /** Path of the recipe. */
  readonly recipe: string;
  /** What must come out: lines `verdict: …`, `failed: rule hazard`, `holds: rule`, `passes: rule`, `unknown: rule`, `advice: rule`. */
  readonly expected: Expected;
  /** Options that the recipe names in `# board: …`, `# installed: …` and so on. */
  readonly options: Readonly<Record<string, string>>;
}

export interface Expected {
  readonly verdict: string;
  readonly failed: string[];
  readonly holds: string[];
  /** Rules that hold or do not apply: near misses of rules that explain another one's failure. */
  readonly passes: string[];
  readonly unknown: string[];
  /** Rules that fail and are only advice on this card. */
  readonly advice: string[];
}

/** All recipes below `test/<kind>`, sorted by name. */
export function recipes(kind: 'ok' | 'err'): RecipeCard[] {
  const root = join(import.meta.dirname, '..', kind);
  return readdirSync(root)
    .filter((name) => statSync(join(root, name)).isDirectory() && existsSync(join(root, name, 'card.sh')))
    .sort()
    .map((name) => {
      const recipe = join(root, name, 'card.sh');
      const options: Record<string, string> = {};
      for (const [, key, value] of readFileSync(recipe, 'utf8').matchAll(/^# ([a-z]+(?:-\d)?): (.+)$/gm))
        options[key as string] = (value as string).trim();
      return { name, recipe, options, expected: expectedFrom(join(root, name, 'expect.txt')) };
    });
}

function expectedFrom(path: string): Expected {
  const expected = {
    verdict: '',
    failed: [] as string[],
    holds: [] as string[],
    passes: [] as string[],
    unknown: [] as string[],
    advice: [] as string[],
  };
  for (const line of readFileSync(path, 'utf8').split('\n')) {
    if (line.trim() === '' || line.startsWith('#')) continue;
    const [, key, value] = /^(verdict|failed|holds|passes|unknown|advice): (.+)$/.exec(line) ?? [];
    if (key === undefined || value === undefined) throw new Error(`${path}: cannot read the line "${line}"`);
    if (key === 'verdict') expected.verdict = value.trim();
    else expected[key as 'failed' | 'holds' | 'passes' | 'unknown' | 'advice'].push(value.trim());
  }
  return { ...expected, failed: expected.failed.sort() };
}

/** Runs a recipe and gives the image's path to `use`; the folder it lies in is removed afterwards. */
export async function withCard<T>(recipe: string, use: (image: string) => T | Promise<T>): Promise<T> {
  const folder = mkdtempSync(join(tmpdir(), 'flashworthy-card-'));
  try {
    const image = join(folder, 'card.img');
    execFileSync('bash', [recipe, image], {
      stdio: ['ignore', 'ignore', 'pipe'],
      cwd: join(import.meta.dirname, '..'),
    });
    return await use(image);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
