import { sizeText } from '../bytes/size-text.js';
import { hex } from '../firmware/problem.js';
import type { FirstFetch } from '../rehearsal/first-fetch.js';
import type { Step, StepFinding, StepOutcome } from '../rehearsal/step.js';
import { hazardText } from './hazard-words.js';
import { type LineOptions, Lines } from './lines.js';
import { memoryText } from './memory-text.js';
import type { RehearsalReport } from './rehearsal.js';
import { statedText } from './target-words.js';

/** The rehearsal for people: how it ends, then every step, the memory afterwards, and what to do at the machine. */
export function rehearseText(report: RehearsalReport, options: LineOptions): string {
  const lines = new Lines(options);
  head(lines, report);
  steps(lines, report);
  power(lines, report);
  memory(lines, report);
  driver(lines, report);
  machine(lines, report);
  lines.section('Next');
  lines.add(report.next.text, '  ');
  if (report.next.command !== null) lines.command(report.next.command);
  return lines.text();
}

function head(lines: Lines, report: RehearsalReport): void {
  const { green, yellow, red } = lines.paint;
  const { answer, check, target, board, stated, steps: all, allShown } = report;
  const isRefused = check.verdict === 'refused';
  const dead = all.find(({ outcome }) => outcome === 'dead');
  if (answer === 'does-not')
    lines.headline(
      dead
        ? `THE MACHINE ${dead.program === 'old-or-erased' ? 'MIGHT' : 'WOULD'} NOT START ANY MORE: do not flash from this card.`
        : 'THE BOOT LOADER WOULD NOT TAKE THIS CARD: nothing would be flashed.',
      red,
    );
  else if (answer === 'cannot-tell')
    lines.headline(
      isRefused
        ? 'CANNOT TELL WHETHER IT STARTS, and the check refuses it: do not flash.'
        : target.kind === 'staging'
          ? 'CANNOT TELL WHETHER IT STARTS: there is no card to rehearse yet.'
          : 'CANNOT TELL WHETHER IT STARTS: do not flash from this card yet.',
      isRefused ? red : yellow,
    );
  else if (isRefused) lines.headline('IT WOULD START, BUT THE CHECK REFUSES IT: do not flash.', red);
  else if (check.verdict === 'not-proven')
    lines.headline('IT WOULD START, BUT THE CHECK IS NOT PROVEN: do not flash yet.', yellow);
  else
    lines.headline(
      allShown ? 'THE NEW PROGRAM STARTS.' : 'NOTHING STOPS THE FLASH; not every step could be looked into.',
      green,
    );
  checkLines(lines, report);
  lines.blank();
  lines.entry('Card', target.path);
  lines.entry('Board', `${board.title} (profile ${board.id}, revision ${board.revision})`);
  for (const each of stated) lines.entry('You said', statedText(each));
  lines.add('Only on this computer: nothing was written, to no card and to no machine.');
}

const verdictWords = { fit: 'FIT TO FLASH', refused: 'REFUSED', 'not-proven': 'NOT PROVEN' } as const;

/** What the rules say: a program that starts may still be the wrong one. */
function checkLines(lines: Lines, { check, answer, driver: second, target }: RehearsalReport): void {
  const { verdict, hazard, failed } = check;
  lines.add(
    `The check of ${target.kind === 'staging' ? 'these files' : 'this card'} says: ${verdictWords[verdict]}.${verdict === 'refused' && hazard !== null ? ` ${hazardText(hazard)}` : ''}`,
  );
  for (const { rule, title } of failed.slice(0, 5)) lines.item(`${title} [${rule}]`);
  if (failed.length > 5) lines.item(`and ${failed.length - 5} more`);
  if (second?.agrees === false)
    lines.add(`A second reader, the driver ${second.driver}, reads this card otherwise: see below.`);
  if (verdict === 'fit' && answer === 'does-not')
    lines.add('The two do not agree. Do not flash, and tell those who publish this board profile.');
}

const orderWords = {
  'before-reading': 'This loader erases the old program before it has looked at the file.',
  'after-checks': 'This loader reads and checks the whole file before it erases the old program.',
  'never-blank': 'This loader keeps the old program until the new one is whole.',
} as const;

const outcomeWords: Readonly<Record<StepOutcome, string>> = {
  done: 'done',
  stops: 'STOPS HERE',
  dead: 'FAILS HERE, with no program left that starts',
  unknown: 'NOT KNOWN',
  repeats: 'DONE, BUT AGAIN AND AGAIN',
  'not-shown': 'cannot be looked into',
  'not-reached': 'not reached',
};

function steps(lines: Lines, { steps: all, erases, pointOfNoReturn }: RehearsalReport): void {
  lines.section('What the boot loader does, step by step');
  lines.add(
    erases === null
      ? 'When this loader erases is not known. Here it erases first, which is the worst.'
      : orderWords[erases],
    '  ',
  );
  for (const [at, step] of all.entries()) {
    if (step.id === pointOfNoReturn) {
      lines.blank();
      lines.add(
        '---- POINT OF NO RETURN: until the flash is complete there is no program ----',
        '  ',
        lines.paint.bold,
      );
    }
    if (step.outcome !== 'not-reached' || all[at - 1]?.outcome !== 'not-reached') lines.blank();
    oneStep(lines, step, at + 1);
    // What is the same for several steps is said once, after the last of them.
    if (all[at + 1]?.ifItStops !== step.ifItStops || isFailed(step)) ifItStops(lines, all, at);
  }
}

const isFailed = ({ outcome }: Step): boolean =>
  outcome === 'stops' || outcome === 'dead' || outcome === 'repeats';

function ifItStops(lines: Lines, all: readonly Step[], last: number): void {
  const step = all[last]!;
  if (step.ifItStops === '') return;
  if (isFailed(step)) {
    lines.add(step.ifItStops, '     Then: ', undefined, ' '.repeat(7));
    return;
  }
  let first = last;
  while (first > 0 && all[first - 1]!.ifItStops === step.ifItStops && !isFailed(all[first - 1]!)) first--;
  const where =
    first === last
      ? 'here'
      : first + 1 === last
        ? `in step ${first + 1} or ${last + 1}`
        : `in one of steps ${first + 1} to ${last + 1}`;
  lines.add(step.ifItStops, `     If it stops ${where}: `, undefined, ' '.repeat(7));
}

function oneStep(lines: Lines, step: Step, number: number): void {
  const { green, yellow, red } = lines.paint;
  const { title, outcome, findings, reads, writes } = step;
  const isBad = isFailed(step);
  const color = isBad ? red : outcome === 'unknown' ? yellow : outcome === 'not-reached' ? undefined : green;
  lines.add(`${title}: ${outcomeWords[outcome]}`, `  ${number}. `, color);
  for (const finding of findings) {
    lines.add(marked(finding, isBad), '     ');
    if (finding.settle) lines.add(finding.settle, '     To settle it: ', undefined, ' '.repeat(7));
  }
  for (const { what, start, bytes } of reads)
    lines.add(
      `${what}: ${sizeText(bytes)} at byte ${start} of the card`,
      '     Reads   ',
      undefined,
      ' '.repeat(13),
    );
  for (const { what, start, bytes } of writes)
    lines.add(
      `${hex(start)} to ${hex(start + bytes - 1)}: ${what}`,
      '     Writes  ',
      undefined,
      ' '.repeat(13),
    );
}

/** Where a step fails, what was all right so far must not be read as the fault. */
const marked = ({ answer, text }: StepFinding, isBad: boolean): string =>
  isBad && (answer === 'failed' || answer === 'repeats') ? `! ${text}` : text;

function power(lines: Lines, { power: time, guide, erases, answer }: RehearsalReport): void {
  // Whoever must not flash needs no advice on how.
  if (time === null || answer === 'does-not') return;
  lines.section('Keep the power on');
  const { bytes, seconds, keepOn, source } = time;
  lines.add(
    `Erasing and writing ${sizeText(bytes)} takes about ${seconds.from} to ${seconds.to} seconds (${source}).`,
    '  ',
  );
  const sign =
    guide !== null && guide.signs.length > 0 ? ' and until the machine shows that it has finished' : '';
  lines.add(
    `Touch neither power nor card for at least ${keepOn} seconds${sign}. If nothing happens for minutes, ${erases === 'never-blank' ? 'switch off: the old program is still there' : 'read "The way back" before you switch off'}.`,
    '  ',
  );
}

function memory(lines: Lines, { memory: regions, fetch, steps: all, erases }: RehearsalReport): void {
  if (regions === null) return;
  const isOver = all.some(({ outcome }) => outcome === 'stops' || outcome === 'dead');
  lines.section(
    isOver ? 'The memory of the board, as this card would leave it' : 'The memory of the board afterwards',
  );
  for (const line of memoryText(regions, fetch)) lines.literal(line);
  if (regions.some(({ kind }) => kind === 'rest'))
    lines.add('"Rest of the place" is erased, or left over from the old program.', '  ');
  if (erases === 'never-blank')
    lines.add('Where this loader keeps its other copy, the profile does not say.', '  ');
  if (fetch !== null) firstInstruction(lines, fetch);
}

function firstInstruction(lines: Lines, fetch: FirstFetch): void {
  const { vectorsAt, initialStack, resetVector, stackInRam, thumb, address, halfwords } = fetch;
  lines.section('The first instruction');
  lines.item(
    `${hex(vectorsAt)}: the stack begins at ${hex(initialStack)}, ${stackInRam ? 'in the working memory' : 'where there is NO working memory'}.`,
  );
  lines.item(
    `${hex(vectorsAt + 4)}: the reset vector is ${hex(resetVector)}; bit 0, which must be 1, is ${thumb ? '1' : '0'}.`,
  );
  lines.item(
    halfwords === null
      ? `${hex(address)}: nothing of the file stands there.`
      : `${hex(address)}: there stand ${halfwords.join(' ')} (two halfwords, not decoded).`,
  );
}

function driver(lines: Lines, { driver: opinion }: RehearsalReport): void {
  if (opinion === null) return;
  lines.section(`A second reader: the driver ${opinion.driver}, as this boot loader carries it`);
  const { red } = lines.paint;
  lines.add(opinion.text, '  ', opinion.agrees === false ? red : undefined);
}

/** What to do at the machine is worth reading only when the card may be put in; the way back, whenever something may fail. */
function machine(lines: Lines, { guide, provided, answer, check }: RehearsalReport): void {
  const isGood = answer === 'starts' && check.verdict === 'fit';
  if (provided.length > 0) {
    lines.section('Provided that');
    for (const { text } of provided) lines.item(text.replace(/\s*\n\s*/g, ' '));
  }
  if (guide === null) return;
  if (isGood && guide.steps.length > 0) {
    lines.section('At the machine');
    for (const [at, step] of guide.steps.entries()) lines.add(step, `  ${at + 1}. `);
  }
  if (guide.signs.length > 0) {
    lines.section(isGood ? 'What you will see' : 'What the machine shows when it flashes');
    for (const { after, sees, means } of guide.signs) lines.item(`${after}: ${sees} - ${means}`);
  }
  if (guide.wayBack !== null) {
    lines.section('The way back');
    lines.add(guide.wayBack, '  ');
  }
}
