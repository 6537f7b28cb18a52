import type { RemedyText } from '../report.js';
import { systemWords } from '../target-words.js';
import { type Content, type Markup, paragraphs, tag } from './markup.js';

/** One numbered step, or what stands before the first number. */
interface Step {
  readonly number: number | null;
  /** Sentences, and lines to type. */
  readonly parts: { readonly isCode: boolean; readonly lines: string[] }[];
}

/** Numbered steps taken apart; a line that begins with four blanks or more is to be typed. */
function stepsOf(text: string): Step[] {
  const steps: Step[] = [];
  for (const line of text.split('\n')) {
    const isCode = /^ {4}/.test(line);
    const [, number, rest] = isCode ? [] : (/^ {0,3}(\d{1,3})\. +(.*)$/.exec(line) ?? []);
    if (number !== undefined || steps.length === 0)
      steps.push({ number: number === undefined ? null : Number(number), parts: [] });
    const parts = steps.at(-1)!.parts;
    const last = parts.at(-1);
    const words = isCode ? line.trim() : (rest ?? line);
    if (last?.isCode === isCode) last.lines.push(words);
    else parts.push({ isCode, lines: [words] });
  }
  return steps;
}

function stepContent({ parts }: Step): Markup[] {
  return parts.flatMap(({ isCode, lines }) =>
    isCode
      ? [
          tag(
            'pre',
            {},
            lines.map((line) => tag('code', {}, line)),
          ),
        ]
      : paragraphs(lines.join('\n')),
  );
}

/** The steps of one remedy as a list, with what its author wrote before the first number. */
export function stepsList(text: string): Markup[] {
  const steps = stepsOf(text);
  const numbered = steps.filter(({ number }) => number !== null);
  return [
    ...steps.filter(({ number }) => number === null).flatMap(stepContent),
    ...(numbered.length > 0
      ? [
          tag(
            'ol',
            { class: 'steps', start: numbered[0]?.number === 1 ? null : (numbered[0]?.number ?? null) },
            numbered.map((step) => tag('li', {}, stepContent(step))),
          ),
        ]
      : []),
  ];
}

/** Systems in the order in which they are offered. */
const systems = ['any', 'windows', 'macos', 'linux'] as const;

/**
 * All ways to mend one fault. A page cannot know on which system it is read: with more than one way each is folded
 * under its name. What needs no rights comes first.
 */
export function remedies(remedy: readonly RemedyText[]): Markup {
  const ordered = systems
    .flatMap((system) => remedy.filter((each) => each.system === system))
    .sort((one, other) => rank(one) - rank(other));
  const [only] = ordered;
  if (ordered.length === 1 && only !== undefined)
    return tag('div', { class: 'way' }, warning(only), stepsList(only.do));
  return tag(
    'div',
    { class: 'ways' },
    ordered.map((each) =>
      tag(
        'details',
        { class: 'way' },
        tag(
          'summary',
          {},
          tag('span', { class: 'way-name' }, systemWords[each.system]),
          ' ',
          tag('span', { class: 'way-rights' }, rights(each)),
          each.erases && [' ', tag('span', { class: 'way-erases' }, 'erases the card')],
        ),
        warning(each),
        stepsList(each.do),
      ),
    ),
  );
}

const rank = ({ rights }: RemedyText): number => (rights === 'none' ? 0 : 1);

const rights = (each: RemedyText): string =>
  each.rights === 'administrator' ? 'as an administrator' : 'no administrator rights needed';

/** Said before the steps, where it cannot be overlooked. */
const warning = ({ erases }: RemedyText): Content =>
  erases &&
  tag(
    'p',
    { class: 'erases' },
    tag('strong', {}, 'This erases the card.'),
    ' Copy what you want to keep first.',
  );
