import type { Rule } from '../rules/rule.js';
import { byTerm, type GlossaryWord } from './glossary.js';
import { hazardText } from './hazard-words.js';
import { hazardsOf, labelText, type PageBlock, type PageParts, pageSections } from './page-sections.js';

/** First line of every generated page: nobody shall mend a page in place of its rule. */
export const generatedMark = '<!-- Made by `npm run pages` from the files in rules/. Do not edit. -->';

/** File name of a rule's page: `volume-cluster-size.md` for `volume/cluster-size`. */
export const pageName = (id: string): string => `${id.replace('/', '-')}.md`;

/** Plain text as Markdown: what Markdown would obey stands with a backslash. */
export function markdownText(text: string): string {
  return text.replace(/[\\`*_{}[\]<>|#]/g, '\\$&').replace(/^( *)(\d+)([.)])(?= )/gm, '$1$2\\$3');
}

/** The page of one rule in Markdown (CommonMark), ending with a line break. `rows` are titles of rows by number. */
export function ruleMarkdown(rule: Rule, parts: PageParts, rows: ReadonlyMap<string, string>): string {
  const out = [generatedMark, '', `# ${markdownText(rule.title)}`, '', `Rule \`${rule.id}\``];
  out.push('', ...sectionLines(rule, parts));
  if (rule.catalogue.length > 0) {
    out.push('', '## What can go wrong', '', 'This rule looks for ([all rows](rows.md)):', '');
    for (const row of rule.catalogue) out.push(`- ${row} ${markdownText(rows.get(row) ?? '')}`.trimEnd());
  }
  out.push('', '[All rules](README.md) · [All words](glossary.md)');
  return `${out.join('\n')}\n`;
}

/** What a page says of a rule below its title, in Markdown, ending with a line break. */
export const ruleSections = (rule: Rule, parts: PageParts): string =>
  `${sectionLines(rule, parts).join('\n')}\n`;

function sectionLines(rule: Rule, parts: PageParts): string[] {
  const out: string[] = [];
  for (const { title, blocks } of pageSections(rule, parts)) {
    if (out.length > 0) out.push('');
    out.push(`## ${title}`);
    blocks.forEach((block, index) => {
      const isInList = isItem(block) && index > 0 && isItem(blocks[index - 1] as PageBlock);
      if (!isInList) out.push('');
      out.push(...blockMarkdown(block));
    });
  }
  return out;
}

const isItem = ({ kind }: PageBlock): boolean => kind === 'item' || kind === 'entry' || kind === 'code';

function blockMarkdown(block: PageBlock): string[] {
  switch (block.kind) {
    case 'text':
      return block.text.split('\n').map(markdownText);
    case 'item':
      return [`- ${markdownText(block.text)}`];
    case 'entry':
      return [`- **${markdownText(labelText(block.label))}** ${markdownText(block.text)}`];
    case 'code':
      return [`- ${block.label}: ${codeSpan(block.text)}`];
    case 'steps':
      return [
        `### ${block.label}`,
        '',
        ...(block.erases ? ['**This erases the card.**', ''] : []),
        ...stepsMarkdown(block.text),
      ];
  }
}

/** Numbered steps; lines that begin with four blanks or more are to be typed and become a code block of their step. */
function stepsMarkdown(steps: string): string[] {
  const out: string[] = [];
  let isCode = false;
  for (const line of steps.split('\n')) {
    const code = /^ {4}/.test(line);
    if (code !== isCode) out.push(...(code ? ['', '   ```text'] : ['   ```', '']));
    isCode = code;
    const [, number, rest] = /^(\d+\. )(.*)$/.exec(line) ?? [];
    if (code) out.push(`   ${line.trim()}`);
    else
      out.push(
        number === undefined
          ? `   ${markdownText(line.trim())}`.trimEnd()
          : number + markdownText(rest ?? ''),
      );
  }
  if (isCode) out.push('   ```');
  return out;
}

/** Text between as many backquotes as it takes (CommonMark 0.31.2, 6.1). */
function codeSpan(text: string): string {
  const line = text.replaceAll(/\s*\n\s*/g, ' ');
  const longest = Math.max(0, ...[...line.matchAll(/`+/g)].map(([quotes]) => quotes.length));
  const quotes = '`'.repeat(longest + 1);
  return longest > 0 ? `${quotes} ${line} ${quotes}` : quotes + line + quotes;
}

/** The table of all rules in Markdown. */
export function rulesMarkdown(rules: readonly Rule[]): string {
  const out = [
    generatedMark,
    '',
    '# Rules',
    '',
    'One page for each rule: what it is about, what happens if you flash anyway, and how to mend it. The same pages are',
    'printed by `flashworthy explain <rule>`. A card is fit only when the rules in **bold** hold.',
    '',
    '[What can go wrong, row by row](rows.md) · [Words](glossary.md)',
    '',
    '| Rule | What it looks for | How bad it can be |',
    '| --- | --- | --- |',
    ...rules.map((rule) => {
      const link = `[${rule.id}](${pageName(rule.id)})`;
      return `| ${rule.keystone ? `**${link}**` : link} | ${markdownText(rule.title)} | ${hazardsOf(rule).join(', ')} |`;
    }),
    '',
    '## How bad it can be',
    '',
    ...[...new Set(rules.flatMap(hazardsOf))].map(
      (hazard) => `- **${hazard}:** ${markdownText(hazardText(hazard))}`,
    ),
  ];
  return `${out.join('\n')}\n`;
}

/** The glossary in Markdown. */
export function glossaryMarkdown(glossary: readonly GlossaryWord[]): string {
  const words = [...glossary].sort(byTerm).map(({ term, also, means }) => {
    const other = also.filter((form) => form.toLowerCase() !== term.toLowerCase());
    const forms = other.length > 0 ? ` (also: ${other.join(', ')})` : '';
    return `- **${markdownText(term)}**${markdownText(forms)}: ${markdownText(means)}`;
  });
  return `${[generatedMark, '', '# Words', '', ...words].join('\n')}\n`;
}

/** One row of what can go wrong, with what looks for it. */
export interface RowCoverage {
  readonly row: string;
  readonly title: string;
  readonly rules: readonly string[];
  /** Names of cards under test/err that fail one of the rules. */
  readonly failing: readonly string[];
  /** Names of cards under test/ok that pass although they nearly fail. */
  readonly passing: readonly string[];
  /** Why no rule can judge it, or what a rule cannot judge of it. */
  readonly reason: string | null;
}

/** The table row by row: what can go wrong, which rules look for it, which test cards show that they do. */
export function rowsMarkdown(groups: ReadonlyMap<string, string>, rows: readonly RowCoverage[]): string {
  const out = [
    generatedMark,
    '',
    '# What can go wrong, row by row',
    '',
    'Each row is one way in which a flash from a card goes wrong, with the rules that look for it and cards that show it:',
    'those under `test/err` fail, those under `test/ok` nearly do. Where no rule can judge a row, the reason stands there.',
  ];
  for (const [group, title] of groups) {
    out.push(
      '',
      `## ${group}. ${markdownText(title)}`,
      '',
      '| Row | What goes wrong | Rules | Cards that fail | Cards that pass |',
    );
    out.push('| --- | --- | --- | --- | --- |');
    for (const { row, title: what, rules, failing, passing, reason } of rows) {
      if (row.split('.')[0] !== group) continue;
      const links = rules.map((id) => `[${id}](${pageName(id)})`).join(', ');
      const judged = [links, reason === null ? '' : markdownText(reason)].filter((part) => part !== '');
      out.push(
        `| ${row} | ${markdownText(what)} | ${judged.join('. ')} | ${cards('err', failing)} | ${cards('ok', passing)} |`,
      );
    }
  }
  return `${out.join('\n')}\n`;
}

const cards = (kind: 'err' | 'ok', names: readonly string[]): string =>
  names.map((name) => `[${name}](../../test/${kind}/${name}/card.sh)`).join(', ');
