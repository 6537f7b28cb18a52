import type { NewRecord } from '../core/make-record.js';
import { type LineOptions, Lines } from './lines.js';

/** What a new record lacks, for its owner, and what comes next. */
export function recordNotes(
  { lacks, settings, record }: NewRecord,
  { title, next, cautions }: { title: string; next: string; cautions: readonly string[] },
  options: LineOptions,
): string {
  const lines = new Lines(options);
  const { green, yellow } = lines.paint;
  const isWhole = lacks.length === 0;
  lines.headline(isWhole ? 'RECORD WHOLE' : 'RECORD NOT WHOLE: do not flash yet.', isWhole ? green : yellow);
  lines.add(
    isWhole
      ? 'Everything that has to be known before a flash is written down.'
      : `${lacks.length === 1 ? 'One thing is' : `${lacks.length} things are`} missing; the rest was written down.`,
  );
  lines.blank();
  lines.entry('Board', title);
  lines.entry('Runs now', record?.options.installed ?? 'not known');
  lines.entry('Settings', settings === 0 ? 'none' : `${settings} numbers`);
  if (!isWhole) lines.section('What is missing');
  for (const [at, { text, settle }] of lacks.entries()) {
    lines.add(text, `  ${at + 1}. `);
    lines.add(settle, '     ');
  }
  if (!isWhole) {
    lines.blank();
    lines.add(
      'M115, M500, M501 and M503 are the usual words; if your machine has others, its manual counts.',
    );
  }
  if (cautions.length > 0) lines.section('Mind');
  for (const caution of cautions) lines.item(caution);
  lines.section(isWhole ? 'Next' : 'Next, when nothing is missing any more');
  lines.command(next);
  return lines.text();
}
