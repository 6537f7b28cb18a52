import { guideOf } from '../guide.js';
import type { Finding, Report } from '../report.js';
import { reflow } from '../wrap.js';
import { list, type Place, section } from './layout.js';
import { join, type Markup, tag } from './markup.js';

/** The way on, before any detail. */
export function next(report: Report, faults: readonly Finding[], place: Place): Markup | null {
  const { verdict, target } = report;
  const again = 'Then check again. Only when the report says FIT TO FLASH, the card goes into the machine.';
  const what = target.kind === 'staging' ? 'these files' : 'this card';
  if (verdict === 'refused' && faults.length > 0)
    return section(
      place,
      'What to do now',
      tag(
        'ol',
        { class: 'next' },
        tag(
          'li',
          {},
          target.kind === 'staging' ? 'Do not flash these files.' : 'Keep this card out of the machine.',
        ),
        faults.map(({ found, needed, remedy }, index) =>
          tag(
            'li',
            {},
            'Mend ',
            tag(
              'a',
              { href: `#${place.prefix}fault-${index + 1}` },
              faults.length === 1 ? 'the fault' : `fault ${index + 1}`,
            ),
            `: ${reflow(found)}; needed: ${reflow(needed)}`,
            remedy.length > 0 && remedy.every(({ erases }) => erases) && ' (this erases the card)',
          ),
        ),
        tag('li', {}, again),
      ),
    );
  if (verdict !== 'not-proven') return null;
  return section(
    place,
    'What to do now',
    tag(
      'ol',
      { class: 'next' },
      tag('li', {}, `Do not flash from ${what} yet.`),
      tag('li', {}, 'Settle what is listed below: each entry says how.'),
      tag('li', {}, again),
    ),
  );
}

/** What no program can see, said with every `fit`. */
export function provisos({ provided, verdict, target }: Report, place: Place): Markup | null {
  if (verdict !== 'fit' || provided.length === 0) return null;
  return section(
    place,
    target.kind === 'staging' ? 'These files are fit, provided that' : 'Fit, provided that',
    tag('p', {}, 'No program can see these things. They are yours to make sure of.'),
    tag('div', { class: 'provisos' }, list(provided.map(({ text }) => reflow(text)))),
  );
}

/** What to do at the machine and what will be seen there: worth reading only when the card may be put in. */
export function guide(report: Report, place: Place): Markup | null {
  const { verdict, target } = report;
  const words = verdict === 'fit' && target.kind !== 'staging' ? guideOf(report) : null;
  if (words === null) return null;
  const { steps, signs, wayBack } = words;
  return join(
    steps.length > 0 &&
      section(
        place,
        'At the machine',
        tag(
          'ol',
          { class: 'next' },
          steps.map((each) => tag('li', {}, each)),
        ),
      ),
    signs.length > 0 &&
      section(
        place,
        'What you will see',
        tag(
          'table',
          {},
          tag(
            'thead',
            {},
            tag(
              'tr',
              {},
              ['After', 'You see', 'It means'].map((each) => tag('th', { scope: 'col' }, each)),
            ),
          ),
          tag(
            'tbody',
            {},
            signs.map(({ after, sees, means }) =>
              tag('tr', {}, tag('th', { scope: 'row' }, after), tag('td', {}, sees), tag('td', {}, means)),
            ),
          ),
        ),
      ),
    wayBack !== null && section(place, 'If it fails', tag('p', {}, wayBack)),
  );
}
