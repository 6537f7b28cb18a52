import { hazardText, permanenceText } from '../hazard-words.js';
import type { Finding } from '../report.js';
import { reflow } from '../wrap.js';
import { heading, type Place } from './layout.js';
import { type Content, type Markup, named, paragraphs, tag } from './markup.js';
import { remedies } from './steps.js';

/** Every fault as a card of its own, in the order in which to mend them. */
export function faultCards(faults: readonly Finding[], { prefix, level }: Place): Markup[] {
  /** Steps that stand on the page already, and the fault under which they do. */
  const printed = new Map<string, number>();
  return faults.map((finding, index) => {
    const number = index + 1;
    const id = `${prefix}fault-${number}`;
    const key = JSON.stringify(finding.remedy);
    const before = printed.get(key);
    if (before === undefined) printed.set(key, number);
    return tag(
      'article',
      { class: 'fault', id, 'aria-labelledby': `${id}-title` },
      heading(
        level + 1,
        { id: `${id}-title` },
        tag('span', { class: 'number' }, String(number)),
        ' ',
        tag('span', {}, finding.title),
      ),
      tag('p', { class: 'risk' }, hazardText(finding.hazard)),
      measured(finding),
      mending(finding, before, { prefix, level: level + 2 }),
      tag(
        'details',
        {},
        tag('summary', {}, 'Why this matters, and whether it can be undone'),
        paragraphs(finding.why),
        tag('p', {}, permanenceText(finding.hazard)),
        sources(finding),
        tag('p', { class: 'note' }, 'Rule: ', tag('code', {}, finding.rule)),
      ),
    );
  });
}

/** Found and needed, side by side. */
function measured(finding: Finding): Markup {
  const { shown = [], total = shown.length, where } = finding;
  const offset = where?.offset;
  const at = typeof offset === 'number' ? `byte ${offset} (0x${offset.toString(16)})` : null;
  const path = typeof where?.path === 'string' ? where.path : null;
  return tag(
    'dl',
    { class: 'measured' },
    tag(
      'div',
      { class: 'found' },
      tag('dt', {}, 'Found'),
      tag('dd', {}, reflow(finding.found), offenders(shown, total)),
    ),
    tag('div', { class: 'needed' }, tag('dt', {}, 'Needed'), tag('dd', {}, reflow(finding.needed))),
    (path !== null || at !== null) &&
      tag(
        'div',
        { class: 'where' },
        tag('dt', {}, 'Where'),
        tag('dd', {}, path !== null && named(path), path !== null && at !== null && ', ', at),
      ),
  );
}

/** What breaks a rule, as a list of names; capped when the report was made. */
export const offenders = (shown: readonly string[], total: number): Markup | null =>
  shown.length === 0
    ? null
    : tag(
        'ul',
        { class: 'offenders' },
        shown.map((each) => tag('li', {}, named(each))),
        total > shown.length && tag('li', {}, `and ${total - shown.length} more`),
      );

function mending({ remedy }: Finding, before: number | undefined, { prefix, level }: Place): Content {
  if (remedy.length === 0) return null;
  return [
    heading(level, {}, 'How to mend it'),
    before === undefined
      ? remedies(remedy)
      : tag(
          'p',
          {},
          'The same steps as for ',
          tag('a', { href: `#${prefix}fault-${before}` }, `fault ${before}`),
          '.',
        ),
  ];
}

/** Where the rule comes from. Only what is surely a web address becomes a link. */
function sources({ sources }: Finding): Markup | null {
  const texts = sources.map(({ title, section, url, practice }) => {
    const words = [title, section, practice].filter((part) => part !== undefined).join(', ');
    return typeof url === 'string' && /^https:\/\/[a-z0-9.-]+\//i.test(url)
      ? tag('a', { href: url, rel: 'noreferrer noopener' }, words === '' ? url : words)
      : words;
  });
  const all = texts.flatMap((each, index): Content[] => (index === 0 ? [each] : ['; ', each]));
  return texts.length === 0 ? null : tag('p', { class: 'note' }, 'Source: ', all);
}

/** Findings in one line each. */
export const briefly = (findings: readonly Finding[], text: (finding: Finding) => string): Markup =>
  tag(
    'ul',
    { class: 'brief' },
    findings.map((finding) => {
      const more = reflow(text(finding));
      return tag(
        'li',
        {},
        tag('strong', {}, finding.title),
        more === '' ? null : `: ${more}`,
        ' ',
        tag('code', {}, finding.rule),
        finding.outcome === 'failed' && offenders(finding.shown ?? [], finding.total ?? 0),
      );
    }),
  );
