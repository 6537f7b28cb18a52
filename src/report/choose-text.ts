import type { Question } from '../board/choose.js';
import { sizeText } from '../bytes/size-text.js';
import type { CardFile, ChoiceBuild, ChoicePower, ChoiceReport, ReleaseFileState } from './choice.js';
import { type LineOptions, Lines } from './lines.js';
import { amps, heatingText, marginText, powerCaution, watts } from './power-words.js';
import { sentence } from './wrap.js';

/** The choice for people: the build and what to do with it first, then why, then why none of the others. */
export function choiceText(report: ChoiceReport, options: LineOptions): string {
  const lines = new Lines(options);
  head(lines, report);
  questionLines(lines, report.questions);
  card(lines, report.card);
  if (report.next !== null) {
    lines.section('Then check the card before it goes into the machine');
    lines.command(report.next);
  }
  builds(lines, report);
  if (report.power !== null) power(lines, report.power);
  if (report.cautions.length > 0) {
    lines.section('Mind');
    for (const text of report.cautions) lines.item(text);
  }
  return lines.text();
}

function head(
  lines: Lines,
  { outcome, text, build, board, release, stated, file, questions }: ChoiceReport,
): void {
  const { green, yellow, red } = lines.paint;
  if (outcome === 'one') lines.headline(`THE BUILD FOR THIS MACHINE: ${file?.path ?? build}`, green);
  else if (outcome === 'none') lines.headline('NO BUILD FOR THIS MACHINE: do not flash.', red);
  else if (outcome === 'open')
    lines.headline(
      questions.length === 1
        ? 'NOT DECIDED YET: a question is open.'
        : `NOT DECIDED YET: ${questions.length} questions are open.`,
      yellow,
    );
  else if (outcome === 'tie') lines.headline('NOT DECIDED: the release does not say which.', yellow);
  else lines.headline('NOTHING TO CHOOSE FROM', yellow);
  // The open questions follow by themselves.
  if (outcome !== 'open') lines.add(text);
  lines.blank();
  lines.entry('Board', `${board.title} (profile ${board.id}, revision ${board.revision})`);
  lines.entry('Release', release ?? 'not known: there is no release manifest');
  lines.entry('You said', stated.length === 0 ? 'nothing yet' : stated.map((one) => one.text).join('; '));
  if (file !== null) lines.entry('File', fileText(file));
  if (file?.sha256) lines.entry('SHA-256', file.sha256);
}

const stateWords: Readonly<Record<ReleaseFileState['state'], string>> = {
  published: 'as it was published',
  'not-compared': 'compared with nothing',
  differs: 'NOT as it was published',
  missing: 'NOT in the release folder',
};

const fileText = ({ path, state, bytes }: ReleaseFileState): string =>
  `${path} (${bytes === null ? '' : `${sizeText(bytes)}, `}${stateWords[state]})`;

/** The questions that only the owner can answer, and how to say the answers. */
export function questionLines(lines: Lines, open: readonly Question[]): void {
  if (open.length === 0) return;
  lines.section('What you have to find out first');
  for (const { ask, help, possible, option } of open) {
    lines.add(ask, '  - ');
    if (help !== undefined) lines.add(help, '    ');
    if (possible !== undefined)
      lines.add(
        possible.map(({ value, title }) => (title === undefined ? value : `${value} (${title})`)).join(', '),
        '    Answers: ',
        undefined,
        ' '.repeat(6),
      );
    lines.add(`${option}`, '    Say it with: ', undefined, ' '.repeat(6));
  }
}

function card(lines: Lines, files: readonly CardFile[]): void {
  if (files.length === 0) return;
  lines.section('What goes on the card');
  for (const [index, { title, from, to, note, role }] of files.entries()) {
    const what = from === null ? title : `copy ${from}`;
    const where = to === null ? '' : from === null ? `, on the card as ${to}` : ` to the card as ${to}`;
    const about = role === 'companion' && from !== null ? ` (${title})` : '';
    lines.add(`${what}${where}${about}`, `  ${index + 1}. `);
    if (note !== undefined) lines.add(sentence(note), '     ');
  }
}

const fitnessWords = {
  safe: 'safe, but not the one that is meant',
  unsafe: 'NOT SAFE for this machine',
  wrong: 'not for this machine',
  unknown: 'not known yet',
} as const;

function builds(lines: Lines, { builds: all, build }: ChoiceReport): void {
  const chosen = all.find(({ id }) => id === build);
  if (chosen !== undefined) {
    lines.section('Why this one');
    lines.add(sentence(`it ${chosen.text || `is for ${chosen.machines}`}`), '  ');
  }
  const others = all.filter(({ id }) => id !== build);
  if (others.length === 0) return;
  lines.section(chosen === undefined ? 'The builds of this release' : 'Why not the others');
  for (const other of others) {
    const fitness = other.preferred ? 'meant for this machine' : fitnessWords[other.fitness];
    lines.item(`${other.id} (${other.file}): ${fitness}`);
    lines.add(sentence(whyNot(other)), '    ');
  }
}

/** Of a build that waits for an answer, the answers that it waits for say enough. */
const whyNot = ({ fitness, text, machines }: ChoiceBuild): string =>
  `it ${fitness === 'unknown' || text === '' ? `is for ${machines}` : text}`.replace(
    /; (?=(?:is|needs|depends|replaces) )/g,
    '. It ',
  );

function power(lines: Lines, { rating, peak, sustained, derating, heating, notKnown }: ChoicePower): void {
  if (peak === null && heating.length === 0 && notKnown.length === 0) return;
  lines.section('What it draws (estimates from the board profile, not measured)');
  if (rating !== null) {
    const whose =
      rating.whose === 'fitted' ? 'The fitted supply gives' : 'The smallest supply of this board gives';
    lines.item(`${whose} ${watts(rating.watts)} (${rating.volts} V, ${rating.amps} A).`);
  }
  if (peak !== null) {
    const limited = peak.limitAmps === null ? '' : `; the program keeps it to ${peak.limitAmps} A`;
    lines.item(
      `All that may be on at once, cold: ${watts(peak.watts)} (${amps(peak.amps)})${limited}.${marginText(peak.marginWatts)}`,
    );
  }
  if (sustained !== null) {
    const share =
      sustained.ratingWatts === null || derating === null
        ? ''
        : ` Of a rating ${Math.round(derating * 100)} % is used all the time, here ${watts(sustained.ratingWatts)}.${marginText(sustained.marginWatts)}`;
    lines.item(`Hot, on average: ${watts(sustained.watts)} (${amps(sustained.amps)}).${share}`);
  }
  for (const each of heating) lines.item(heatingText(each));
  for (const text of notKnown) lines.item(sentence(text));
  lines.add(powerCaution, '  ');
}
