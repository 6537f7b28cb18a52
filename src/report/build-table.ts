import type { Json, Report } from './report.js';
import { wrap } from './wrap.js';

/** What a build is on one kind of machine, in the one word that has room in a column. */
const shortWords: Readonly<Record<string, string>> = {
  preferred: 'MEANT',
  tied: 'TIED',
  safe: 'safe',
  supply: 'supply',
  machine: 'other',
  both: 'both',
  'replaces-loader': 'loader',
  open: 'open',
};

/** What those words mean; only those that come up are explained. */
const meanings: Readonly<Record<string, string>> = {
  preferred: 'the build that its owner is told to use',
  tied: 'as right as another one',
  safe: 'it would run, but another one is meant',
  supply: 'refused: the supply does not meet what it needs',
  machine: 'refused: it is made for other machines',
  both: 'refused: for both reasons',
  'replaces-loader': 'it replaces the boot loader, which nobody is told to do',
  open: 'the supply would decide, and the profile lists none',
};

const column = 8;
/** Narrowest useful column for the machine. */
const leastMachine = 28;

type Group = { readonly [key: string]: Json };
const group = (value: Json | undefined): Group =>
  typeof value === 'object' && value !== null && !Array.isArray(value) ? value : {};
const list = (value: Json | undefined): readonly Json[] => (Array.isArray(value) ? value : []);

/**
 * The builds of a release against every kind of machine, as lines of text. Builds have numbers, since their ids have no
 * room over a column. Empty when the report holds no such table.
 */
export function buildTable({ facts }: Pick<Report, 'facts'>, width: number): string[] {
  const rows = list(group(facts.releaseFolder).matrix).map(group);
  if (rows.length === 0) return [];
  const builds = list(group(facts.board).builds).map((build) => String(group(build).id));
  const out = builds.map((id, index) => `  ${index + 1} = ${id}`);
  const most = Math.max(1, Math.floor((width - 2 - leastMachine) / column));
  for (let first = 0; first < builds.length; first += most) {
    const shown = builds.slice(first, first + most).map((_, index) => first + index);
    const machineWidth = width - shown.length * column;
    const cells = (texts: readonly string[]): string => texts.map((text) => text.padStart(column)).join('');
    out.push('', `  ${'Machine'.padEnd(machineWidth - 2)}${cells(shown.map((index) => String(index + 1)))}`);
    for (const row of rows) {
      const fits = list(row.fits);
      const supply = typeof row.supply === 'string' ? `, ${row.supply}` : '';
      const lines = wrap(`${row.machine}${supply}`, machineWidth, '  ', '    ');
      const words = shown.map((index) => shortWords[String(fits[index])] ?? '?');
      out.push(`${(lines[0] ?? '').padEnd(machineWidth)}${cells(words)}`, ...lines.slice(1));
    }
  }
  const used = new Set(rows.flatMap((row) => list(row.fits).map(String)));
  out.push('');
  for (const [fit, meaning] of Object.entries(meanings))
    if (used.has(fit)) out.push(`  ${(shortWords[fit] ?? '').padEnd(column)}${meaning}`);
  const total = group(facts.releaseFolder).matrixTotal;
  if (typeof total === 'number' && total > rows.length)
    out.push(`  and ${total - rows.length} more machines, all of which were tried.`);
  return out;
}
