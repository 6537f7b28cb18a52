import { nearest } from '../board/nearest.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { ruleOptions } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `explain [rule]`: the whole page of one rule, or the list of all. */
export const explainCommand: Command = {
  name: 'explain',
  operands: '[rule]',
  describe: 'Explain a rule: what, why, and how to mend it',
  positionals: { rule: { type: 'string', describe: 'Id of a rule, as a report names it' } },
  options: { rules: ruleOptions.rules },
  run: runExplain,
};

async function runExplain(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { loadRules } = await import('./load-rules.js');
  const { rulePage } = await import('../report/rule-page.js');
  const { rules } = await loadRules(given.text('rules'), surroundings);
  const id = given.text('rule');
  if (id === undefined) {
    const width = Math.max(0, ...rules.map((rule) => rule.id.length));
    await surroundings.out(rules.map((rule) => `${rule.id.padEnd(width)}  ${rule.title}\n`).join(''));
    return exitCodes.fit;
  }
  const rule = rules.find((each) => each.id === id);
  if (!rule)
    throw usageProblem(
      unknownRule(
        id,
        rules.map((each) => each.id),
      ),
    );
  await surroundings.out(rulePage(rule, surroundings));
  return exitCodes.fit;
}

/** Names the ids that were probably meant: nearly the same, the same after the group, or with the text inside. */
function unknownRule(id: string, known: readonly string[]): string {
  const text = id.toLowerCase();
  const last = text.split('/').at(-1) ?? text;
  const lastParts = new Map(known.map((each) => [each.split('/').at(-1) ?? each, each]));
  const close = [
    nearest(id, known),
    lastParts.get(nearest(last, [...lastParts.keys()]) ?? ''),
    ...known.filter((each) => text.length >= 3 && each.includes(text)),
  ].filter((each) => each !== undefined);
  const some = [...new Set(close)].slice(0, 5);
  const all = 'for all ids: flashworthy explain';
  return `there is no rule "${id}"; ${some.length > 0 ? `did you mean ${some.join(', ')}? F${all.slice(1)}` : all}`;
}
