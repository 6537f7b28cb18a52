import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { type Processor, type ProcessorTable, processorTable } from '../firmware/processors.js';
import type { RuleSet } from '../rules/rule.js';
import { notThere, usageProblem } from './exit.js';
import { placedProblems, statOrNull } from './inputs.js';
import type { Surroundings } from './surroundings.js';

/**
 * The rules of this run: those that are compiled into the package, or, with `--rules DIR`, those and the ones in the
 * folder, all compiled now, so that the new ones may name the others and are checked against them.
 */
export async function loadRules(extra: string | undefined, surroundings: Surroundings): Promise<RuleSet> {
  if (extra === undefined)
    return JSON.parse(readFileSync(new URL('rules.json', surroundings.folder), 'utf8')) as RuleSet;
  const stats = statOrNull(extra);
  if (stats === null) throw notThere(`${extra}: there is no such folder of rules`);
  if (!stats.isDirectory()) throw usageProblem(`${extra} is not a folder of rules`);
  const { readRuleFiles, ruleFilesSha256 } = await import('../node/rule-files.js');
  const { loadRuleSet, RuleError } = await import('../rules/load.js');
  try {
    const own = readRuleFiles(fileURLToPath(new URL('../rules/', surroundings.folder)));
    const added = readRuleFiles(extra);
    if (added.length === 0) throw usageProblem(`${extra} holds no rules: there is no .yaml file in it`);
    const files = [...own, ...added];
    return loadRuleSet(files, surroundings.version, ruleFilesSha256(files));
  } catch (error) {
    if (error instanceof RuleError) throw usageProblem(placedProblems(error.problems));
    if (error instanceof TypeError && 'code' in error && error.code === 'ERR_ENCODING_INVALID_ENCODED_DATA')
      throw usageProblem(`${extra}: a rule file is not text in UTF-8`);
    throw error;
  }
}

/** The processors that a profile may name, as they are compiled into the package. */
export function loadProcessors(surroundings: Surroundings): ProcessorTable {
  const text = readFileSync(new URL('processors.json', surroundings.folder), 'utf8');
  return processorTable(JSON.parse(text) as Processor[]);
}
