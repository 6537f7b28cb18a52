import { mkdir, readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { readRuleFiles, ruleFilesSha256 } from '../node/rule-files.js';
import { loadRuleSet } from '../rules/load.js';

/**
 * Compiles every rule file under `rules` into `dist/rules.json`, so that no check has to parse YAML or expressions.
 * Throws `RuleError` with file, line and column when one is wrong.
 */
export async function run(root: string): Promise<void> {
  const { version } = JSON.parse(await readFile(join(root, 'package.json'), 'utf8'));
  const files = readRuleFiles(join(root, 'rules')).map((file) => ({ ...file, shown: `rules/${file.name}` }));
  const ruleSet = loadRuleSet(files, String(version), ruleFilesSha256(files));
  const path = join(root, 'dist', 'rules.json');
  await mkdir(join(root, 'dist'), { recursive: true });
  await writeFile(`${path}.new`, JSON.stringify(ruleSet));
  await rename(`${path}.new`, path);
}
