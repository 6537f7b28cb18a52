import { type Expression, type Hazard, hazards, type Outcome, type Rule } from '../rules/rule.js';
import { subjectOf } from '../rules/subject.js';
import { conditionWords } from './condition-words.js';
import { type GlossaryWord, wordsUsed } from './glossary.js';
import { hazardText, permanenceText, releaseHazardText } from './hazard-words.js';
import type { Finding } from './report.js';
import { conditionText, templateText } from './rule-text.js';
import { systemWords } from './target-words.js';
import { reflow } from './wrap.js';

/** A case of a rule file as an example for readers. */
export interface PageExample {
  readonly name: string;
  readonly expect: Exclude<Outcome, 'waived'>;
}

/** What a page tells besides the rule itself. */
export interface PageParts {
  readonly examples?: readonly PageExample[];
  readonly glossary?: readonly GlossaryWord[];
  /** What this rule said about one card: its values are filled in. */
  readonly finding?: Finding;
}

/** A part of a section. Texts are plain; a `steps` text has numbered lines, and lines to type that begin with blanks. */
export type PageBlock =
  | { readonly kind: 'text'; readonly text: string }
  /** A short name in front of a text; the text of `code` stands in the language of rules. */
  | { readonly kind: 'entry' | 'code'; readonly label: string; readonly text: string }
  | { readonly kind: 'item'; readonly text: string }
  | { readonly kind: 'steps'; readonly label: string; readonly erases: boolean; readonly text: string };

export interface PageSection {
  readonly title: string;
  readonly blocks: readonly PageBlock[];
}

const outcomeWords: Readonly<Record<Finding['outcome'], string>> = {
  failed: 'failed',
  holds: 'passed',
  unknown: 'could not be judged',
  waived: 'failed, and the board profile accepts that',
  'not-applicable': 'does not apply',
};

/** Every hazard that a rule can have, worst first. */
export function hazardsOf(rule: Rule): Hazard[] {
  return hazards.filter((hazard) => rule.hazard.some(({ is }) => is === hazard));
}

/** The page of one rule as data, for every form in which it is printed. Sections with nothing to say are left out. */
export function pageSections(
  rule: Rule,
  { examples = [], glossary = [], finding }: PageParts,
): PageSection[] {
  const sections: PageSection[] = [
    { title: 'What this is about', blocks: [text(finding?.why ?? templateText(rule.why))] },
    compared(rule, finding),
    risks(rule, finding),
    mending(rule, finding),
    {
      title: 'Examples',
      blocks: examples.map(({ name, expect }) => ({
        kind: 'item',
        text: `${name}: ${outcomeWords[expect]}`,
      })),
    },
    {
      title: 'Sources',
      blocks: rule.sources.map(({ title, section, url, practice }) => ({
        kind: 'item',
        text: [title, section, url, practice].filter((part) => part !== undefined).join(', '),
      })),
    },
    { title: 'The test itself, in the language of rules', blocks: test(rule) },
  ];
  const prose = [rule.title, ...sections.flatMap(({ blocks }) => blocks).map(proseOf)].join('\n');
  sections.push({
    title: 'Words used here',
    blocks: wordsUsed(prose, glossary).map(({ term, means }) => ({
      kind: 'entry',
      label: term,
      text: means,
    })),
  });
  return sections.filter(({ blocks }) => blocks.length > 0);
}

/** The short name in front of a text with what parts them. */
export const labelText = (label: string): string => (label.endsWith('?') ? label : `${label}:`);

/** Rules for those who publish a release speak of it, and not of a card. */
const isAboutReleases = ({ id }: Rule): boolean => subjectOf(id) === 'release';

const text = (words: string): PageBlock => ({ kind: 'text', text: reflow(words) });

/** What a reader reads of a block: neither what is to be typed nor the language of rules. */
const proseOf = (block: PageBlock): string =>
  block.kind === 'code' ? '' : block.text.replaceAll(/^ {4,}.*$/gm, '');

function compared(rule: Rule, finding: Finding | undefined): PageSection {
  const entry = (label: string, words: string): PageBlock => ({ kind: 'entry', label, text: reflow(words) });
  if (!finding)
    return {
      title: 'What is compared',
      blocks: [
        entry(
          isAboutReleases(rule) ? 'Found in a bad release' : 'Found on a bad card',
          templateText(rule.found),
        ),
        entry('Needed', templateText(rule.needed)),
      ],
    };
  const { shown = [], total = shown.length, missing = [] } = finding;
  return {
    title: 'What was found',
    blocks: [
      entry('Outcome', `${outcomeWords[finding.outcome]}${finding.because ? `: ${finding.because}` : ''}`),
      // The text is written for a card that fails; on one that passes it would frighten.
      ...(['failed', 'unknown', 'waived'].includes(finding.outcome) ? [entry('Found', finding.found)] : []),
      ...shown.map((item): PageBlock => ({ kind: 'item', text: item })),
      ...(total > shown.length ? [{ kind: 'item', text: `and ${total - shown.length} more` } as const] : []),
      entry('Needed', finding.needed),
      ...missing.map(({ text: reason, settle }) =>
        entry('Not seen', `${reason}${settle ? `; to settle it: ${settle}` : ''}`),
      ),
    ],
  };
}

function risks(rule: Rule, finding: Finding | undefined): PageSection {
  const blocks: PageBlock[] = [];
  const guarded = finding ? [{ is: finding.hazard }] : rule.hazard;
  for (const { if: guard, is } of guarded) {
    if (guarded.length > 1) blocks.push(text(guard ? guardText(guard) : 'Otherwise:'));
    blocks.push({
      kind: 'entry',
      label: is,
      text: isAboutReleases(rule) ? releaseHazardText(is) : hazardText(is),
    });
    if (is !== 'advice' && !isAboutReleases(rule))
      blocks.push({ kind: 'entry', label: 'Is it permanent?', text: permanenceText(is) });
  }
  if (guarded.length > 1) blocks.push(text('Where nobody knows which of these it is, the worst one counts.'));
  if (rule.keystone)
    blocks.push(
      text(
        `This rule is one of those that must hold before a ${isAboutReleases(rule) ? 'release is called complete' : 'card is called fit'}: it cannot be waived.`,
      ),
    );
  return {
    title: isAboutReleases(rule)
      ? 'What happens if it is published anyway'
      : 'What happens if you flash anyway',
    blocks,
  };
}

/** Where a condition has no plain words, the last section of the page has it in the language of rules. */
function guardText(guard: Expression): string {
  const words = conditionWords(guard);
  return words === null ? 'In some cases (the test at the end of this page tells which):' : `When ${words}:`;
}

/** Steps that need no rights and those for administrators, system by system in the order of the rule. */
function mending(rule: Rule, finding: Finding | undefined): PageSection {
  const isFilled = finding !== undefined && finding.remedy.length > 0;
  const steps = isFilled
    ? finding.remedy
    : rule.remedy.map((step) => ({ ...step, do: templateText(step.do) }));
  const blocks: PageBlock[] = [];
  if (!isFilled && steps.some(({ do: words }) => /[<[]/.test(words)))
    blocks.push(
      text(
        'What your board wants stands in <angle brackets>, what only some boards want in [square ones]. When a card is checked, the report fills them in.',
      ),
    );
  for (const { system, rights, erases, do: words } of steps)
    blocks.push({
      kind: 'steps',
      label: `${systemWords[system]}, ${rights === 'administrator' ? 'as an administrator' : 'no administrator rights'}`,
      erases,
      text: words,
    });
  return { title: 'How to mend it', blocks };
}

function test(rule: Rule): PageBlock[] {
  const code = (label: string, words: string): PageBlock => ({ kind: 'code', label, text: words });
  return [
    ...(rule.after.length > 0 ? [code('only when these did not fail', rule.after.join(', '))] : []),
    ...(rule.each ? [code('for each item of', conditionText(rule.each))] : []),
    ...(rule.when ? [code('when', conditionText(rule.when))] : []),
    code('must', conditionText(rule.must)),
    ...rule.hazard.flatMap(({ if: guard, is }) =>
      guard && conditionWords(guard) === null ? [code(`${is} when`, conditionText(guard))] : [],
    ),
    ...(rule.settledBy ? [code('settled by', conditionText(rule.settledBy))] : []),
  ];
}
