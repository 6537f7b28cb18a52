import { processorFact } from '../facts/collect-program.js';
import type { FactStore } from '../facts/fact-store.js';
import type { DriverOpinion, OwnReading } from '../rehearsal/driver.js';
import { type Rehearsal, rehearse } from '../rehearsal/rehearse.js';
import { guideOf } from '../report/guide.js';
import type { RehearsalReport } from '../report/rehearsal.js';
import type { Report } from '../report/report.js';
import { type CheckOptions, judge } from './check.js';
import { collect, type Seen, type Subject } from './collect.js';

/** A card that was checked and rehearsed, from one and the same reading. */
export interface Rehearsed {
  readonly check: Report;
  readonly rehearsal: Rehearsal;
  readonly seen: Seen;
  readonly store: FactStore;
}

/** Checks a card and goes through the steps of its loader. Throws only for our own bugs. */
export function rehearseSubject(
  subject: Subject & { readonly profile: NonNullable<Subject['profile']> },
  options: CheckOptions,
): Rehearsed {
  const { store, seen } = collect(subject);
  const check = judge(store, subject, options);
  const { resolved, tree, file, decoded } = seen;
  if (resolved === null) throw new Error('a profile was given and none was resolved');
  const processor = processorFact(resolved, subject.processors ?? new Map());
  const rehearsal = rehearse({
    store,
    profile: subject.profile,
    resolved,
    processor: 'flash' in processor ? processor : null,
    tree,
    file,
    decoded,
    isCard: subject.target.kind !== 'staging',
    nothingInstalled: subject.machine?.nothingInstalled === true,
    waived: new Set(check.findings.filter(({ outcome }) => outcome === 'waived').map(({ rule }) => rule)),
  });
  // Two opinions of ours on one card: when one of them is that the machine would be lost, no third thing is true.
  const dead = rehearsal.steps.find(({ outcome }) => outcome === 'dead');
  if (dead && check.verdict === 'fit')
    throw new Error(
      `the check says that the card is fit, and the rehearsal that the machine would be lost: ${dead.id}: ${dead.findings.map(({ text }) => text).join(' ')}`,
    );
  return { check, rehearsal, seen, store };
}

/** What we read ourselves, for a second reader to be compared with. */
export function ownReading({ store, seen }: Rehearsed): OwnReading {
  return {
    bytes: seen.file?.entry.bytes ?? null,
    sha256: store.text('updateFile.sha256') ?? null,
    isDisputed: store.value('volume.widthDisputed') === true,
  };
}

/** The commands that may come next, as they are typed. */
export interface NextCommands {
  readonly check: string;
  readonly rehearse: string;
}

/** `flashworthy-rehearsal/1` of a card that was rehearsed. */
export function rehearsalReport(
  { check, rehearsal }: Rehearsed,
  driver: DriverOpinion | null,
  commands: NextCommands,
): RehearsalReport {
  const { schema: _schema, tool, target, board, inputs, stated, verdict, hazard, findings, provided } = check;
  if (board === null) throw new Error('a rehearsal without a board');
  const { erases, steps, pointOfNoReturn, power, memory, fetch } = rehearsal;
  // Whoever is right, a card that two readers read in two ways is not one to flash from.
  const answer = rehearsal.answer === 'starts' && driver?.agrees === false ? 'cannot-tell' : rehearsal.answer;
  const isGood = answer === 'starts' && verdict === 'fit';
  return {
    schema: 'flashworthy-rehearsal/1',
    tool,
    target,
    board,
    inputs,
    stated,
    answer,
    allShown: !steps.some(
      ({ outcome, findings: found }) =>
        outcome === 'not-shown' || found.some((finding) => finding.answer === 'not-shown'),
    ),
    check: {
      verdict,
      hazard,
      failed: findings
        .filter((finding) => finding.outcome === 'failed' && finding.hazard !== 'advice')
        .map((finding) => ({ rule: finding.rule, title: finding.title, hazard: finding.hazard })),
      unknown: check.counts.unknown,
    },
    erases,
    steps,
    pointOfNoReturn,
    power,
    memory,
    fetch,
    driver,
    provided: isGood ? provided : [],
    guide: guideOf(check),
    next: nextOf(check, isGood, commands),
  };
}

function nextOf(check: Report, isGood: boolean, commands: NextCommands): RehearsalReport['next'] {
  if (isGood)
    return {
      text: 'Eject the card properly, take it to the machine and do what stands above, in that order.',
      command: null,
    };
  if (check.target.kind === 'staging' && check.verdict === 'fit')
    return { text: 'Put these files on a card, and rehearse that card:', command: commands.rehearse };
  return {
    text:
      check.verdict === 'fit'
        ? 'Do not flash from this card: the check found nothing wrong with it, the rehearsal did. Tell those who publish this board profile. What the check says:'
        : check.verdict === 'refused'
          ? 'What is wrong, and how to mend it, step by step:'
          : 'What is still to be found out, and how:',
    command: commands.check,
  };
}
