import { releaseNumbering } from '../board/check.js';
import type { Profile } from '../board/profile.js';
import { compareValues, inRange, valueProblem } from '../board/ranges.js';
import { joined } from '../board/validate.js';
import type { Capture } from '../machine/capture.js';
import { compareSettings, linesToEnter } from '../machine/compare-settings.js';
import type { MachineRecord } from '../machine/record.js';
import { type Measured, stepsFrom } from '../machine/steps.js';
import { storedSettings } from '../machine/stored-settings.js';
import type { Confirmation } from '../report/confirmation.js';
import { cautionTexts } from './choice-report.js';
import { identityOf, type Lack, settingsLacks } from './make-record.js';

/** What was recorded before a flash, and what the machine says after it. */
export interface ConfirmSubject {
  readonly profile: Profile;
  readonly record: MachineRecord;
  readonly capture: Capture;
  /** The release that was meant; null: nobody said. */
  readonly meant: string | null;
  readonly measured: readonly Measured[];
  readonly version: string;
  readonly inputs: Confirmation['inputs'];
}

/** The line by which such machines save their settings: common practice, no published standard. */
const saveLine = 'M500';

/** Holds a machine after a flash against what was meant and against its record. */
export function confirmFlash(subject: ConfirmSubject): Confirmation {
  const { profile, record, capture, meant, measured } = subject;
  const identity = identityOf(capture, profile);
  const stored = storedSettings(capture);
  const before = releaseBefore(record);
  const now = identity.release;
  const lacks: Pick<Lack, 'text' | 'settle'>[] = [...identity.lacks, ...settingsLacks(stored)];
  if (meant === null)
    lacks.push({
      text: 'Which release was meant was not told.',
      settle: 'Say it: --release RELEASE, or name the release folder with --board.',
    });
  if (record.settings.length === 0)
    lacks.push({
      text: 'The record holds no settings, so there is nothing to compare with.',
      settle: 'What was not written down before the flash cannot be brought back; set the machine up anew.',
    });
  const tolerance =
    typeof profile.settings.stepsTolerance === 'number' ? profile.settings.stepsTolerance : null;
  const settings = stored.state === 'known' ? compareSettings(record.settings, stored.settings, profile) : [];
  const isTaken = now !== null && meant !== null && isSame(profile, now, meant);
  const isWrong = identity.isThisBoard === false || (now !== null && meant !== null && !isTaken);
  // With another program in the machine the old numbers may mean something else.
  const lines = isWrong || !isTaken || stored.isCut ? [] : linesToEnter(settings);
  const steps = measured.map((one) => stepsFrom(one, stored.settings, tolerance));
  const stepsLines = steps.flatMap(({ line }) => (line === null ? [] : [line]));
  const differs = isWrong || settings.some(({ word, state }) => word === 'carries-over' && isOpen(state));
  const outcome = differs ? 'differs' : lacks.length > 0 ? 'cannot-tell' : 'as-meant';
  return {
    schema: 'flashworthy-confirmation/1',
    tool: { name: 'flashworthy', version: subject.version },
    board: { id: profile.id, title: profile.title, revision: profile.revision },
    inputs: subject.inputs,
    outcome,
    text: textOf(subject, identity.board, identity.isThisBoard, before, now, lines.length),
    release: { meant, before, now },
    lacks: lacks.map(({ text, settle }) => ({ text, settle })),
    settings,
    remarks: settings.length === 0 ? [] : remarksOf(profile, before, now, settings),
    lines: lines.length === 0 ? [] : [...lines, saveLine],
    steps,
    stepsLines: stepsLines.length === 0 ? [] : [...stepsLines, saveLine],
    stepsTolerance: tolerance,
    cautions: cautionTexts(profile),
  };
}

const isOpen = (state: Confirmation['settings'][number]['state']): boolean =>
  state !== 'same' && state !== 'new';

/** The release of the record: what ran when it was made. */
function releaseBefore({ options }: MachineRecord): string | null {
  const { installed, was } = options;
  if (installed === undefined) return null;
  return installed.toLowerCase() === 'none' ? (was ?? null) : installed;
}

function isSame(profile: Profile, one: string, other: string): boolean {
  const numbering = releaseNumbering(profile);
  const areReleases = [one, other].every((release) => valueProblem(release, numbering) === undefined);
  return areReleases ? compareValues(one, other, numbering) === 0 : one === other;
}

function textOf(
  { profile, meant }: ConfirmSubject,
  board: string | null,
  isThisBoard: boolean | null,
  before: string | null,
  now: string | null,
  lines: number,
): string {
  if (isThisBoard === false)
    return `The machine calls its board ${board}, and this profile is for ${profile.id}: a program for another board runs, or this is the capture of another machine. Switch the machine off until that is clear.`;
  if (now === null) return 'What runs now cannot be told from this capture.';
  if (meant === null) return `Release ${now} runs now; which one was meant was not told.`;
  if (isSame(profile, now, meant))
    return `Release ${now} runs, as it was meant.${lines > 0 ? ' Some settings are not as they were.' : ''}`;
  if (before !== null && isSame(profile, now, before))
    return `Release ${now} runs, as before: the flash did not take. Nothing is lost. Check the card again, put it in with the power off, and watch what the machine shows.`;
  return `Release ${now} runs, and ${meant} was meant${before === null ? '' : `; before it was ${before}`}. Flash again with a card that was checked.`;
}

function remarksOf(
  profile: Profile,
  before: string | null,
  now: string | null,
  settings: Confirmation['settings'],
): string[] {
  const { layouts, renamed, dropped } = profile.settings;
  const remarks: string[] = [];
  const layoutOf = (release: string | null): string | null => {
    if (release === null || !Array.isArray(layouts)) return null;
    const numbering = releaseNumbering(profile);
    if (valueProblem(release, numbering) !== undefined) return null;
    return layouts.find(({ releases }) => inRange(release, releases, numbering))?.id ?? null;
  };
  const [from, to] = [layoutOf(before), layoutOf(now)];
  if (from !== null && to !== null && from !== to)
    remarks.push(
      `Release ${now} keeps its settings in another layout (${to}) than release ${before} (${from}). It cannot read the old ones, so that it began with those of its program.`,
    );
  const present = new Set(settings.map(({ key }) => key.split(' ')[0]));
  if (renamed !== undefined && renamed !== 'any')
    for (const [old, name] of Object.entries(renamed))
      if (present.has(old)) remarks.push(`${old} is called ${name} in the new release.`);
  const gone = Array.isArray(dropped) ? dropped.filter((word) => present.has(word)) : [];
  if (gone.length > 0)
    remarks.push(
      `${joined(gone, 'and')} ${gone.length === 1 ? 'is' : 'are'} not used by the new release any more: leave ${gone.length === 1 ? 'it' : 'them'} out.`,
    );
  const unsaid = [
    ...new Set(
      settings.flatMap(({ key, word, state }) =>
        word === 'not-said' && isOpen(state) ? [key.split(' ')[0] ?? ''] : [],
      ),
    ),
  ];
  if (unsaid.length > 0)
    remarks.push(
      `${joined(unsaid, 'and')}: the maker has not said that ${unsaid.length === 1 ? 'this carries' : 'these carry'} over. The new numbers may be better ones for the new program; do not enter the old ones unless you know why.`,
    );
  return remarks;
}
