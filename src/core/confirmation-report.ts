import type { Profile } from '../board/profile.js';
import { collectMachine } from '../facts/collect-machine.js';
import { collectRelease } from '../facts/collect-release.js';
import { Unseen } from '../facts/fact.js';
import { FactStore } from '../facts/fact-store.js';
import type { Capture } from '../machine/capture.js';
import { type ComparedSetting, compareSettings, isInInches } from '../machine/compare-settings.js';
import { decimalText } from '../machine/decimal.js';
import type { Machine } from '../machine/machine.js';
import { identityKeys, isBoard, type MachineIdentity, machineIdentity } from '../machine/machine-identity.js';
import type { MachineRecord, RecordedSetting } from '../machine/record.js';
import { recordTroubles, settingsTroubles } from '../machine/record-capture.js';
import { type MeasuredMove, type StepsCalculation, stepsFor } from '../machine/steps.js';
import { storedSettings } from '../machine/stored-settings.js';
import type { ConfirmationReport, ConfirmedSetting, IdentityCheck } from '../report/confirmation.js';
import { dangersOf } from './choice-report.js';

/** A machine as it was recorded, and what it printed after the flash. */
export interface ConfirmationSubject {
  readonly profile: Profile;
  readonly record: MachineRecord;
  /** The machine of the record. */
  readonly machine: Machine;
  readonly capture: Capture;
  /** Release that was meant; null when nobody said it. */
  readonly meant: string | null;
  readonly moves: readonly MeasuredMove[];
  readonly version: string;
  readonly inputs: ConfirmationReport['inputs'];
  readonly commands: {
    /** The same command on a new capture. */
    readonly again: string;
    /** Goes through the steps of the loader over the card that was used. */
    readonly rehearse: string;
    /** Makes a new record of the machine. */
    readonly record: string;
  };
}

/** The line that saves. A usual word of such controllers, from the public reference of G-code words. */
const saveLine = 'M500';

/** Whether a flash came out as meant: board, release, and every setting before and after. */
export function confirmationReport(subject: ConfirmationSubject): ConfirmationReport {
  const { profile, record, machine, capture, meant, moves, version, inputs } = subject;
  const identity = machineIdentity(capture, profile);
  const checks = [boardCheck(identity, profile), releaseCheck(identity, profile, meant, machine)];
  const layouts = layoutsOf(profile, machine, identity.release ?? meant);
  const stored = storedSettings(capture);
  // What is not saved may be gone at the next start, so that it is no state to compare with.
  const after = stored.state === 'known' ? stored.settings : [];
  const troubles = settingsTroubles(capture);
  const earlier = recordTroubles(record);
  const isAny = profile.settings.carry === 'any';
  const problems = [
    ...identity.problems,
    ...(identity.line === null && profile.identity !== 'any'
      ? ['the capture holds no reply in which the machine says what it is']
      : []),
    ...(stored.state === 'none' && !isAny ? ['the capture holds no report of the settings'] : []),
    ...troubles.map(({ text }) => text),
    ...(record.settings.length === 0 && !isAny
      ? ['the record holds no settings, so there is nothing to compare with']
      : []),
    ...earlier.map(({ text }) => `when the record was made, ${text}`),
  ];
  const seen: Seen = {
    layoutChanges: layouts.changes,
    isAfterWhole: stored.state === 'known' && troubles.length === 0,
    isBeforeWhole: record.settings.length > 0 && earlier.length === 0,
  };
  const compared = compareSettings(record.settings, after, renamedWords(profile, layouts.changes));
  const settings = compared.map((one) => withAdvice(one, profile, seen));
  const [board, release] = checks as [IdentityCheck, IdentityCheck];
  const keys = identityKeys(profile);
  // Lines for another machine, or for a program that is not the one that was meant, would be a trap.
  const mayEnter =
    board.state !== 'differs' &&
    release.state !== 'differs' &&
    (keys.board === undefined || board.state === 'as-meant') &&
    (keys.release === undefined || release.state === 'as-meant');
  const lines = mayEnter ? entryLines(settings, record.settings) : [];
  const steps = moves.map((move) => explainedSteps(move, after, profile, mayEnter, lines.length > 0));
  const stepsLines = steps.flatMap(({ line }) => (line === null ? [] : [line]));
  const outcome = outcomeOf(checks, settings, problems);
  return {
    schema: 'flashworthy-confirmation/1',
    tool: { name: 'flashworthy', version },
    board: { id: profile.id, title: profile.title, revision: profile.revision },
    inputs,
    outcome,
    text: outcomeText(outcome, checks, settings, problems),
    releaseBefore: machine.installed ?? machine.was ?? null,
    checks,
    layouts,
    settings,
    problems,
    lines,
    steps,
    stepsLines: stepsLines.length === 0 ? [] : withSave(stepsLines, after),
    cautions: dangersOf(profile),
    next: nextOf(subject, checks, settings, {
      isWhole: problems.length === 0,
      isUnsaved: troubles.some(({ what }) => what === 'unsaved'),
      hasLines: lines.length > 0,
      hasSteps: stepsLines.length > 0,
    }),
  };
}

// ---- board and release --------------------------------------------------------------------------------------

function boardCheck({ board }: MachineIdentity, profile: Profile): IdentityCheck {
  const common = { what: 'board', meant: profile.id, found: board } as const;
  if (board === null)
    return {
      ...common,
      state: 'unknown',
      text:
        identityKeys(profile).board === undefined
          ? 'the board profile does not say how the board is read from the machine'
          : 'which board this is cannot be read from the capture',
    };
  return isBoard(board, profile)
    ? { ...common, state: 'as-meant', text: `the machine says that its board is ${board}, as meant` }
    : {
        ...common,
        state: 'differs',
        text: `the machine says that its board is ${board}, and ${profile.id} was meant`,
      };
}

function releaseCheck(
  { release }: MachineIdentity,
  profile: Profile,
  meant: string | null,
  machine: Machine,
): IdentityCheck {
  const common = { what: 'release', meant, found: release } as const;
  if (release === null)
    return {
      ...common,
      state: 'unknown',
      text:
        identityKeys(profile).release === undefined
          ? 'the board profile does not say how the release is read from the machine'
          : 'which release runs cannot be read from the capture',
    };
  if (meant === null)
    return {
      ...common,
      state: 'unknown',
      text: `the machine runs release ${release}; which one was meant was not said (--release)`,
    };
  if (release === meant)
    return { ...common, state: 'as-meant', text: `the machine runs release ${release}, as meant` };
  const before = machine.installed ?? machine.was;
  return {
    ...common,
    state: 'differs',
    text:
      release === before
        ? `release ${release} runs as before, and ${meant} was meant: the card was not taken`
        : `the machine runs release ${release}, and ${meant} was meant`,
  };
}

/** How the two releases store their settings, by the same facts as the check of a card. */
function layoutsOf(profile: Profile, machine: Machine, to: string | null): ConfirmationReport['layouts'] {
  const store = new FactStore();
  collectMachine(store, machine, profile);
  store.set('image.release', to ?? new Unseen('not-told', 'the release that was meant was not said'));
  collectRelease(store, profile, machine, null);
  const [before, after] = [store.text('release.layoutBefore'), store.text('release.layoutAfter')];
  const known = store.value('release.layoutChanges');
  const changes = typeof known === 'boolean' ? known : null;
  const from = machine.installed ?? machine.was;
  return {
    before: before ?? null,
    after: after ?? null,
    changes,
    text:
      changes === true
        ? `release ${to} stores its settings in another way than release ${from}, so an old number may mean something else now: enter again only what the maker has said carries over`
        : changes === false
          ? 'both releases store their settings in the same way'
          : 'whether the two releases store their settings in the same way is not known: enter again only what the maker has said carries over',
  };
}

// ---- settings -----------------------------------------------------------------------------------------------

interface Seen {
  readonly layoutChanges: boolean | null;
  readonly isAfterWhole: boolean;
  readonly isBeforeWhole: boolean;
}

/** Between two releases that store them alike nothing was renamed. */
function renamedWords({ settings }: Profile, changes: boolean | null): Readonly<Record<string, string>> {
  const { renamed } = settings;
  return changes === false || renamed === undefined || renamed === 'any' ? {} : renamed;
}

function withAdvice(one: ComparedSetting, { settings }: Profile, seen: Seen): ConfirmedSetting {
  const { carry, dropped } = settings;
  const { word, renamedTo, comparison } = one;
  const as = (advice: ConfirmedSetting['advice'], text: string): ConfirmedSetting => ({
    ...one,
    advice,
    text,
  });
  const called = renamedTo === null ? '' : `; it is called ${renamedTo} now`;
  switch (comparison) {
    case 'same':
      return as('none', `as it was${called}`);
    case 'other-unit':
      return as('other-unit', 'one report is in inches and the other in millimetres');
    case 'added':
      return seen.isBeforeWhole
        ? as('new', 'it was not there before')
        : as('not-seen', 'the record is not whole, so what it was is not known');
    case 'gone':
      if (!seen.isAfterWhole)
        return as('not-seen', 'the report after the flash is not whole, so what it is now is not known');
      if (carry === 'any') return as('expected', 'the maker says that no setting has to be entered again');
      if (seen.layoutChanges !== false && (dropped === 'any' || dropped?.includes(word)))
        return as('expected', 'the maker says that it exists no longer');
      return as('not-said', 'the machine reports it no longer, and the maker has not said why');
    case 'differs':
      if (carry === 'any') return as('expected', 'the maker says that no setting has to be entered again');
      return carry?.includes(word) || (renamedTo !== null && carry?.includes(renamedTo))
        ? as('enter', `it may be entered again, the maker says that it carries over${called}`)
        : as('not-said', `the maker has not said that this carries over${called}`);
  }
}

/** The old numbers of each line of which one came out different, with the line that saves. */
function entryLines(settings: readonly ConfirmedSetting[], before: readonly RecordedSetting[]): string[] {
  const groups = new Map<string, ConfirmedSetting[]>();
  for (const one of settings) {
    const name = `${one.renamedTo ?? one.word} ${one.index}`.trim();
    if (one.before !== null && one.after !== null) groups.set(name, [...(groups.get(name) ?? []), one]);
  }
  const lines = [...groups]
    .filter(
      ([name, group]) => group.some(({ advice }) => advice === 'enter') && /^[GM][0-9.]+(?: |$)/.test(name),
    )
    .map(([name, group]) =>
      // Whole lines: some controllers put a number that is left out back to nothing.
      [name, ...group.map(({ letter, before: old }) => `${letter}${decimalText(old!)}`)].join(' '),
    );
  return lines.length === 0 ? [] : withSave(lines, before);
}

/** Numbers of a report in inches are entered in inches. */
const withSave = (lines: readonly string[], settings: readonly RecordedSetting[]): string[] => [
  ...(isInInches(settings) ? ['G20'] : []),
  ...lines,
  saveLine,
];

// ---- steps --------------------------------------------------------------------------------------------------

function explainedSteps(
  move: MeasuredMove,
  after: readonly RecordedSetting[],
  profile: Profile,
  mayEnter: boolean,
  isPending: boolean,
): ConfirmationReport['steps'][number] {
  const steps = stepsFor(move, after, profile.settings.stepsTolerance);
  // The old numbers come back first: what was measured with others says nothing about them.
  if (isPending)
    return {
      ...steps,
      line: null,
      text: 'enter the old settings again first (see the lines above) and confirm them, then measure anew',
    };
  const line = mayEnter && steps.answer === 'enter' ? `M92 ${move.axis}${decimalText(steps.after!)}` : null;
  return { ...steps, line, text: stepsText(steps, mayEnter) };
}

const percent = (share: number): string => `${decimalText(Number((share * 100).toFixed(2)))} %`;

function stepsText(steps: StepsCalculation, mayEnter: boolean): string {
  const { axis, answer, tolerance, off } = steps;
  const way = off > 0 ? 'too far' : 'too short';
  switch (answer) {
    case 'no-steps':
      return `the report does not give the steps of ${axis} once (M92 ${axis}), so nothing can be calculated`;
    case 'no-tolerance':
      return `${percent(Math.abs(off))} ${way}; the board profile does not say how much is likely (settings.stepsTolerance), so no line is given`;
    case 'measure-again':
      return `${percent(Math.abs(off))} ${way}, and such machines can be up to ${percent(tolerance!)} off: measure again rather than entering this`;
    case 'keep':
      return 'the number stays as it is';
    case 'enter':
      return `${percent(Math.abs(off))} ${way}${tolerance === null ? '' : `, inside the ${percent(tolerance)} that such machines can be off`}${mayEnter ? '' : '; no line is given before board and release are as meant'}`;
  }
}

// ---- outcome ------------------------------------------------------------------------------------------------

const isOff = ({ advice }: ConfirmedSetting): boolean => advice === 'enter' || advice === 'not-said';
const isOpen = ({ advice }: ConfirmedSetting): boolean => advice === 'not-seen' || advice === 'other-unit';

function outcomeOf(
  checks: readonly IdentityCheck[],
  settings: readonly ConfirmedSetting[],
  problems: readonly string[],
): ConfirmationReport['outcome'] {
  if (checks.some(({ state }) => state === 'differs') || settings.some(isOff)) return 'differs';
  return checks.some(({ state }) => state === 'unknown') || settings.some(isOpen) || problems.length > 0
    ? 'cannot-tell'
    : 'as-meant';
}

function outcomeText(
  outcome: ConfirmationReport['outcome'],
  checks: readonly IdentityCheck[],
  settings: readonly ConfirmedSetting[],
  problems: readonly string[],
): string {
  const off = settings.filter(isOff).length;
  const wrong = checks.filter(({ state }) => state === 'differs').map(({ text }) => text);
  const numbers = off === 0 ? [] : [`${off} of ${settings.length} settings came out different`];
  if (outcome === 'differs') return [...wrong, ...numbers].join('; ');
  if (outcome === 'as-meant') return 'board, release and settings are as they were meant to be';
  const open = checks.filter(({ state }) => state === 'unknown').map(({ text }) => text);
  return [...open, ...problems, 'not every setting could be compared'][0]!;
}

function nextOf(
  { commands }: ConfirmationSubject,
  checks: readonly IdentityCheck[],
  settings: readonly ConfirmedSetting[],
  is: { isWhole: boolean; isUnsaved: boolean; hasLines: boolean; hasSteps: boolean },
): ConfirmationReport['next'] {
  const [board, release] = checks as [IdentityCheck, IdentityCheck];
  if (board.state === 'differs')
    return {
      text: 'Enter nothing. Find out whether this capture is of the machine of this record, and which profile is for it.',
      send: [],
      command: null,
    };
  if (release.state === 'differs')
    return {
      text: 'Enter nothing yet. See what the boot loader does with the card that you used, with the card for CARD:',
      send: [],
      command: commands.rehearse,
    };
  if (is.hasLines)
    return {
      text: 'Send the lines above to the machine, one after the other, each after the ok of the one before. Then capture its answers to these, and confirm again:',
      send: ['M115', 'M503'],
      command: commands.again,
    };
  if (!is.isWhole || settings.some(isOpen))
    return {
      text: `Send these lines to the machine, put all that it answers into a file, and confirm again${is.isUnsaved ? `. ${saveLine} keeps what the machine has now: M501 in its place goes back to what was saved before` : ''}:`,
      send: ['M115', ...(is.isUnsaved ? [saveLine] : []), 'M503'],
      command: commands.again,
    };
  if (release.state === 'unknown' || board.state === 'unknown')
    return release.found !== null
      ? {
          text: 'Say which release was meant, and confirm again:',
          send: [],
          command: `${commands.again} --release RELEASE`,
        }
      : {
          text: 'The machine does not say what it runs in a way that this board profile knows. Look at its start-up screen or menu.',
          send: [],
          command: null,
        };
  if (settings.some(isOff))
    return {
      text: 'Enter none of the old numbers by guess. Ask the author of the release what these settings mean now.',
      send: [],
      command: null,
    };
  if (is.hasSteps)
    return {
      text: 'Send the lines with the new steps to the machine, then capture its answers to these. The steps of the record are old then: make a new record, with the new capture for CAPTURE:',
      send: ['M115', 'M503'],
      command: commands.record,
    };
  return { text: 'Nothing more. Keep the record.', send: [], command: null };
}
