import { mkdir, readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { type Processor, parseProcessors } from '../firmware/processors.js';
import { readRuleFiles, ruleFilesSha256 } from '../node/rule-files.js';
import { loadRuleSet } from '../rules/load.js';
import { RuleError } from '../rules/rule-error.js';

/**
 * Compiles every rule file under `rules` into `dist/rules.json`, and the table of processors into
 * `dist/processors.json`, so that no check has to parse YAML or expressions.
 * Throws `RuleError` with file, line and column when one is wrong.
 */
export async function run(root: string): Promise<void> {
  const { version } = JSON.parse(await readFile(join(root, 'package.json'), 'utf8'));
  const files = readRuleFiles(join(root, 'rules')).map((file) => ({ ...file, shown: `rules/${file.name}` }));
  const ruleSet = loadRuleSet(files, String(version), ruleFilesSha256(files));
  await writeJson(root, 'rules.json', ruleSet);
  await writeJson(root, 'processors.json', await processors(root));
}

async function processors(root: string): Promise<Processor[]> {
  const { table, errors } = parseProcessors(await readFile(join(root, 'rules', 'processors.yaml'), 'utf8'));
  if (errors.length > 0)
    throw new RuleError(
      errors.map(({ line, column, text }) => ({
        file: 'rules/processors.yaml',
        line,
        column,
        message: text,
        expected: 'a table of processors as the head of the file describes it',
      })),
    );
  return [...table.values()];
}

/** A run that starts meanwhile never sees half a file. */
async function writeJson(root: string, name: string, value: unknown): Promise<void> {
  const path = join(root, 'dist', name);
  await mkdir(join(root, 'dist'), { recursive: true });
  await writeFile(`${path}.new`, JSON.stringify(value));
  await rename(`${path}.new`, path);
}
