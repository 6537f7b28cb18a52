import { Chalk, type ChalkInstance } from 'chalk';
import { type Hazard, hazards, type Rule } from '../rules/rule.js';
import { hazardText, permanenceText } from './hazard-words.js';
import { conditionText, templateText } from './rule-text.js';
import { reflow, wrap } from './wrap.js';

const systemWords = { windows: 'Windows', macos: 'macOS', linux: 'Linux', any: 'Any computer' } as const;

/** Every hazard that a rule can have, worst first. */
export function hazardsOf(rule: Rule): Hazard[] {
  return hazards.filter((hazard) => rule.hazard.some(({ is }) => is === hazard));
}

/** The whole page of one rule for people, ending with a line break. */
export function rulePage(rule: Rule, options: { width: number; color: boolean }): string {
  const { bold, red } = new Chalk({ level: options.color ? 1 : 0 });
  const width = Math.max(40, options.width);
  const out: string[] = [];
  const section = (title: string): void => void out.push('', bold(title));
  const add = (text: string, first = '  ', rest?: string): void =>
    void out.push(...wrap(text, width, first, rest));

  for (const line of wrap(rule.title, width)) out.push(bold(line));
  out.push(rule.id);

  section('What the boot loader does');
  add(reflow(templateText(rule.why)));
  section('What is compared');
  add(reflow(templateText(rule.found)), '  Found:   ');
  add(reflow(templateText(rule.needed)), '  Needed:  ');

  section('What happens if you flash anyway');
  for (const { if: guard, is } of rule.hazard) {
    if (rule.hazard.length > 1) add(guard ? `When ${conditionText(guard)}:` : 'Otherwise:');
    add(`${is}: ${hazardText(is)} ${is === 'advice' ? '' : permanenceText(is)}`.trimEnd(), '    ');
  }
  if (rule.keystone)
    add('This rule is one of those that must hold before a card is called fit: it cannot be waived.');

  section('How to mend it');
  remedies(rule, out, add, { bold, red });

  section('The test itself');
  if (rule.after.length > 0) add(`only when these did not fail: ${rule.after.join(', ')}`);
  if (rule.each) add(conditionText(rule.each), '  for each item of: ', '    ');
  if (rule.when) add(conditionText(rule.when), '  when: ', '    ');
  add(conditionText(rule.must), '  must: ', '    ');
  if (rule.settledBy) add(conditionText(rule.settledBy), '  settled by: ', '    ');

  section('Sources');
  for (const { title, section: place, url, practice } of rule.sources)
    add([title, place, url, practice].filter((part) => part !== undefined).join(', '), '  - ');
  return `${out.join('\n')}\n`;
}

/** Steps that need no rights and those for administrators, system by system in the order of the rule. */
function remedies(
  rule: Rule,
  out: string[],
  add: (text: string, first?: string) => void,
  paint: Pick<ChalkInstance, 'bold' | 'red'>,
): void {
  const steps = rule.remedy.map(({ do: template }) => templateText(template));
  if (steps.some((text) => /[<[]/.test(text)))
    add(
      'What your board wants stands in <angle brackets>, what only some boards want in [square ones]; when a card is checked, they are filled in.',
    );
  rule.remedy.forEach(({ system, rights, erases }, index) => {
    if (index > 0) out.push('');
    add(
      `${systemWords[system]}, ${rights === 'administrator' ? 'as an administrator' : 'no administrator rights'}:`,
    );
    if (erases) out.push(paint.red(paint.bold('  THIS ERASES THE CARD.')));
    add(steps[index] ?? '', '    ');
  });
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
  out.push('', '* must hold before a card is called fit.');
  return `${out.join('\n')}\n`;
}
