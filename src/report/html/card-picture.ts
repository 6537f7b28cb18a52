import { limits } from '../../bytes/limits.js';
import { sizeText } from '../../bytes/size-text.js';
import {
  type Cell,
  cardStrip,
  cellsOf,
  cellWeight,
  legend,
  type StripKind,
  type StripSegment,
} from '../card-strip.js';
import { amount, group, groupsOf } from '../fact-values.js';
import type { Finding, Report } from '../report.js';
import { reflow } from '../wrap.js';
import { type Markup, tag } from './markup.js';
import {
  type Box,
  boxes,
  drawing,
  foldedTable,
  type LegendItem,
  legendList,
  percent,
  pin,
} from './picture.js';

/** A place on the card at which something is wrong. */
interface Place {
  readonly at: number;
  /** `!` with the number of the fault, or alone for what a fault speaks of in general. */
  readonly sign: string;
  readonly text: string;
}

/** The card from its first byte to its last, with every place at which something is wrong; null without a volume. */
export function cardPicture(report: Report, faults: readonly Finding[], id: string): Markup | null {
  const segments = cardStrip(report);
  if (segments === null) return null;
  const cells = cellsOf(segments, 9);
  const row = rowOf(cells);
  const all = placesOf(report, faults);
  const places = all.slice(0, mostPlaces).sort((one, other) => one.at - other.at);
  const more = all.length > places.length ? [`and ${all.length - places.length} more places`] : [];
  const lines = legend(cells);
  const description = [
    ...lines.filter(({ sign }) => sign !== '[ ]').map(({ text }) => text),
    ...places.map(({ text, at }) => `${text}, at byte ${at}`),
    ...more,
  ];
  return tag(
    'figure',
    { class: 'picture' },
    drawing(
      {
        id,
        title: 'The card from its first byte to its last, not to scale',
        description: `From the first byte on: ${description.join('; ')}.`,
        height: 84,
      },
      boxes(
        row.map(({ box }) => box),
        28,
        38,
      ),
      volumeLine(row),
      pins(places, row),
    ),
    legendList([
      ...lines.map(
        ({ sign, text }): LegendItem => ({
          sign,
          text,
          kind: sign === '[ ]' ? 'volume' : (row.find(({ box }) => box.sign === sign)?.box.kind ?? 'unused'),
        }),
      ),
      ...places.map(
        ({ sign, text, at }): LegendItem => ({ sign, kind: 'pin', text: `${text}, at byte ${at}` }),
      ),
      ...more.map((text): LegendItem => ({ sign: '!', kind: 'pin', text })),
    ]),
    foldedTable(
      'The same as a table',
      ['What', 'From byte', 'Size'],
      [
        ...segments
          .slice(0, mostRows)
          .map(({ label, start, length }) => [label, String(start), sizeText(length)]),
        ...(segments.length > mostRows ? [[`and ${segments.length - mostRows} more`, '', '']] : []),
      ],
    ),
  );
}

interface Placed {
  readonly box: Box;
  readonly segments: readonly StripSegment[];
}

/** Where each cell is drawn. */
function rowOf(cells: readonly Cell[]): Placed[] {
  const total = cells.reduce((sum, cell) => sum + cellWeight(cell), 0);
  let left = 0;
  return cells.map((cell) => {
    const width = (100 * cellWeight(cell)) / total;
    const kind: StripKind =
      cell.segments.find(({ piece }) => piece !== undefined)?.kind ?? cell.segments[0]!.kind;
    const placed = { box: { left, width, kind, sign: cell.sign }, segments: cell.segments };
    left += width;
    return placed;
  });
}

/** A line under what belongs to the volume. */
function volumeLine(row: readonly Placed[]): Markup | null {
  const inside = row.filter(({ segments }) => segments[0]?.inVolume);
  const [first, last] = [inside[0], inside.at(-1)];
  if (first === undefined || last === undefined) return null;
  return tag('rect', {
    class: 'volume',
    x: percent(first.box.left),
    y: 72,
    width: percent(last.box.left + last.box.width - first.box.left),
    height: 4,
  });
}

/** Places of faults, then of damage, then of what could not be read. */
function placesOf({ facts }: Report, faults: readonly Finding[]): Place[] {
  const place = (at: number | null, sign: string, text: string): Place[] =>
    at === null ? [] : [{ at, sign, text }];
  const found = [
    ...faults.flatMap(({ where, found: what }, index) =>
      place(amount(where?.offset), `!${index + 1}`, `fault ${index + 1}: ${reflow(what)}`),
    ),
    ...groupsOf(group(facts.damage).list).flatMap(({ at, text }) =>
      place(amount(at), '!', typeof text === 'string' ? `damage: ${text}` : 'damage'),
    ),
    ...groupsOf(group(facts.media).readErrors).flatMap(({ at, cause }) =>
      place(amount(at), '!', typeof cause === 'string' ? `could not be read: ${cause}` : 'could not be read'),
    ),
  ];
  return found;
}

/** Enough for every piece of the update file that a report lists, and what lies between. */
const mostRows = 3 * limits.listed;

/** More pins than this would hide each other. */
const mostPlaces = 12;

/** One pin for places that lie close together. */
function pins(places: readonly Place[], row: readonly Placed[]): Markup[] {
  const groups: { left: number; signs: Set<string> }[] = [];
  for (const { at, sign } of places) {
    const left = leftOf(at, row);
    if (left === null) continue;
    const last = groups.at(-1);
    if (last !== undefined && left - last.left < 7) last.signs.add(sign);
    else groups.push({ left, signs: new Set([sign]) });
  }
  return groups.map(({ left, signs }) => {
    const all = [...signs];
    return pin(left, 0, all.length > 3 ? `${all.slice(0, 3).join(' ')}…` : all.join(' '));
  });
}

/** Where a byte lies across the picture, in percent; null when it is on none of the stretches. */
function leftOf(at: number, row: readonly Placed[]): number | null {
  for (const { box, segments } of row) {
    const [first, last] = [segments[0]!, segments.at(-1)!];
    const end = last.start + last.length;
    if (at >= first.start && at < end)
      return box.left + (box.width * (at - first.start)) / (end - first.start);
  }
  return null;
}
