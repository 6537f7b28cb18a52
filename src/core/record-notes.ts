import type { Manifest } from '../board/manifest.js';
import type { Profile } from '../board/profile.js';
import type { Capture } from '../machine/capture.js';
import type { Machine } from '../machine/machine.js';
import type { RecordedCapture } from '../machine/record-capture.js';
import type { RecordNotes } from '../report/record.js';
import { dangersOf, openQuestions } from './choice-report.js';

/** The lines that a machine is asked with. Usual words of such controllers, common practice, no published standard. */
const words = {
  identity: { line: 'M115', does: 'asks the machine what it is' },
  save: { line: 'M500', does: 'makes it save the settings that it has now' },
  settings: { line: 'M503', does: 'makes it print its settings' },
} as const;

/** The commands that may come next, as they are typed. */
export interface RecordCommands {
  readonly choose: string;
  /** The same `record` command on a new capture. */
  readonly again: string;
}

/** What to tell about a record that was made. */
export function recordNotes(
  { record, lacks, settingsLine, isReleaseRead }: RecordedCapture,
  capture: Capture,
  profile: Profile,
  machine: Machine,
  manifest: Manifest | null,
  commands: RecordCommands,
): RecordNotes {
  const has = (...kinds: (typeof lacks)[number]['what'][]): boolean =>
    lacks.some(({ what }) => kinds.includes(what));
  const isUnsaved = has('unsaved');
  const questions = openQuestions(profile, machine, manifest).filter(
    ({ axis }) => axis !== 'supply' && !(axis === 'installed' && has('identity', 'release')),
  );
  const { installed, nothingInstalled, was, supply, supplyUnsure } = machine;
  // Nobody answers on a machine on which nothing runs.
  const isAsking = has('identity', 'settings', 'cut-off', 'damaged', 'unsaved') && !nothingInstalled;
  // A new capture takes the place of the old one, so it is asked for whole.
  const send = isAsking
    ? [
        ...(profile.identity === 'any' ? [] : [words.identity]),
        ...(isUnsaved ? [words.save] : []),
        words.settings,
      ]
    : [];
  const isWhole = lacks.length + questions.length === 0;
  return {
    board: { id: profile.id, title: profile.title, revision: profile.revision },
    release: nothingInstalled
      ? { text: was === undefined ? 'nothing runs now' : `nothing runs now; ${was} ran last`, by: 'owner' }
      : installed === undefined
        ? null
        : { text: installed, by: isReleaseRead ? 'machine' : 'owner' },
    supply: supply
      ? `${supply.volts} V, ${supply.amps} A (you said so)`
      : supplyUnsure
        ? 'not known: you are not sure'
        : null,
    settings: { count: record.settings.length, line: record.settings.length === 0 ? null : settingsLine },
    lacks: lacks.map(({ text }) => text),
    questions: questions.map(({ ask, help, option }) => ({
      ask,
      ...(help === undefined ? {} : { help }),
      option,
    })),
    send,
    remarks: [
      ...(isUnsaved
        ? [
            `${words.save.line} keeps what the machine has now, whoever changed it; M501 goes back to what was saved before. Decide which of the two you want.`,
          ]
        : []),
      ...refusals(capture),
    ],
    cautions: dangersOf(profile),
    next: isWhole
      ? {
          text: `Choose the build for this machine${/ (RELEASE|RECORD)( |$)/.test(commands.choose) ? ', with the release folder for RELEASE and this record for RECORD' : ''}:`,
          command: commands.choose,
        }
      : {
          text:
            send.length > 0
              ? 'Put what the machine answers into a file, and make the record again:'
              : 'Find out what is missing, and make the record again:',
          command: commands.again,
        },
  };
}

/** Answers that are errors: something was not obeyed. */
function refusals({ happenings }: Capture): string[] {
  const most = 5;
  const all = happenings.flatMap((one) =>
    one.kind === 'refused' ? [`line ${one.line}: the machine answered "${one.text.slice(0, 100)}"`] : [],
  );
  return all.length > most ? [...all.slice(0, most), `and ${all.length - most} more such answers`] : all;
}
