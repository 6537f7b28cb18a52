import { sizeText } from '../bytes/size-text.js';
import { questionLines } from './choose-text.js';
import { guideOf } from './guide.js';
import { Lines } from './lines.js';
import type { PreparationReport, PreparedCard } from './preparation.js';
import type { RemedyText } from './report.js';
import type { ReportOptions } from './reporters.js';
import { textReport } from './text.js';
import { reflow } from './wrap.js';

/** A preparation for people: what was written and what to do with it, or why nothing was. */
export function preparationText(report: PreparationReport, options: ReportOptions): string {
  const lines = new Lines(options);
  head(lines, report);
  const { check, outcome } = report;
  questionLines(lines, report.questions);
  if (outcome === 'written') written(lines, report, options);
  // What is wrong with a card, and how to mend it, is said by its check.
  const checked =
    check === null || outcome === 'written'
      ? ''
      : `\n${report.written ? 'THE CHECK OF WHAT WAS WRITTEN' : 'THE CHECK OF WHAT WOULD HAVE BEEN WRITTEN'}\n\n${textReport(check, options)}`;
  return `${lines.text()}${checked}`;
}

function head(lines: Lines, report: PreparationReport): void {
  const { outcome, target, card, check, board, release, stated, build, files } = report;
  const { green, yellow, red } = lines.paint;
  const noCard = check?.target.kind === 'staging';
  if (outcome === 'written')
    lines.headline(
      target.kind === 'image'
        ? 'CARD IMAGE WRITTEN AND CHECKED: FIT TO FLASH'
        : noCard
          ? 'FILES COPIED. FILES FIT, NO CARD CHECKED'
          : 'CARD WRITTEN AND CHECKED: FIT TO FLASH',
      green,
    );
  else if (report.written)
    lines.headline('WRITTEN, BUT DO NOT FLASH FROM IT.', outcome === 'refused' ? red : yellow);
  else lines.headline('NOTHING WAS WRITTEN.', outcome === 'refused' ? red : yellow);
  lines.add(report.text);
  lines.blank();
  lines.entry(
    target.kind === 'image' ? 'Image' : 'Folder',
    card === null ? target.path : `${target.path} (${sizeText(card.bytes)})`,
  );
  lines.entry('Board', `${board.title} (profile ${board.id}, revision ${board.revision})`);
  lines.entry('Release', release ?? 'not known: there is no release manifest');
  if (build !== null) lines.entry('Build', build);
  lines.entry(
    'You said',
    stated.length === 0 ? 'nothing about the machine' : stated.map((one) => one.text).join('; '),
  );
  if (card !== null) lines.entry('Card', cardWords(card));
  if (outcome !== 'written' && files.length === 0) return;
  lines.section(report.written ? 'What lies on it, in this order' : 'What would have been on it');
  for (const [at, { to, from, bytes, title }] of files.entries())
    lines.add(`${to} (${title}; ${sizeText(bytes)}, copied from ${from})`, `  ${at + 1}. `);
}

function cardWords(card: PreparedCard): string {
  const { partition, partitionTable, fileSystem, clusterBytes, startByte, volumeBytes, label } = card;
  const place =
    partition === null || partitionTable === 'none'
      ? 'no partition table'
      : `partition table (MBR), partition ${partition.index} from ${sizeText(startByte)} on`;
  const name = label === null ? '' : `, label ${label}`;
  return `${place}; ${fileSystem}, ${sizeText(volumeBytes)}, clusters of ${sizeText(clusterBytes)}${name}`;
}

function written(lines: Lines, report: PreparationReport, options: ReportOptions): void {
  const { check, steps, next, cautions, target } = report;
  if (check !== null && check.provided.length > 0) {
    lines.section(
      check.target.kind === 'staging' ? 'These files are fit, provided that:' : 'Fit, provided that:',
    );
    for (const { text } of check.provided) lines.item(reflow(text));
  }
  if (steps.length > 0) {
    lines.section('How to bring it onto a card');
    for (const step of steps.filter(
      ({ system }) => !options.system || system === 'any' || system === options.system,
    ))
      stepLines(lines, step);
    lines.add('On a larger card the rest stays unused, which does no harm.', '  ');
  }
  for (const { does, command } of next) {
    lines.section(does);
    lines.command(command);
  }
  if (cautions.length > 0) {
    lines.section('Mind');
    for (const text of cautions) lines.item(text);
  }
  const guide = check === null ? null : guideOf(check);
  if (guide === null) return;
  if (guide.steps.length > 0) {
    lines.section(target.kind === 'image' ? 'Then, at the machine' : 'At the machine');
    for (const [at, step] of guide.steps.entries()) lines.add(step, `  ${at + 1}. `);
  }
  if (guide.signs.length > 0) {
    lines.section('What you will see');
    for (const { after, sees, means } of guide.signs) lines.item(`${after}: ${sees} - ${means}`);
  }
  if (guide.wayBack !== null) {
    lines.section('If it fails');
    lines.add(guide.wayBack, '  ');
  }
}

const systemWords = { windows: 'Windows', macos: 'macOS', linux: 'Linux', any: 'Any computer' } as const;

function stepLines(lines: Lines, { system, rights, erases, do: text }: RemedyText): void {
  const who = rights === 'administrator' ? 'as an administrator' : 'without administrator rights';
  lines.add(`${systemWords[system]}, ${who}:`, '  ');
  if (erases) lines.add('THIS ERASES THE CARD.', '  ', lines.paint.red.bold);
  lines.add(text, '    ');
}
