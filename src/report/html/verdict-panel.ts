import { sizeText } from '../../bytes/size-text.js';
import { amount, group } from '../fact-values.js';
import type { Report } from '../report.js';
import { statedText, targetText } from '../target-words.js';
import { verdictWords } from '../verdict-words.js';
import { verdictIcon } from './icons.js';
import { heading, list, type Place } from './layout.js';
import { type Content, type Markup, named, tag } from './markup.js';

/** The verdict, as large as it matters, with what it means. */
export function verdictPanel(report: Report, { prefix, level }: Place): Markup {
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
export function checked({ target, board, stated, facts }: Report, { level }: Place): Markup {
  const file = group(facts.updateFile);
  const image = group(facts.image);
  const entry = (name: string, ...content: Content[]): Markup =>
    tag('div', {}, tag('dt', {}, name), tag('dd', {}, content));
  const text = (value: unknown): string | null => (typeof value === 'string' ? value : null);
  const bytes = amount(file.bytes);
  const path = text(file.path);
  const build = text(image.buildTitle);
  const release = text(image.release);
  // Not the CRC-32: of every file that ends with its own one it is the same.
  const sha256 = text(file.sha256);
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
      sha256 !== null && entry('Its fingerprint (SHA-256)', tag('code', {}, sha256)),
      stated.some(({ text: said }) => said !== '') &&
        entry(
          'You said',
          list(stated.filter(({ text: said }) => said !== '').map((each) => statedText(each))),
        ),
    ),
  );
}
