import { decimalText } from '../machine/decimal.js';
import type { ConfirmationReport, ConfirmedSetting, SettingAdvice } from './confirmation.js';
import { type LineOptions, Lines } from './lines.js';
import { sentence } from './wrap.js';

/** The confirmation for people: how it came out, what differs and what to enter, then every setting. */
export function confirmText(report: ConfirmationReport, options: LineOptions): string {
  const lines = new Lines(options);
  const { green, yellow, red } = lines.paint;
  if (report.outcome === 'as-meant')
    lines.headline('AS MEANT: the flash took, and the settings are there.', green);
  else if (report.outcome === 'differs') lines.headline('NOT AS MEANT: something differs.', red);
  else lines.headline('CANNOT TELL whether all is as meant.', yellow);
  lines.add(sentence(report.text));
  lines.blank();
  const { board, checks, releaseBefore } = report;
  lines.entry('Profile', `${board.title} (profile ${board.id}, revision ${board.revision})`);
  lines.entry(
    'Before',
    releaseBefore === null ? 'the record does not say which release ran' : `release ${releaseBefore}`,
  );
  for (const { what, text } of checks) lines.entry(what === 'board' ? 'Board' : 'Release', text);
  if (checks.some(({ what, state }) => what === 'release' && state === 'as-meant'))
    lines.add('Which of its builds runs does not stand in the reply.', ' '.repeat(10));
  if (report.problems.length > 0) {
    lines.section('What could not be seen');
    for (const text of report.problems) lines.item(sentence(text));
  }
  settings(lines, report);
  entry(lines, report);
  steps(lines, report);
  if (report.cautions.length > 0) {
    lines.section('Mind');
    for (const text of report.cautions) lines.item(sentence(text));
  }
  lines.section('Next');
  lines.add(report.next.text, '  ');
  for (const line of report.next.send) lines.command(line);
  if (report.next.command !== null) lines.command(report.next.command);
  return lines.text();
}

/** Last column of the table. */
const adviceWords: Readonly<Record<SettingAdvice, string>> = {
  none: 'same',
  enter: 'ENTER AGAIN',
  'not-said': 'DIFFERS (*)',
  expected: 'expected',
  new: 'new',
  'not-seen': 'not seen',
  'other-unit': 'other unit',
};

const order: readonly SettingAdvice[] = [
  'enter',
  'not-said',
  'other-unit',
  'not-seen',
  'expected',
  'new',
  'none',
];

function settings(lines: Lines, { settings: all, layouts }: ConfirmationReport): void {
  if (all.length === 0) return;
  lines.section('Every setting, before and after');
  lines.add(sentence(layouts.text), '  ');
  const sorted = order.flatMap((advice) => all.filter((one) => one.advice === advice));
  const rows = [
    ['Setting', 'Before', 'After', 'Difference', 'Unit', ''],
    ...sorted.map((one) => [
      one.renamedTo === null ? one.key : `${one.key} > ${one.renamedTo}`,
      one.before === null ? '-' : decimalText(one.before),
      one.after === null ? '-' : decimalText(one.after),
      differenceText(one),
      one.unit ?? '',
      adviceWords[one.advice],
    ]),
  ];
  const widths = rows[0]!.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)));
  for (const row of rows)
    lines.literal(
      `  ${row.map((cell, column) => (column >= 1 && column <= 3 ? cell.padStart(widths[column]!) : cell.padEnd(widths[column]!))).join('  ')}`.trimEnd(),
    );
  legend(lines, sorted);
}

const differenceText = ({ comparison, difference }: ConfirmedSetting): string =>
  comparison === 'differs' && difference !== null
    ? `${difference > 0 ? '+' : ''}${decimalText(difference)}`
    : '';

/** What each mark says, once for each sentence, with the settings that it is about. */
function legend(lines: Lines, all: readonly ConfirmedSetting[]): void {
  const texts = new Map<string, Set<string>>();
  for (const { advice, text, word, renamedTo } of all) {
    if ((advice === 'none' && renamedTo === null) || advice === 'new') continue;
    const words = texts.get(text) ?? new Set();
    texts.set(text, words.add(word));
  }
  for (const [text, words] of texts) {
    const some = [...words].slice(0, 12);
    const mark = all.some((one) => one.text === text && one.advice === 'not-said') ? '(*) ' : '';
    lines.item(`${mark}${some.join(', ')}${words.size > some.length ? ' and others' : ''}: ${text}.`);
  }
}

function entry(lines: Lines, { lines: entries }: ConfirmationReport): void {
  if (entries.length === 0) return;
  lines.section('Lines that enter the old settings again, and save them');
  for (const line of entries) lines.command(line);
}

function steps(lines: Lines, { steps: all, stepsLines }: ConfirmationReport): void {
  if (all.length === 0) return;
  lines.section('Steps from a measured move (a calculation, not read from the machine)');
  for (const { axis, before, after, unit, commanded, measured, text } of all) {
    if (before !== null && after !== null)
      lines.item(
        `${axis}: ${decimalText(before)} x ${decimalText(commanded)} / ${decimalText(measured)} = ${decimalText(after)} ${unit ?? ''}`.trimEnd(),
      );
    lines.add(sentence(before === null ? `${axis}: ${text}` : text), before === null ? '  - ' : '    ');
  }
  if (stepsLines.length > 0) lines.add('Lines that enter what is inside the tolerance, and save it:', '  ');
  for (const line of stepsLines) lines.command(line);
}
