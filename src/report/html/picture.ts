import { type Content, type Markup, tag } from './markup.js';

/** A drawn stretch: its place and width in percent of the picture. */
export interface Box {
  readonly left: number;
  readonly width: number;
  /** Class that gives the colour. */
  readonly kind: string;
  /** Stands in the box where there is room, and before its line of the legend. */
  readonly sign: string;
}

/** Percent with as many decimals as can be seen. */
export const percent = (value: number): string => `${Number(value.toFixed(2))}%`;

/** Boxes in a row, in pixels down and in percent across, so that signs keep their size on any screen. */
export function boxes(row: readonly Box[], top: number, height: number): Markup[] {
  return row.map(({ left, width, kind, sign }) =>
    tag(
      'g',
      { class: `box k-${kind}` },
      tag('rect', { x: percent(left), y: top, width: percent(width), height }),
      width >= 4 &&
        tag('text', { x: percent(left + width / 2), y: top + height / 2 + 5, 'text-anchor': 'middle' }, sign),
    ),
  );
}

/** A sign at one place, drawn in pixels around it. */
export function pin(left: number, top: number, sign: string): Markup {
  const half = Math.max(10, 4 + sign.length * 4);
  return tag(
    'svg',
    { x: percent(left), y: top, width: 1, height: 1, overflow: 'visible', class: 'pin' },
    tag('path', { d: `M-5 16 h10 l-5 9 z` }),
    tag('rect', { x: -half, y: 0, width: 2 * half, height: 18, rx: 5 }),
    tag('text', { x: 0, y: 14, 'text-anchor': 'middle' }, sign),
  );
}

export interface PictureParts {
  /** Begins every id in the picture: unique on the page. */
  readonly id: string;
  readonly title: string;
  /** The picture in words, for who does not see it. */
  readonly description: string;
  readonly height: number;
}

/** The drawing with its title and its description. */
export const drawing = ({ id, title, description, height }: PictureParts, ...content: Content[]): Markup =>
  tag(
    'svg',
    {
      class: 'drawing',
      width: '100%',
      height,
      role: 'img',
      'aria-labelledby': `${id}-title`,
      'aria-describedby': `${id}-text`,
    },
    tag('title', { id: `${id}-title` }, title),
    tag('desc', { id: `${id}-text` }, description),
    content,
  );

export interface LegendItem {
  readonly sign: string;
  readonly kind: string;
  readonly text: string;
}

/** What each sign stands for. */
export const legendList = (items: readonly LegendItem[]): Markup =>
  tag(
    'ul',
    { class: 'legend' },
    items.map(({ sign, kind, text }) =>
      tag('li', {}, tag('span', { class: `swatch k-${kind}` }, sign), ' ', tag('span', {}, text)),
    ),
  );

/** A table folded away. The first cell of each row is its heading. */
export const foldedTable = (
  summary: string,
  head: readonly string[],
  rows: readonly (readonly string[])[],
): Markup =>
  tag(
    'details',
    {},
    tag('summary', {}, summary),
    tag(
      'table',
      {},
      tag(
        'thead',
        {},
        tag(
          'tr',
          {},
          head.map((each) => tag('th', { scope: 'col' }, each)),
        ),
      ),
      tag(
        'tbody',
        {},
        rows.map(([first = '', ...rest]) =>
          tag(
            'tr',
            {},
            tag('th', { scope: 'row' }, first),
            rest.map((each) => tag('td', {}, each)),
          ),
        ),
      ),
    ),
  );
