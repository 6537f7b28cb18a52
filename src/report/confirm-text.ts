import { decimalText } from '../machine/decimal.js';
import type { Confirmation } from './confirmation.js';
import { type LineOptions, Lines } from './lines.js';

const headlines = {
  'as-meant': 'AS MEANT: the flash took.',
  differs: 'NOT AS MEANT.',
  'cannot-tell': 'CANNOT TELL.',
} as const;

/** What came of a flash, for the owner: the answer, the settings in one table, and what to type. */
export function confirmText(report: Confirmation, options: LineOptions): string {
  const lines = new Lines(options);
  const { green, yellow, red } = lines.paint;
  const { outcome, text, board, release, lacks, settings, remarks } = report;
  const isOnlySettings = outcome === 'differs' && release.now !== null && release.now === release.meant;
  const color = outcome === 'as-meant' ? green : outcome === 'differs' && !isOnlySettings ? red : yellow;
  lines.headline(
    isOnlySettings ? 'THE FLASH TOOK. Some settings are to be entered again.' : headlines[outcome],
    color,
  );
  lines.add(text);
  lines.blank();
  lines.entry('Board', `${board.title} (profile ${board.id}, revision ${board.revision})`);
  lines.entry('Meant', release.meant ?? 'not told');
  lines.entry('Before', release.before ?? 'not known');
  lines.entry('Now', release.now ?? 'not known');
  if (lacks.length > 0) lines.section('What is missing');
  for (const [at, lack] of lacks.entries()) {
    lines.add(lack.text, `  ${at + 1}. `);
    lines.add(lack.settle, '     ');
  }
  if (settings.length > 0) table(lines, settings);
  if (remarks.length > 0) lines.section('What to know about these settings');
  for (const remark of remarks) lines.item(remark);
  toEnter(lines, report);
  stepsPart(lines, report);
  if (report.cautions.length > 0) lines.section('Mind');
  for (const caution of report.cautions) lines.item(caution);
  return lines.text();
}

const stateWords = {
  same: 'same',
  differs: 'DIFFERS',
  gone: 'gone',
  new: 'new',
  'other-unit': 'other units',
} as const;

const wordWords = {
  'carries-over': 'carries over',
  dropped: 'dropped',
  'not-said': 'maker has not said',
} as const;

function table(lines: Lines, settings: Confirmation['settings']): void {
  lines.section('Settings before and after');
  const number = (value: number | null): string => (value === null ? '-' : decimalText(value));
  const signed = (value: number | null): string =>
    value === null || value === 0 ? '' : `${value > 0 ? '+' : ''}${decimalText(value)}`;
  const rows = settings.map(({ key, before, after, difference, unit, state, word, renamedTo }) => [
    renamedTo === null ? key : `${key} -> ${renamedTo}`,
    number(before),
    number(after),
    signed(difference),
    unit ?? '',
    state === 'same' || state === 'new' ? stateWords[state] : `${stateWords[state]}, ${wordWords[word]}`,
  ]);
  const heads = ['', 'before', 'after', 'change', 'unit', ''];
  const widths = heads.map((head, at) =>
    Math.max(head.length, ...rows.map((row) => [...(row[at] ?? '')].length)),
  );
  for (const row of [heads, ...rows]) {
    const cells = row.map((cell, at) =>
      at >= 1 && at <= 3 ? cell.padStart(widths[at] ?? 0) : cell.padEnd(widths[at] ?? 0),
    );
    lines.literal(`  ${cells.join('  ')}`.trimEnd());
  }
}

function toEnter(lines: Lines, { lines: enter }: Confirmation): void {
  if (enter.length === 0) return;
  lines.section('Enter these lines again: the maker says that they carry over');
  for (const line of enter) lines.command(line);
  lines.blank();
  lines.add(`The last line (${enter.at(-1)}) saves. Then make a new capture and confirm once more.`);
}

function stepsPart(lines: Lines, { steps, stepsLines, stepsTolerance }: Confirmation): void {
  if (steps.length === 0) return;
  lines.section('Steps per unit, by what was measured (a calculation of its own)');
  for (const { axis, old, commanded, measured, result, off, isInside } of steps) {
    const share = `${off >= 0 ? '+' : ''}${(off * 100).toFixed(2)} %`;
    if (old === null || result === null) {
      lines.item(`${axis}: the capture does not say how many steps it has now (M92 ${axis}).`);
      continue;
    }
    lines.item(
      `${axis}: ${decimalText(old)} × ${decimalText(commanded)} ÷ ${decimalText(measured)} = ${result.toFixed(2)} (it was off by ${share})`,
    );
    if (isInside === false)
      lines.add(
        `That is more than the ${decimalText((stepsTolerance ?? 0) * 100)} % that this machine may be off. Measure again before you enter anything: a belt, a pulley or the measuring is wrong, and another number would only hide it.`,
        '    ',
      );
    if (isInside === null)
      lines.add(
        'The profile does not say how far this machine may be off. Such machines are seldom off by more than 2 % (common practice, no published source): measure twice before you enter anything.',
        '    ',
      );
  }
  if (stepsLines.length === 0) return;
  lines.blank();
  for (const line of stepsLines) lines.command(line);
}
