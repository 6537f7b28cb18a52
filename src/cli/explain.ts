import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { nearest } from '../board/nearest.js';
import type { GlossaryWord } from '../report/glossary.js';
import type { PageExample } from '../report/page-sections.js';
import type { SavedReport } from '../report/read-report.js';
import type { Finding } from '../report/report.js';
import type { Rule } from '../rules/rule.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { ruleOptions, value } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `explain [rule]`: the whole page of one rule, of all that failed in a saved report, or the list of all. */
export const explainCommand: Command = {
  name: 'explain',
  operands: '[rule]',
  describe: 'Explain a rule: what, why, and how to mend it',
  positionals: { rule: { type: 'string', describe: 'Id of a rule, as a report names it' } },
  options: {
    report: value('JSON report of a check: explain what failed there, with its values filled in'),
    rules: ruleOptions.rules,
  },
  run: runExplain,
};

async function runExplain(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { loadRules } = await import('./load-rules.js');
  const { rules } = await loadRules(given.text('rules'), surroundings);
  const id = given.text('rule');
  const rule = id === undefined ? undefined : ruleOf(id, rules);
  const path = given.text('report');
  const reports = path === undefined ? undefined : await savedReports(path);
  const pages = new Pages(rules, given.text('rules'), surroundings);
  if (rule && !reports) await surroundings.out(await pages.page(rule));
  else if (reports) await surroundings.out(await pages.reported(reports, rule, path ?? ''));
  else await surroundings.out(await ruleList(rules, surroundings));
  return exitCodes.fit;
}

function ruleOf(id: string, rules: readonly Rule[]): Rule {
  const rule = rules.find((each) => each.id === id);
  if (rule) return rule;
  throw usageProblem(
    unknownRule(
      id,
      rules.map((each) => each.id),
    ),
  );
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

/** The reports in a file. The form of the option of `check`, `json=FILE`, is taken too. */
async function savedReports(option: string): Promise<SavedReport[]> {
  const { limits } = await import('../bytes/limits.js');
  const { NotAReport, readReports } = await import('../report/read-report.js');
  const { readInput } = await import('./inputs.js');
  const path = option.replace(/^json=/, '');
  const { text } = readInput('report', path, limits.reportBytes);
  try {
    return readReports(text);
  } catch (error) {
    if (error instanceof NotAReport) throw usageProblem(`${path} is no report: ${error.message}`);
    throw error;
  }
}

/** All rules, group by group, and how to have those of one card explained. Nothing is remembered between runs. */
async function ruleList(rules: readonly Rule[], { width, color }: Surroundings): Promise<string> {
  const { ruleGroups } = await import('../report/rule-page.js');
  return ruleGroups(rules, { width, color });
}

/** Writes pages, with the examples of the rule files and the glossary of the package. */
class Pages {
  private glossary: readonly GlossaryWord[] | undefined;

  constructor(
    private readonly rules: readonly Rule[],
    /** Folder of further rules. */
    private readonly extra: string | undefined,
    private readonly surroundings: Surroundings,
  ) {}

  /** The page of a rule, in general or for one finding. */
  async page(rule: Rule, finding?: Finding): Promise<string> {
    const { rulePage } = await import('../report/rule-page.js');
    return rulePage(rule, this.surroundings, {
      examples: finding ? [] : await this.examples(rule),
      glossary: await this.words(),
      ...(finding ? { finding } : {}),
    });
  }

  /** The pages of what failed in saved reports, or of one rule as it came out there. */
  async reported(reports: readonly SavedReport[], rule: Rule | undefined, path: string): Promise<string> {
    const { mendOrder } = await import('../report/blame.js');
    const { wrap } = await import('../report/wrap.js');
    const { visible } = await import('../rules/visible.js');
    const parts: string[] = [];
    const say = (text: string): void =>
      void parts.push(`${wrap(visible(text), this.surroundings.width).join('\n')}\n`);
    for (const { path: card, verdict, findings } of reports) {
      const wanted = rule
        ? findings.filter((finding) => finding.rule === rule.id)
        : mendOrder(findings.filter(({ outcome, hazard }) => outcome === 'failed' && hazard !== 'advice'));
      const pages: string[] = [];
      for (const finding of wanted) {
        const known = this.rules.find((each) => each.id === finding.rule);
        if (known) pages.push(await this.page(known, finding));
        else say(`${card}: this version has no rule ${finding.rule}; the report was made by another one.`);
      }
      if (rule && wanted.length === 0) say(`${card}: the report does not name the rule ${rule.id}.`);
      else if (rule) say(`${card}:`);
      else if (wanted.length > 0)
        say(
          `${card}: ${wanted.length === 1 ? 'one rule failed' : `${wanted.length} rules failed, in the order in which to mend them`}.`,
        );
      else {
        const open = findings.filter(({ outcome, hazard }) => outcome === 'unknown' && hazard !== 'advice');
        say(`${card}: no rule failed; the verdict was ${verdict}.`);
        if (open.length > 0) say(`Not judged: ${open.map((finding) => finding.rule).join(', ')}.`);
        if (open.length > 0) say(`To see why: flashworthy explain RULE --report ${path}`);
      }
      const line = `${'-'.repeat(Math.min(40, this.surroundings.width))}\n`;
      for (const page of pages) parts.push(line, page);
    }
    return parts.join('\n');
  }

  private async words(): Promise<readonly GlossaryWord[]> {
    const { readGlossary } = await import('../report/glossary.js');
    const { readInput } = await import('./inputs.js');
    if (!this.glossary) {
      const { path, text } = readInput('glossary', this.ownFile('glossary.yaml'));
      this.glossary = readGlossary(text, path);
    }
    return this.glossary;
  }

  /** The cases of the file that the rule was compiled from. */
  private async examples({ id }: Rule): Promise<readonly PageExample[]> {
    const { readInput, statOrNull } = await import('./inputs.js');
    const { loadRemedies, loadRule } = await import('../rules/load.js');
    const files = [
      this.ownFile(`${id}.yaml`),
      ...['yaml', 'yml'].flatMap((end) => (this.extra ? [join(this.extra, `${id}.${end}`)] : [])),
    ];
    const file = files.find((path) => statOrNull(path) !== null);
    if (file === undefined) return [];
    const remedies = ['remedies.yaml', ...(this.extra ? [join(this.extra, 'remedies.yaml')] : [])]
      .map((path, index) => (index === 0 ? this.ownFile(path) : path))
      .filter((path) => statOrNull(path) !== null)
      .flatMap((path) => [...loadRemedies(readInput('shared steps', path).text, path)]);
    return loadRule(readInput('rule', file).text, file, new Map(remedies)).cases;
  }

  private ownFile(name: string): string {
    return fileURLToPath(new URL(`../rules/${name}`, this.surroundings.folder));
  }
}
