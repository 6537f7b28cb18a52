import { sizeText } from '../../bytes/size-text.js';
import { amount, type FactGroup, group, groupsOf } from '../fact-values.js';
import type { Json, Report } from '../report.js';
import { type Markup, tag } from './markup.js';
import { type Box, boxes, drawing, foldedTable, type LegendItem, legendList } from './picture.js';

/** A stretch of the processor's memory. */
interface Area {
  readonly kind: 'loader' | 'application' | 'settings' | 'flash' | 'program' | 'program-bad';
  readonly sign: string;
  readonly text: string;
  readonly start: number;
  readonly end: number;
}

/** What the board keeps where in its memory, and over it what the update file would write; null when that is not known. */
export function memoryPicture({ facts }: Report, id: string): Markup | null {
  const memory = group(group(facts.board).memory);
  const loader = area(memory.loader, 'loader', 'L', 'the boot loader');
  const application = area(memory.application, 'application', 'A', 'the place for the program');
  const settings = groupsOf(memory.settings)
    .slice(0, mostAreas)
    .flatMap((each) => area(each, 'settings', 'S', 'the settings of the machine'));
  const program = programAreas(group(facts.image), application[0]);
  const kept = [...loader, ...application, ...settings];
  if (program.length === 0 || kept.length === 0) return null;
  const flash = groupsOf(group(facts.image).flashAreas)
    .slice(0, mostAreas)
    .flatMap((each) => area(each, 'flash', 'M', 'other memory of the processor'))
    .flatMap((each) => without(each, kept));

  const place = axis([...kept, ...flash, ...program]);
  const lines = [...kept, ...flash, ...program];
  const said = new Set<string>();
  const legend = lines.flatMap(({ sign, kind, text, start, end }): LegendItem[] => {
    if (said.has(sign)) return [];
    said.add(sign);
    const all = lines.filter((each) => each.sign === sign);
    const more = all.length > 1 ? ` and ${all.length - 1} more` : '';
    const size = `, ${sizeText(end - start)} from ${address(start)}${more}`;
    return [{ sign, kind, text: text + size }];
  });
  return tag(
    'figure',
    { class: 'picture' },
    drawing(
      {
        id,
        title:
          'The memory of the processor, not to scale: what the board keeps there, and what the file would write',
        description: lines
          .map(({ text, start, end }) => `${text}: ${address(start)} to ${address(end)}`)
          .join('; '),
        height: 84,
      },
      boxes(flash.map(place), 0, 34),
      boxes(kept.map(place), 0, 34),
      boxes(program.map(place), 44, 34),
    ),
    tag('figcaption', {}, 'Above: what the board keeps where. Below: what the update file would write.'),
    legendList(legend),
    foldedTable(
      'The same as a table',
      ['What', 'From address', 'Up to', 'Size'],
      lines.map(({ text, start, end }) => [text, address(start), address(end), sizeText(end - start)]),
    ),
  );
}

/** More stretches than this are drawn as one. */
const mostAreas = 16;

const address = (value: number): string => `0x${value.toString(16).padStart(8, '0')}`;

function area(value: Json | undefined, kind: Area['kind'], sign: string, text: string): Area[] {
  const { start, bytes } = group(value);
  const [from, length] = [amount(start), amount(bytes)];
  return from === null || length === null || length === 0
    ? []
    : [{ kind, sign, text, start: from, end: from + length }];
}

/** What is left of a stretch beside others. */
function without(whole: Area, others: readonly Area[]): Area[] {
  const left: Area[] = [];
  let start = whole.start;
  for (const other of [...others].sort((one, two) => one.start - two.start)) {
    if (other.end <= start || other.start >= whole.end) continue;
    if (other.start > start) left.push({ ...whole, start, end: other.start });
    start = other.end;
  }
  if (start < whole.end) left.push({ ...whole, start });
  return left;
}

/** What the file writes, cut where the place for the program ends. */
function programAreas(image: FactGroup, application: Area | undefined): Area[] {
  const all = groupsOf(image.segments).flatMap((each) => area(each, 'program', 'U', 'the update file'));
  const [first, last] = [all[0], all.at(-1)];
  const drawn =
    all.length > mostAreas && first && last
      ? // A report may list fewer than there are.
        [
          {
            ...first,
            end: Math.max(last.end, amount(image.endAddress) ?? 0),
            text: `the update file, ${all.length} stretches or more, drawn as one`,
          },
        ]
      : all;
  // Where the program lies is judged by rules; a picture must not say otherwise.
  if (application === undefined || image.inApplicationArea === true) return drawn;
  return drawn.flatMap((each) => {
    const parts: Area[] = [];
    const cut = (start: number, end: number, isInside: boolean): void => {
      if (start >= end) return;
      const outside = {
        kind: 'program-bad',
        sign: 'X',
        text: 'the update file, OUTSIDE the place for the program',
      } as const;
      parts.push({ ...each, start, end, ...(isInside ? {} : outside) });
    };
    cut(each.start, Math.min(each.end, application.start), false);
    cut(Math.max(each.start, application.start), Math.min(each.end, application.end), true);
    cut(Math.max(each.start, application.end), each.end, false);
    return parts;
  });
}

/** Places areas across the picture: stretches between two borders are wider the longer they are, but not in proportion. */
function axis(areas: readonly Area[]): (each: Area) => Box {
  const borders = [...new Set(areas.flatMap(({ start, end }) => [start, end]))].sort(
    (one, other) => one - other,
  );
  const isEmpty = (from: number, to: number): boolean =>
    !areas.some(({ start, end }) => start < to && end > from);
  const left = new Map<number, number>();
  let total = 0;
  borders.forEach((border, index) => {
    left.set(border, total);
    const next = borders[index + 1];
    if (next === undefined) return;
    const weight = Math.max(2, Math.min(12, Math.log2((next - border) / 1024 + 1)));
    total += isEmpty(border, next) ? 2 : weight;
  });
  const at = (border: number): number => (100 * (left.get(border) ?? 0)) / total;
  return ({ start, end, kind, sign }) => ({ left: at(start), width: at(end) - at(start), kind, sign });
}
