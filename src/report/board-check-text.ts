import type { BoardCheck } from './board-check.js';
import { type LineOptions, Lines } from './lines.js';

/** A profile's faults for its author: the answer, each with its place, then what the profile does not say. */
export function boardCheckText(report: BoardCheck, options: LineOptions): string {
  const lines = new Lines(options);
  const { green, red } = lines.paint;
  const { board, sound, problems, choice, silent, coverage } = report;
  lines.headline(
    sound ? 'SOUND: this board profile can be used' : 'NOT SOUND: mend this board profile',
    sound ? green : red,
  );
  if (board === null) lines.add('It cannot be read as it stands; nothing else was looked at.');
  lines.blank();
  if (board !== null)
    lines.entry('Board', `${board.title} (profile ${board.id}, revision ${board.revision})`);
  for (const { role, path } of report.inputs)
    lines.entry(role === 'board profile' ? 'Profile' : 'Release', path);
  if (choice !== null) lines.entry('Builds', choice);
  if (coverage !== null) lines.entry('Says', `something under ${coverage.said} of ${coverage.keys} keys`);
  const faults = problems.filter(({ level }) => level !== 'advice');
  for (const [title, list] of [
    ['What must be mended', faults],
    ['What would be better', problems.filter(({ level }) => level === 'advice')],
  ] as const) {
    if (list.length > 0) lines.section(title);
    for (const { file, line, column, text } of list) {
      lines.add(`${file}:${line}:${column}:`, '  ', undefined, '  ');
      lines.add(text, '      ');
    }
  }
  const others = silent.filter(({ core }) => !core);
  if (others.length > 0) {
    lines.section('What it does not say, and rules that judge nothing because of that');
    for (const { key, rules } of others) lines.item(rules.length === 0 ? key : `${key}: ${rules.join(', ')}`);
    lines.blank();
    lines.add('Write any under a key that does not matter on this board; leave out only what nobody knows.');
  }
  return lines.text();
}
