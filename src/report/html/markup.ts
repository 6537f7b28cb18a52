import { visible } from '../../rules/visible.js';

/** A stretch of HTML that is safe to print as it is. Only this file and the style make one. */
export class Markup {
  constructor(readonly text: string) {}
}

/** What an element holds. A text is escaped; null and false stand for nothing. */
export type Content = Markup | string | null | false | readonly Content[];

export type Attributes = Readonly<Record<string, string | number | true | null>>;

const escapes: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

/**
 * A text as it may stand in an element or in a quoted attribute. Control, bidirectional and invisible characters come
 * from names on a stranger's card and stand as `<U+202E>`; a line break is one of them.
 */
const escaped = (text: string): string =>
  visible(text).replace(/[&<>"']/g, (character) => escapes[character] ?? '');

/** Elements that have no end tag (HTML Living Standard, 13.1.2). */
const voids = new Set(['meta', 'br']);

/** One element. `null` leaves an attribute out, `true` prints its name alone. */
export function tag(name: string, attributes: Attributes = {}, ...content: Content[]): Markup {
  let start = `<${name}`;
  for (const [key, value] of Object.entries(attributes)) {
    if (value === null) continue;
    start += value === true ? ` ${key}` : ` ${key}="${escaped(String(value))}"`;
  }
  return new Markup(voids.has(name) ? `${start}>` : `${start}>${html(content)}</${name}>`);
}

/** Several pieces one after the other. */
export const join = (...content: Content[]): Markup => new Markup(html(content));

function html(content: Content): string {
  if (content === null || content === false) return '';
  if (content instanceof Markup) return content.text;
  return typeof content === 'string' ? escaped(content) : content.map(html).join('');
}

/** A name from a card, a file or a profile: its reading direction stays its own. */
export const named = (text: string): Markup => tag('bdi', {}, text);

/** Prose, a paragraph for each. Line breaks inside one are those of its author and mean nothing. */
export function paragraphs(text: string): Markup[] {
  return text
    .split(/\n[ \t]*\n/)
    .map((each) => each.trim().replace(/\s*\n\s*/g, ' '))
    .filter((each) => each !== '')
    .map((each) => tag('p', {}, each));
}
