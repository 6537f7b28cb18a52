import { sizeText } from '../../bytes/size-text.js';
import { mendOrder } from '../blame.js';
import { amount, group } from '../fact-values.js';
import { guideOf } from '../guide.js';
import { openCauses } from '../open-causes.js';
import type { Finding, Report } from '../report.js';
import { statedText, targetText } from '../target-words.js';
import { countsText, keystoneText, verdictWords } from '../verdict-words.js';
import { reflow, sentence } from '../wrap.js';
import { cardPicture } from './card-picture.js';
import { briefly, faultCards, heading, type Place } from './findings.js';
import { verdictIcon } from './icons.js';
import { type Content, join, type Markup, named, tag } from './markup.js';
import { memoryPicture } from './memory-picture.js';
import { powerBars } from './power-bars.js';

/** One report: the verdict and what to do first, everything else after it, what only some want folded. */
export function reportSections(report: Report, place: Place): Markup {
  const { findings } = report;
  const judged = ({ hazard }: Finding): boolean => hazard !== 'advice';
  const failed = findings.filter(({ outcome }) => outcome === 'failed');
  const faults = mendOrder(failed.filter(judged));
  return join(
    verdictPanel(report, place),
    tag(
      'div',
      { class: 'columns' },
      checked(report, place),
      tag(
        'div',
        { class: 'sections' },
        next(report, faults, place),
        provisos(report, place),
        guide(report, place),
        faults.length > 0 &&
          section(
            place,
            'What is not as it must be',
            faults.length > 1 && tag('p', {}, 'In the order in which to mend them.'),
            faultCards(faults, place),
          ),
        open(
          findings.filter((finding) => finding.outcome === 'unknown' && judged(finding)),
          place,
        ),
        keystones(report, place),
        pictures(report, faults, place),
        waived(
          findings.filter(({ outcome }) => outcome === 'waived'),
          place,
        ),
        advice(
          failed.filter((finding) => !judged(finding)),
          place,
        ),
        rest(report, place),
      ),
    ),
  );
}

const section = ({ level }: Place, title: string, ...content: Content[]): Markup =>
  tag('section', {}, heading(level, {}, title), ...content);

const list = (texts: readonly Content[]): Markup =>
  tag(
    'ul',
    {},
    texts.map((each) => tag('li', {}, each)),
  );

function verdictPanel(report: Report, { prefix, level }: Place): Markup {
  const { headline, waivers, sentences } = verdictWords(report);
  const [word = '', ...rest] = headline.split(': ');
  const order = rest.join(': ');
  return tag(
    'div',
    { class: `verdict v-${report.verdict}`, id: `${prefix}verdict` },
    verdictIcon(report.verdict),
    tag(
      'div',
      {},
      heading(
        level - 1,
        {},
        tag('span', { class: 'word' }, word + (order === '' ? '' : ':')),
        order !== '' && [
          ' ',
          tag('span', { class: 'order' }, order.charAt(0).toUpperCase() + order.slice(1)),
        ],
      ),
      waivers !== '' && tag('p', {}, waivers.trim()),
      sentences.map((each) => tag('p', {}, each)),
      report.verdict === 'fit' &&
        tag(
          'p',
          {},
          report.target.kind === 'staging'
            ? 'Only the files were looked at. Copy them to a card, and check that card too.'
            : 'What was looked at is as this board needs it. Read the conditions below before you put the card in.',
        ),
    ),
  );
}

/** What was looked at, and what the owner said about it. */
function checked({ target, board, stated, facts }: Report, { level }: Place): Markup {
  const file = group(facts.updateFile);
  const image = group(facts.image);
  const entry = (name: string, ...content: Content[]): Markup =>
    tag('div', {}, tag('dt', {}, name), tag('dd', {}, content));
  const text = (value: unknown): string | null => (typeof value === 'string' ? value : null);
  const bytes = amount(file.bytes);
  const path = text(file.path);
  const build = text(image.buildTitle);
  const release = text(image.release);
  const crc32 = text(file.crc32);
  return tag(
    'div',
    { class: 'checked' },
    heading(level, {}, 'What was checked'),
    tag(
      'dl',
      {},
      entry(
        'Card or folder',
        named(target.path),
        tag('br'),
        tag('span', { class: 'soft' }, targetText(target)),
      ),
      board === null
        ? entry('Board', 'no board profile was given; say which board it is with --board')
        : entry(
            'Board',
            named(board.title),
            tag('br'),
            tag('span', { class: 'soft' }, 'profile ', named(board.id), `, revision ${board.revision}`),
          ),
      path !== null &&
        entry(
          'Update file',
          named(path),
          bytes !== null && [tag('br'), tag('span', { class: 'soft' }, sizeText(bytes))],
        ),
      build !== null && entry('Build', named(build), release !== null && [', release ', named(release)]),
      crc32 !== null && entry('Checksum to read out (CRC-32)', tag('code', {}, crc32)),
      stated.some(({ text: said }) => said !== '') &&
        entry(
          'You said',
          list(stated.filter(({ text: said }) => said !== '').map((each) => statedText(each))),
        ),
    ),
  );
}

/** The way on, before any detail. */
function next(report: Report, faults: readonly Finding[], place: Place): Markup | null {
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

function provisos({ provided, verdict, target }: Report, place: Place): Markup | null {
  if (verdict !== 'fit' || provided.length === 0) return null;
  return section(
    place,
    target.kind === 'staging' ? 'These files are fit, provided that' : 'Fit, provided that',
    tag('p', {}, 'No program can see these things. They are yours to make sure of.'),
    tag('div', { class: 'provisos' }, list(provided.map(({ text }) => reflow(text)))),
  );
}

/** What to do at the machine and what will be seen there: worth reading only when the card may be put in. */
function guide(report: Report, place: Place): Markup | null {
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

/** One entry a cause, however many rules wait for it. */
function open(findings: readonly Finding[], place: Place): Markup | null {
  if (findings.length === 0) return null;
  return section(
    place,
    'What could not be judged',
    openCauses(findings).map(({ text, settle, rules }) =>
      tag(
        'div',
        { class: 'open' },
        tag('p', {}, tag('strong', {}, sentence(reflow(text)))),
        settle !== undefined && tag('p', {}, 'To settle it: ', reflow(settle)),
        tag(
          'details',
          {},
          tag(
            'summary',
            {},
            rules.length === 1 ? 'One rule waits for it' : `${rules.length} rules wait for it`,
          ),
          list(rules.map((rule) => tag('code', {}, rule))),
        ),
      ),
    ),
  );
}

function keystones({ keystonesMissing, verdict }: Report, place: Place): Markup | null {
  if (verdict !== 'not-proven' || keystonesMissing.length === 0) return null;
  return section(place, 'It could not be shown that', list(keystonesMissing.map(keystoneText)));
}

function pictures(report: Report, faults: readonly Finding[], place: Place): Content {
  const card = cardPicture(report, faults, `${place.prefix}card`);
  const memory = memoryPicture(report, `${place.prefix}memory`);
  const power = powerBars(report);
  return [
    card && section(place, 'The card from its first byte to its last', card),
    memory && section(place, 'The memory of the board', memory),
    power && section(place, 'What it draws', power),
  ];
}

function waived(findings: readonly Finding[], place: Place): Markup | null {
  if (findings.length === 0) return null;
  return section(
    place,
    'Waived: these rules failed, and the board profile says that they may',
    briefly(findings, ({ found, because }) => (because ? `${found}; ${because}` : found)),
  );
}

function advice(findings: readonly Finding[], place: Place): Markup | null {
  if (findings.length === 0) return null;
  return section(
    place,
    'Worth knowing; it does not change the verdict',
    briefly(findings, ({ found }) => found),
  );
}

/** What only some readers want: folded, and on paper left out. */
function rest(report: Report, place: Place): Markup {
  const { findings, coverage, board, tool, rules, inputs } = report;
  const of = (outcome: Finding['outcome']): Finding[] => findings.filter((each) => each.outcome === outcome);
  const silent = [...new Set([...coverage.coreSilent, ...coverage.silent])];
  const folded = (title: string, ...content: Content[]): Markup =>
    tag('details', { class: 'deep' }, tag('summary', {}, title), ...content);
  const [holds, others] = [of('holds'), of('not-applicable')];
  return section(
    place,
    'Everything else',
    tag('p', {}, countsText(report)),
    holds.length > 0 &&
      folded(
        `What holds (${holds.length})`,
        briefly(holds, ({ because }) => because ?? ''),
      ),
    others.length > 0 &&
      folded(
        `What does not apply (${others.length})`,
        briefly(others, ({ because }) => because ?? ''),
      ),
    board !== null &&
      silent.length > 0 &&
      folded(
        `What this profile does not say (${silent.length})`,
        list(silent.map((key) => tag('code', {}, key))),
      ),
    folded(
      'What this verdict rests on',
      list([
        `${tool.name} ${tool.version}`,
        [`rules ${rules.version}, SHA-256 `, tag('code', {}, rules.sha256)],
        ...inputs.map(
          ({ role, path, sha256 }): Content => [
            `${role} `,
            named(path),
            ', SHA-256 ',
            tag('code', {}, sha256),
          ],
        ),
      ]),
    ),
  );
}
