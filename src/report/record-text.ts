import { type LineOptions, Lines } from './lines.js';
import type { RecordNotes } from './record.js';
import { sentence } from './wrap.js';

/** For people: whether the record is whole, what it lacks, and how to get what is missing. */
export function recordText(notes: RecordNotes, options: LineOptions): string {
  const lines = new Lines(options);
  const { green, yellow } = lines.paint;
  const { board, release, supply, settings, lacks, questions, send, remarks, cautions, next } = notes;
  if (lacks.length + questions.length === 0) lines.headline('THE RECORD OF THIS MACHINE IS WHOLE.', green);
  else lines.headline('THE RECORD OF THIS MACHINE LACKS SOMETHING: do not flash yet.', yellow);
  lines.blank();
  lines.entry('Board', `${board.title} (profile ${board.id}, revision ${board.revision})`);
  lines.entry(
    'Release',
    release === null
      ? 'not known'
      : `${release.text} (${release.by === 'machine' ? 'the machine says so' : 'you said so'})`,
  );
  lines.entry('Supply', supply ?? 'not known');
  lines.entry(
    'Settings',
    settings.count === 0
      ? 'none recorded'
      : `${settings.count} numbers${settings.line === null ? '' : `, from line ${settings.line} of the capture on`}`,
  );
  if (lacks.length + questions.length > 0) {
    lines.section('What is missing');
    for (const text of lacks) lines.item(sentence(text));
    for (const { ask, help, option } of questions) {
      lines.item(ask);
      if (help !== undefined) lines.add(help, '    ');
      lines.add(option, '    Say it with: ');
    }
  }
  if (send.length > 0) {
    lines.section('Send these lines to the machine, and capture all that it answers');
    for (const { line, does } of send) lines.add(does, `    ${line.padEnd(6)}`);
    lines.add(
      'Wait for the ok behind each. These are the usual words; the manual of the machine says whether it has others.',
      '  ',
    );
  }
  if (remarks.length + cautions.length > 0) {
    lines.section('Mind');
    for (const text of [...remarks, ...cautions]) lines.item(sentence(text));
  }
  lines.section('Next');
  lines.add(next.text, '  ');
  lines.command(next.command);
  return lines.text();
}
