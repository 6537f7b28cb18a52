import { type Content, type Markup, tag } from './markup.js';

/** How headings and ids of one report are made: several reports may stand on one page. */
export interface Place {
  /** Begins every id. */
  readonly prefix: string;
  /** Level of the headings of sections; faults are one deeper. */
  readonly level: number;
}

export const heading = (
  level: number,
  attributes: Readonly<Record<string, string>>,
  ...text: Content[]
): Markup => tag(`h${Math.min(6, level)}`, attributes, ...text);

/** A stretch of a report under a heading. */
export const section = ({ level }: Place, title: string, ...content: Content[]): Markup =>
  tag('section', {}, heading(level, {}, title), ...content);

/** Items without an order. */
export const list = (texts: readonly Content[]): Markup =>
  tag(
    'ul',
    {},
    texts.map((each) => tag('li', {}, each)),
  );
