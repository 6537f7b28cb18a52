import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { mkdir, readdir, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { parse } from 'yaml';
import { readRuleFiles } from '../node/rule-files.js';
import { readGlossary } from '../report/glossary.js';
import {
  generatedMark,
  glossaryMarkdown,
  pageName,
  type RowCoverage,
  rowsMarkdown,
  ruleMarkdown,
  rulesMarkdown,
} from '../report/rule-markdown.js';
import { loadRules } from '../rules/load.js';
import type { Rule } from '../rules/rule.js';

/** Writes `rules/pages` anew: one page for each rule, the tables of rules and of rows, and the glossary. */
export async function run(root: string): Promise<void> {
  const folder = join(root, 'rules', 'pages');
  const pages = generatePages(root);
  await mkdir(folder, { recursive: true });
  for (const [name, text] of pages) await writeFile(join(folder, name), text);
  for (const name of await readdir(folder)) if (!pages.has(name)) await rm(join(folder, name));
}

/** Every page as it should be, by file name. */
export function generatePages(root: string): Map<string, string> {
  const rules = loadRules(
    readRuleFiles(join(root, 'rules')).map((file) => ({ ...file, shown: `rules/${file.name}` })),
  );
  const glossary = readGlossary(
    readFileSync(join(root, 'rules', 'glossary.yaml'), 'utf8'),
    'rules/glossary.yaml',
  );
  const { groups, titles } = readRows(root);
  const pages = new Map<string, string>();
  for (const rule of rules)
    pages.set(pageName(rule.id), ruleMarkdown(rule, { examples: rule.cases, glossary }, titles));
  pages.set('README.md', rulesMarkdown(rules));
  pages.set('rows.md', rowsMarkdown(groups, rowCoverage(root, rules)));
  pages.set('glossary.md', glossaryMarkdown(glossary));
  for (const [name, text] of pages)
    if (!text.startsWith(generatedMark)) throw new Error(`${name} does not say that it is generated`);
  return pages;
}

/** Titles of groups and rows, in the order of `rules/rows.yaml`. */
export function readRows(root: string): { groups: Map<string, string>; titles: Map<string, string> } {
  const data = parse(readFileSync(join(root, 'rules', 'rows.yaml'), 'utf8'));
  return { groups: new Map(Object.entries(data.groups)), titles: new Map(Object.entries(data.rows)) };
}

/** Reasons why rows cannot be judged, by row. */
export function readNotJudged(root: string): Map<string, string> {
  const path = join(root, 'rules', 'not-judged.yaml');
  return existsSync(path)
    ? new Map(
        Object.entries(parse(readFileSync(path, 'utf8')).rows ?? {}).map(([row, why]) => [row, String(why)]),
      )
    : new Map();
}

/** What looks for each row. */
export function rowCoverage(root: string, rules: readonly Rule[]): RowCoverage[] {
  const reasons = readNotJudged(root);
  const failing = cardsByRule(root, 'err');
  const passing = cardsByRule(root, 'ok');
  const all = (cards: ReadonlyMap<string, readonly string[]>, ids: readonly string[]): string[] =>
    [...new Set(ids.flatMap((id) => cards.get(id) ?? []))].sort();
  return [...readRows(root).titles].map(([row, title]) => {
    const ids = rules.filter(({ catalogue }) => catalogue.includes(row)).map(({ id }) => id);
    return {
      row,
      title,
      rules: ids,
      failing: all(failing, ids),
      passing: all(passing, ids),
      reason: reasons.get(row) ?? null,
    };
  });
}

/** Which cards of `test/<kind>` name a rule in what they expect: as failed, or as one that they nearly fail. */
function cardsByRule(root: string, kind: 'err' | 'ok'): Map<string, string[]> {
  const folder = join(root, 'test', kind);
  const wanted = kind === 'err' ? /^failed: (\S+)/gm : /^(?:holds|passes): (\S+)/gm;
  const byRule = new Map<string, string[]>();
  for (const name of readdirSync(folder).sort()) {
    const path = join(folder, name, 'expect.txt');
    if (!existsSync(path)) continue;
    for (const [, rule = ''] of readFileSync(path, 'utf8').matchAll(wanted))
      byRule.set(rule, [...(byRule.get(rule) ?? []), name]);
  }
  return byRule;
}
