import type { Report, Verdict } from '../report.js';
import type { Reporter } from '../reporters.js';
import type { Summary } from '../summary.js';
import { verdictWords } from '../verdict-words.js';
import { verdictIcon } from './icons.js';
import { heading } from './layout.js';
import { join, Markup, named, tag } from './markup.js';
import { reportSections } from './report-sections.js';
import { styleHash, styleText } from './style.js';

/**
 * The report as one web page that needs nothing else: no script, nothing loaded, and a policy that allows neither. It
 * is the same on every computer.
 */
export const htmlReport: Reporter = (report) =>
  report.schema === 'flashworthy-summary/1'
    ? page(summaryTitle(report), report.tool, summaryBody(report))
    : page(
        `${verdictWords(report).headline.split(':')[0]} - ${report.target.path}`,
        report.tool,
        reportSections(report, { prefix: '', level: 2 }),
      );

/** Nothing is fetched, run, sent or framed; only this style applies (Content Security Policy Level 3). */
const policy = `default-src 'none'; style-src '${styleHash}'; base-uri 'none'; form-action 'none'`;

function page(title: string, tool: Report['tool'], body: Markup): string {
  const document = tag(
    'html',
    { lang: 'en', dir: 'ltr' },
    tag(
      'head',
      {},
      tag('meta', { charset: 'utf-8' }),
      tag('meta', { 'http-equiv': 'Content-Security-Policy', content: policy }),
      tag('meta', { name: 'viewport', content: 'width=device-width, initial-scale=1' }),
      tag('meta', { name: 'color-scheme', content: 'light dark' }),
      tag('meta', { name: 'referrer', content: 'no-referrer' }),
      tag('title', {}, title),
      tag('style', {}, new Markup(styleText)),
    ),
    tag(
      'body',
      {},
      tag('a', { class: 'skip', href: '#report' }, 'Skip to the report'),
      tag('header', {}, tag('p', {}, tag('strong', {}, tool.name), ', the check before you flash')),
      tag('main', { id: 'report' }, body),
      tag(
        'footer',
        {},
        tag(
          'p',
          {},
          `Made by ${tool.name} ${tool.version}. It only read the card. This page needs no network and runs no program.`,
        ),
      ),
    ),
  );
  return `<!doctype html>\n${document.text}\n`;
}

const short: Readonly<Record<Verdict, string>> = {
  fit: 'Fit to flash',
  refused: 'Refused',
  'not-proven': 'Not proven',
};

function summaryTitle({ reports, unchecked }: Summary): string {
  const count = (verdict: Verdict): number => reports.filter((each) => each.verdict === verdict).length;
  const parts = [
    [count('refused'), 'refused'],
    [count('not-proven'), 'not proven'],
    [unchecked.length, 'not checked'],
    [count('fit'), 'fit to flash'],
  ] as const;
  const all = reports.length + unchecked.length;
  const counted = parts.flatMap(([number, words]) => (number > 0 ? [`${number} ${words}`] : []));
  return `${all} ${all === 1 ? 'card' : 'cards'}: ${counted.join(', ')}`;
}

/** A table of all targets, then every report folded. */
function summaryBody(summary: Summary): Markup {
  const { reports, unchecked, verdict } = summary;
  const cell = (kind: Verdict, words: string): Markup =>
    tag('td', { class: `state s-${kind}` }, verdictIcon(kind, 'small'), ' ', words);
  return join(
    tag(
      'div',
      { class: `verdict v-${verdict}` },
      verdictIcon(verdict),
      tag('div', {}, heading(1, {}, tag('span', { class: 'order' }, summaryTitle(summary)))),
    ),
    tag(
      'section',
      {},
      heading(2, {}, 'All cards'),
      tag(
        'table',
        { class: 'cards' },
        tag(
          'thead',
          {},
          tag(
            'tr',
            {},
            ['Card', 'Verdict', 'What it means'].map((each) => tag('th', { scope: 'col' }, each)),
          ),
        ),
        tag(
          'tbody',
          {},
          reports.map((report, index) =>
            tag(
              'tr',
              {},
              tag(
                'th',
                { scope: 'row' },
                tag('a', { href: `#r${index + 1}-verdict` }, named(report.target.path)),
              ),
              cell(report.verdict, short[report.verdict]),
              tag('td', {}, verdictWords(report).sentences[0] ?? ''),
            ),
          ),
          unchecked.map(({ path, text }) =>
            tag(
              'tr',
              {},
              tag('th', { scope: 'row' }, named(path)),
              cell('not-proven', 'Not checked'),
              tag('td', {}, text),
            ),
          ),
        ),
      ),
    ),
    reports.length > 0 && tag('section', {}, heading(2, {}, 'Each card'), reports.map(folded)),
  );
}

const folded = (report: Report, index: number): Markup =>
  tag(
    'details',
    { class: 'report' },
    tag(
      'summary',
      {},
      verdictIcon(report.verdict, 'small'),
      ' ',
      tag('strong', {}, short[report.verdict]),
      ': ',
      named(report.target.path),
    ),
    reportSections(report, { prefix: `r${index + 1}-`, level: 4 }),
  );
