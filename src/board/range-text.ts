import type { Cell } from './cells.js';
import { numberingOf } from './check.js';
import type { Profile } from './profile.js';
import { parseRange } from './ranges.js';
import { joined } from './validate.js';

/** `boardRevision` and `board-revision` as people write them: `board revision`. */
export const axisWords = (axis: string): string =>
  axis
    .replace(/([a-z0-9])([A-Z])/g, '$1 $2')
    .replace(/[-_]+/g, ' ')
    .toLowerCase();

/** A range in words: `24 or later`, `below 24`, `20 or later and below 31`, `A or B`. */
export function rangeText(profile: Profile, axis: string, range: string | readonly string[]): string {
  const numbering = numberingOf(profile, axis) ?? 'word';
  const parsed = parseRange(range, numbering).range;
  if (!parsed) return typeof range === 'string' ? range : joined(range, 'or');
  if (parsed.kind === 'values') return joined(parsed.values, 'or');
  const isDate = numbering === 'date';
  const words: Readonly<Record<string, (value: string) => string>> = {
    '<': (value) => `${isDate ? 'before' : 'below'} ${value}`,
    '<=': (value) => `${value} or ${isDate ? 'before' : 'lower'}`,
    '>': (value) => `${isDate ? 'after' : 'above'} ${value}`,
    '>=': (value) => `${value} or later`,
  };
  return joined(
    parsed.limits.map((limit) => words[limit.operator]!(limit.value)),
    'and',
  );
}

/** What a condition asks of a machine: `the newer boot loader`, `a release of 24 or later`, `board revision A or B`. */
export function conditionText(profile: Profile, axis: string, range: string | readonly string[]): string {
  const text = rangeText(profile, axis, range);
  if (axis === 'loader') return `the ${text} boot loader`;
  if (axis === 'installed') return `release ${text}`;
  return `${axisWords(axis)} ${text}`;
}

/** One answer in the same words, to set beside a condition: `the older one`, `release 23`, `C`. */
export function answerText(axis: string, value: string): string {
  if (axis === 'loader') return `the ${value} one`;
  if (axis === 'installed') return `release ${value}`;
  return value;
}

/** Neighbouring cells of one question in words: `release below 24`, `release 24 or later`, `board revision A or B`. */
export function cellsText(profile: Profile, axis: string, cells: readonly Cell[]): string {
  const first = cells[0];
  const last = cells.at(-1);
  if (!first || !last) return axisWords(axis);
  const name = axis === 'installed' ? 'release' : axis === 'loader' ? 'boot loader' : axisWords(axis);
  if (first.kind === 'value')
    return `${name} ${joined(
      cells.map((cell) => cell.value),
      'or',
    )}`;
  const isDate = numberingOf(profile, axis) === 'date';
  const [below, above] = isDate ? ['before', 'after'] : ['below', 'above'];
  // A stretch between points leaves its own ends out.
  const low =
    first.from === undefined
      ? ''
      : first.kind === 'point'
        ? `${first.from} or later`
        : `${above} ${first.from}`;
  const high =
    last.to === undefined
      ? ''
      : last.kind === 'point'
        ? `${last.to} or ${isDate ? 'before' : 'lower'}`
        : `${below} ${last.to}`;
  if (cells.length === 1 && first.kind === 'point') return `${name} ${first.value}`;
  return `${name} ${[low, high].filter((part) => part !== '').join(' and ') || 'any'}`;
}
