import type { Command } from './command.js';
import { type ExitCode, exitCodes } from './exit.js';
import type { Given } from './given.js';
import { oneOf, ruleOptions, value } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `rules`: all rules in one table. */
export const rulesCommand: Command = {
  name: 'rules',
  operands: '',
  describe: 'List all rules',
  positionals: {},
  options: { rules: ruleOptions.rules, format: value('Form of the list: text or json') },
  run: runRules,
};

async function runRules(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { loadRules } = await import('./load-rules.js');
  const { hazardsOf, ruleTable } = await import('../report/rule-page.js');
  const format = oneOf('format', given.text('format') ?? 'text', ['text', 'json']);
  const { version, sha256, rules } = await loadRules(given.text('rules'), surroundings);
  if (format === 'text') {
    await surroundings.out(ruleTable(rules, surroundings));
    return exitCodes.fit;
  }
  const { jsonText } = await import('../report/json.js');
  await surroundings.out(
    jsonText({
      schema: 'flashworthy-rules/1',
      version,
      sha256,
      rules: rules.map((rule) => ({
        id: rule.id,
        title: rule.title,
        // The worst that it can be, and all that it can be.
        hazard: hazardsOf(rule)[0],
        hazards: hazardsOf(rule),
        keystone: rule.keystone,
        catalogue: rule.catalogue,
        sources: rule.sources,
      })),
    }),
  );
  return exitCodes.fit;
}
