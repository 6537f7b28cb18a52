import { Chalk } from 'chalk';
import { hazards, type Rule } from '../rules/rule.js';
import { visible } from '../rules/visible.js';
import { hazardsOf, labelText, type PageBlock, type PageParts, pageSections } from './page-sections.js';
import { wrap } from './wrap.js';

export { hazardsOf, type PageExample, type PageParts } from './page-sections.js';

/**
 * The whole page of one rule for people, ending with a line break: in general, or, with `parts.finding`, with the
 * values of one card.
 */
export function rulePage(
  rule: Rule,
  options: { width: number; color: boolean },
  parts: PageParts = {},
): string {
  const { bold, red } = new Chalk({ level: options.color ? 1 : 0 });
  const width = Math.max(40, options.width);
  // Values come from a card or from a report that somebody sent: nothing in them may reach the terminal as it is.
  const lines = (text: string, first = '  ', rest?: string): string[] =>
    wrap(text, width, first, rest).map(visible);
  const out: string[] = [...lines(rule.title, '').map((line) => bold(line)), rule.id];
  const block = (each: PageBlock, before: PageBlock | undefined): void => {
    if (each.kind === 'text') {
      if (before?.kind === 'entry') out.push('');
      out.push(...lines(each.text));
    } else if (each.kind === 'item') out.push(...lines(each.text, '  - '));
    else if (each.kind === 'steps') {
      if (before !== undefined) out.push('');
      out.push(...lines(`${each.label}:`));
      if (each.erases) out.push(red(bold('  THIS ERASES THE CARD.')));
      out.push(...lines(each.text, '    '));
    } else out.push(...lines(each.text, `  ${labelText(each.label)} `, '    '));
  };
  for (const { title, blocks } of pageSections(rule, parts)) {
    out.push('', bold(title));
    blocks.forEach((each, index) => {
      block(each, blocks[index - 1]);
    });
  }
  return `${out.join('\n')}\n`;
}

/** One line or more for every rule: id, hazards, title; those that must hold are marked. */
export function ruleTable(rules: readonly Rule[], options: { width: number; color: boolean }): string {
  const { bold } = new Chalk({ level: options.color ? 1 : 0 });
  const idWidth = Math.max(...rules.map(({ id }) => id.length), 4);
  const hazardWidth = Math.max(...hazards.map((hazard) => hazard.length));
  const before = 2 + idWidth + 2 + hazardWidth + 2;
  const width = Math.max(options.width, before + 20);
  const row = (mark: string, id: string, hazard: string): string =>
    `${mark.padEnd(2)}${id.padEnd(idWidth)}  ${hazard.padEnd(hazardWidth)}  `;
  const out = [bold(`${row('', 'RULE', 'HAZARD')}TITLE`)];
  for (const rule of rules) {
    const titles = wrap(rule.title, width - before);
    const words = hazardsOf(rule);
    for (let line = 0; line < Math.max(titles.length, words.length); line++) {
      const first = line === 0;
      const start = row(first && rule.keystone ? '*' : '', first ? rule.id : '', words[line] ?? '');
      out.push((start + (titles[line] ?? '')).trimEnd());
    }
  }
  out.push('', '* must hold before a card is called fit, or a release complete.');
  return `${out.join('\n')}\n`;
}

/** Groups of rules by what they look at, in the order in which a card is read. */
const groupTitles: Readonly<Record<string, string>> = {
  card: 'The card and its partition table',
  volume: 'The file system on it',
  file: 'The update file: its name and place',
  companion: 'The files beside it',
  image: 'The program inside the update file',
  machine: 'The build and this machine',
  power: 'The power supply',
  board: 'The board profile',
  release: 'A whole release, for those who publish it',
};

/** All rules under the titles of their groups, with how to go on from there. */
export function ruleGroups(rules: readonly Rule[], options: { width: number; color: boolean }): string {
  const { bold } = new Chalk({ level: options.color ? 1 : 0 });
  const width = Math.max(40, options.width);
  const groups = new Map<string, Rule[]>(Object.keys(groupTitles).map((name) => [name, []]));
  for (const rule of rules) {
    const name = rule.id.split('/')[0] ?? '';
    groups.set(name, [...(groups.get(name) ?? []), rule]);
  }
  const idWidth = Math.max(0, ...rules.map(({ id }) => id.length));
  const out: string[] = [];
  for (const [name, own] of groups) {
    if (own.length === 0) continue;
    out.push(bold(groupTitles[name] ?? name));
    for (const { id, title } of own)
      out.push(...wrap(title, Math.max(width, idWidth + 24), `  ${id.padEnd(idWidth)}  `));
    out.push('');
  }
  out.push(
    ...wrap('One of them in full:', width),
    '  flashworthy explain volume/cluster-size',
    ...wrap('All that failed on a card, with its values filled in:', width),
    '  flashworthy check CARD --board BOARD --report json=report.json',
    '  flashworthy explain --report report.json',
  );
  return `${out.join('\n')}\n`;
}
