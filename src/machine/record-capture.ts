import type { Profile } from '../board/profile.js';
import { visible } from '../rules/visible.js';
import { type Capture, readCapture } from './capture.js';
import { answerProblem, type MachineOptions, suppliesOf } from './machine.js';
import { identityKeys, isBoard, machineIdentity } from './machine-identity.js';
import type { MachineRecord, RecordedSetting } from './record.js';
import { storedSettings } from './stored-settings.js';

/** What a record lacks before anybody may rely on it. */
export interface RecordLack {
  readonly what: 'identity' | 'settings' | 'unsaved' | 'cut-off' | 'damaged' | 'release' | 'supply';
  /** Plain sentence. */
  readonly text: string;
}

/** A record made from a capture. */
export interface RecordedCapture {
  readonly record: MachineRecord;
  readonly lacks: readonly RecordLack[];
  /** Where the machine says something else than its owner, or than the profile: then nothing may be written. */
  readonly contradictions: readonly string[];
  /** The machine said itself which release runs. */
  readonly isReleaseRead: boolean;
  /** Line of the settings report, counted from 1; null when there is none. */
  readonly settingsLine: number | null;
}

/**
 * The record of a machine from what it printed and what its owner says. What is not certain is left out of the record
 * and stands among `lacks`.
 */
export function recordCapture(
  capture: Capture,
  profile: Profile,
  options: MachineOptions,
  lastFileName: string | undefined,
): RecordedCapture {
  const lacks: RecordLack[] = [];
  const contradictions: string[] = [];
  const lack = (what: RecordLack['what'], text: string): void => void lacks.push({ what, text });
  const identity = machineIdentity(capture, profile);
  const keys = identityKeys(profile);
  const stated = options.installed ?? options.sets?.installed;
  const runsNothing = stated?.toLowerCase() === 'none';
  if (identity.line !== null) for (const text of identity.problems) lack('identity', text);
  else if (profile.identity !== 'any' && !runsNothing)
    lack('identity', 'the capture holds no reply in which the machine says what it is');
  if (identity.board !== null && !isBoard(identity.board, profile))
    contradictions.push(
      `the machine says that its board is ${identity.board} (${keys.board}), and the profile is for ${profile.id}: it is another machine, or another profile is needed`,
    );
  if (runsNothing) {
    if (identity.line !== null && options.was === undefined)
      contradictions.push(
        'you say that nothing runs now, and in this capture a program answers: if the capture is older than that, say also with --was which release ran',
      );
    else if (identity.release !== null && options.was !== identity.release)
      contradictions.push(
        `you say that release ${options.was} ran last, and in this capture it is ${identity.release} (${keys.release})`,
      );
  } else if (identity.release !== null && stated !== undefined && stated !== identity.release)
    contradictions.push(
      `you say that release ${stated} runs, and the machine says that it is ${identity.release} (${keys.release}): leave --installed out, or capture the right machine`,
    );
  const told = identity.release ?? undefined;
  const unknown = told === undefined ? undefined : answerProblem('installed', told, profile);
  if (unknown !== undefined) lack('release', `the release that the machine gives: ${unknown}`);
  const installed = stated ?? (unknown === undefined ? told : undefined);
  if (
    installed === undefined &&
    unknown === undefined &&
    profile.identity !== 'any' &&
    (identity.line !== null || keys.release === undefined)
  )
    lack('release', 'which release runs now is not known: say it with --installed');
  if (suppliesOf(profile).length > 0 && options.supply === undefined)
    lack('supply', 'which supply is fitted is not known: read its label and say it with --supply 24V/6.5A');
  else if (options.supply?.toLowerCase() === 'unsure')
    lack('supply', 'which supply is fitted is not known: read its label as soon as you can');
  const { settings, line } = settingsOf(capture, profile, runsNothing, lack);
  const { installed: _installed, ...sets } = options.sets ?? {};
  return {
    record: {
      board: profile.id,
      revision: profile.revision,
      options: {
        ...(options.supply === undefined ? {} : { supply: options.supply }),
        ...(installed === undefined ? {} : { installed }),
        ...(options.was === undefined ? {} : { was: options.was }),
        sets,
      },
      ...(lastFileName === undefined ? {} : { lastFileName }),
      identity: identity.pairs,
      settings,
      capture: capture.lines,
    },
    lacks,
    contradictions,
    isReleaseRead: identity.release !== null,
    settingsLine: line,
  };
}

function settingsOf(
  capture: Capture,
  profile: Profile,
  runsNothing: boolean,
  lack: (what: RecordLack['what'], text: string) => void,
): { settings: RecordedSetting[]; line: number | null } {
  const stored = storedSettings(capture);
  const line = capture.happenings.find(({ kind }) => kind === 'report')?.line ?? null;
  // `any`: the author says that no setting has to be carried over.
  if (stored.state === 'none' && profile.settings.carry !== 'any')
    lack(
      'settings',
      runsNothing
        ? 'the capture holds no report of the settings, and a machine on which nothing runs prints none: look for an older capture'
        : 'the capture holds no report of the settings of the machine',
    );
  for (const text of settingsTroubles(capture)) lack(text.what, text.text);
  return { settings: stored.settings.map((one) => ({ ...one, line: plainLine(one.line) })), line };
}

/** Why the settings of a capture are not all that the machine keeps, or not certainly. Empty without a report. */
export function settingsTroubles(capture: Capture): RecordLack[] {
  const { state, why, isCut, problems } = storedSettings(capture);
  const troubles: RecordLack[] = [];
  if (state === 'unsaved' || state === 'stale')
    troubles.push({
      what: 'unsaved',
      text: `what the machine keeps when it is switched off is not certain: ${why}`,
    });
  if (isCut)
    troubles.push({
      what: 'cut-off',
      text: 'the report of the settings is cut off: no ok stands behind it, and what would follow is not known',
    });
  for (const { line, text } of problems)
    troubles.push({ what: 'damaged', text: `line ${line} of the capture: ${text}` });
  for (const { line, text } of capture.problems)
    troubles.push({ what: 'damaged', text: `line ${line} of the capture: ${text}` });
  return troubles;
}

/** Why the settings of a record are not all that the machine kept; empty for a record that was written by hand. */
export const recordTroubles = ({ capture }: MachineRecord): RecordLack[] =>
  capture.length === 0 ? [] : settingsTroubles(readCapture(`${capture.join('\n')}\n`));

/** A line with invisible characters, which can only stand in its comment, without that comment. */
const plainLine = (line: string): string =>
  visible(line) === line ? line : line.replace(/[;(].*$/su, '').trim();
