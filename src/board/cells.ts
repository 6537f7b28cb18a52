import { numberingOf, valuesOf } from './check.js';
import type { Profile } from './profile.js';
import { compareValues, endPoints, inRange, type Numbering, parseRange } from './ranges.js';

/** Answers to one question among which no range of the profile makes a difference, and one answer to stand for them. */
export interface Cell {
  /** `value`: one of a closed list; `point`: an end point of a range; the others: a stretch beside end points. */
  readonly kind: 'value' | 'point' | 'below' | 'between' | 'above';
  /** An answer that lies in the cell. */
  readonly value: string;
  /** Lowest and highest answer as the text names them: `24` and `24`; undefined where the stretch is open. */
  readonly from?: string;
  readonly to?: string;
}

/**
 * Cuts the answers of a question at every end point of the given ranges: each point and each stretch beside or
 * between points is one cell, in ascending order. A closed list of answers gives one cell each. A stretch that holds
 * no answer, such as whole numbers between 3 and 4, is left out.
 */
export function cellsOf(
  profile: Profile,
  axisId: string,
  ranges: readonly (string | readonly string[])[],
): readonly Cell[] {
  const numbering = numberingOf(profile, axisId) ?? 'word';
  const listed = valuesOf(profile, axisId);
  if (listed !== undefined) return listed.map((value) => ({ kind: 'value', value, from: value, to: value }));
  const points = sortedPoints(ranges, numbering);
  if (numbering === 'word' || points.length === 0)
    return points.map((value) => ({ kind: 'point', value, from: value, to: value }));
  const cells: Cell[] = [];
  const below = before(points[0]!, numbering);
  if (below !== undefined) cells.push({ kind: 'below', value: below, to: points[0]! });
  for (const [index, point] of points.entries()) {
    cells.push({ kind: 'point', value: point, from: point, to: point });
    const next = points[index + 1];
    const inside = next === undefined ? after(point, numbering) : between(point, next, numbering);
    if (inside === undefined) continue;
    cells.push(
      next === undefined
        ? { kind: 'above', value: inside, from: point }
        : { kind: 'between', value: inside, from: point, to: next },
    );
  }
  return cells;
}

/** Keeps one cell of each group for which all ranges decide alike: enough to choose, too little to print. */
export function distinctCells(
  cells: readonly Cell[],
  ranges: readonly (string | readonly string[])[],
  numbering: Numbering,
): readonly Cell[] {
  const kept = new Map<string, Cell>();
  for (const cell of cells) {
    const decisions = ranges.map((range) => (inRange(cell.value, range, numbering) ? '1' : '0')).join('');
    if (!kept.has(decisions)) kept.set(decisions, cell);
  }
  return [...kept.values()];
}

function sortedPoints(ranges: readonly (string | readonly string[])[], numbering: Numbering): string[] {
  const points = ranges.flatMap((range) => {
    const parsed = parseRange(range, numbering).range;
    return parsed ? endPoints(parsed) : [];
  });
  if (numbering === 'word') return [...new Set(points)].sort();
  points.sort((a, b) => compareValues(a, b, numbering));
  return points.filter(
    (point, index) => index === 0 || compareValues(points[index - 1]!, point, numbering) !== 0,
  );
}

const dayMs = 86_400_000;
const firstDay = Date.UTC(2000, 0, 1) - 730_485 * dayMs; // 0000-01-01
const lastDay = Date.UTC(9999, 11, 31);

/** A date some days on; undefined outside the years 0000 to 9999. */
function shiftedDate(date: string, days: number): string | undefined {
  const at = Date.parse(`${date}T00:00:00Z`) + days * dayMs;
  return at < firstDay || at > lastDay ? undefined : new Date(at).toISOString().slice(0, 10);
}

/** Largest part of a release number that the reader of ranges takes. */
const mostPart = 999_999_999_999_999;
const mostParts = 8;

function before(value: string, numbering: Numbering): string | undefined {
  if (numbering === 'date') return shiftedDate(value, -1);
  const parts = value.split('.').map(Number);
  const last = parts.at(-1)!;
  if (last > 0) return [...parts.slice(0, -1), last - 1].join('.');
  // 2.0 follows 1.x; any lower number will do.
  const higher = parts.findLastIndex((part) => part > 0);
  return higher < 0 ? undefined : [...parts.slice(0, higher), parts[higher]! - 1].join('.');
}

function after(value: string, numbering: Numbering): string | undefined {
  if (numbering === 'date') return shiftedDate(value, 1);
  const parts = value.split('.').map(Number);
  for (let at = parts.length - 1; at >= 0; at--)
    if (parts[at]! < mostPart) return [...parts.slice(0, at), parts[at]! + 1].join('.');
  return undefined;
}

function between(low: string, high: string, numbering: Numbering): string | undefined {
  const isInside = (value: string | undefined): boolean =>
    value !== undefined &&
    compareValues(low, value, numbering) < 0 &&
    compareValues(value, high, numbering) < 0;
  const next = after(low, numbering);
  if (isInside(next)) return next;
  if (numbering !== 'dotted') return undefined;
  // 2.4 and 2.5 have 2.4.1 between them; 2.4 and 2.4.1 have 2.4.0.1.
  const parts = low.split('.').map(Number);
  const length = Math.min(Math.max(parts.length, high.split('.').length) + 1, mostParts);
  while (parts.length < length) parts.push(0);
  const longer = [...parts.slice(0, -1), parts.at(-1)! + 1].join('.');
  return isInside(longer) ? longer : undefined;
}
