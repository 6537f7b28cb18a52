import { releaseNumbering } from '../board/check.js';
import type { Profile } from '../board/profile.js';
import { valueProblem } from '../board/ranges.js';
import type { Capture, IdentityReply } from '../machine/capture.js';
import { type MachineOptions, suppliesOf } from '../machine/machine.js';
import { type MachineRecord, machineFromRecord } from '../machine/record.js';
import { type StoredSettings, storedSettings } from '../machine/stored-settings.js';
import { openQuestions } from './choice-report.js';

/** Something that has to be known before anybody flashes, and how to get it. Plain sentences. */
export interface Lack {
  readonly what:
    | 'identity'
    | 'release'
    | 'board'
    | 'settings'
    | 'unsaved'
    | 'cut-off'
    | 'damaged'
    | 'supply'
    | 'answer';
  readonly text: string;
  readonly settle: string;
}

/** What a capture says the machine is; null where it does not say. */
export interface SaidIdentity {
  readonly reply: IdentityReply | null;
  readonly release: string | null;
  /** What the machine calls its board. */
  readonly board: string | null;
  readonly isThisBoard: boolean | null;
  readonly lacks: readonly Lack[];
}

/** Words that are sent to a machine: common practice, no published standard, so the machine's own manual counts more. */
const ask = {
  identity:
    'Send M115 to the machine in a terminal program, and save everything that it answers, up to the ok.',
  settings:
    'Send M503 to the machine in a terminal program, and save everything that it answers, up to the ok.',
  save: 'To keep what is in force now, send M500; to go back to what was saved, send M501. Then send M503, and save the answer.',
} as const;

/** The identity reply of a capture, held against the keys that the profile names. */
export function identityOf({ replies }: Capture, profile: Profile): SaidIdentity {
  const none = { reply: null, release: null, board: null, isThisBoard: null };
  const keys = identityKeys(profile);
  const last = replies.at(-1);
  if (last === undefined)
    return {
      ...none,
      lacks: [
        {
          what: 'identity',
          text: 'The machine does not say what it is: there is no identity reply.',
          settle: ask.identity,
        },
      ],
    };
  const at = (reply: IdentityReply, key: string | undefined): string | null =>
    key !== undefined && Object.hasOwn(reply.pairs, key) ? (reply.pairs[key] ?? null) : null;
  const told = (key: string | undefined): string[] => [
    ...new Set(replies.map((reply) => at(reply, key)).filter((value) => value !== null)),
  ];
  const lacks: Lack[] = [];
  if (last.problem !== null)
    lacks.push({
      what: 'damaged',
      text: `The identity reply in line ${last.line} cannot be relied on: ${last.problem}.`,
      settle: ask.identity,
    });
  // A capture from before and after a flash says two things, and which of them is meant nobody can tell.
  for (const [name, key] of Object.entries(keys)) {
    const values = told(key);
    if (values.length > 1)
      lacks.push({
        what: name === 'board' ? 'board' : 'release',
        text: `The capture holds replies that differ: ${key} is ${values.join(' and ')}.`,
        settle: 'Make a new capture that shows only how the machine is now.',
      });
  }
  const isOne = lacks.every(({ what }) => what === 'damaged');
  const board = isOne ? at(last, keys.board) : null;
  const said = isOne ? at(last, keys.release) : null;
  const wrong = said === null ? undefined : valueProblem(said, releaseNumbering(profile));
  if (keys.release !== undefined && isOne && (said === null || wrong !== undefined))
    lacks.push({
      what: 'release',
      text:
        said === null
          ? `The identity reply does not give ${keys.release}, by which this board says its release.`
          : `${keys.release} is "${said}", which is no release of this board: ${wrong}.`,
      settle: 'Say which release runs: --installed RELEASE.',
    });
  return {
    reply: last,
    release: wrong === undefined ? said : null,
    board,
    isThisBoard: board === null ? null : board.toLowerCase() === profile.id.toLowerCase(),
    lacks,
  };
}

/** Keys of the identity reply that the profile names. */
export function identityKeys({ identity }: Profile): { release?: string; board?: string } {
  if (identity === undefined || identity === 'any') return {};
  const { release, board } = identity;
  return {
    ...(release ? { release: release.key } : {}),
    ...(board ? { board: board.key } : {}),
  };
}

/** What lacks before the settings of a capture can be relied on. */
export function settingsLacks(stored: StoredSettings): Lack[] {
  const lacks: Lack[] = [];
  const { state, why, isCut, problems } = stored;
  if (state === 'none')
    lacks.push({
      what: 'settings',
      text: 'The capture holds no settings of the machine.',
      settle: ask.settings,
    });
  if (state === 'unsaved')
    lacks.push({
      what: 'unsaved',
      text: `What the machine has in force is not what it has saved: ${why}.`,
      settle: ask.save,
    });
  if (state === 'stale')
    lacks.push({
      what: 'settings',
      text: `The settings report is older than the settings: ${why}.`,
      settle: ask.settings,
    });
  if (isCut)
    lacks.push({
      what: 'cut-off',
      text: 'The settings report is cut off: the ok that ends it is not there.',
      settle: `Wait until the machine has answered ok before you save. ${ask.settings}`,
    });
  for (const { line, text } of problems.slice(0, mostProblems))
    lacks.push({ what: 'damaged', text: `Line ${line} of the capture: ${text}.`, settle: ask.settings });
  if (problems.length > mostProblems)
    lacks.push({
      what: 'damaged',
      text: `${problems.length - mostProblems} more lines could not be read.`,
      settle: ask.settings,
    });
  return lacks;
}

const mostProblems = 10;

/** A record made from a capture and from what its owner says, and what it lacks. */
export interface NewRecord {
  /** Null when owner and machine contradict each other; then `contradictions` says how. */
  readonly record: MachineRecord | null;
  readonly contradictions: readonly string[];
  readonly lacks: readonly Lack[];
  /** Numbers of settings that were kept. */
  readonly settings: number;
}

/**
 * Makes a machine record. What owner and machine say differently is no record: one of them is wrong, and the record is
 * what a build is chosen by.
 */
export function makeRecord(
  capture: Capture,
  profile: Profile,
  stated: MachineOptions,
  lastFileName?: string,
): NewRecord {
  const identity = identityOf(capture, profile);
  const stored = storedSettings(capture);
  const { release, board, isThisBoard, reply } = identity;
  const contradictions: string[] = [];
  if (isThisBoard === false)
    contradictions.push(
      `the machine calls its board ${board} (line ${reply?.line}), and this profile is for ${profile.id}: name the profile of that board`,
    );
  const says = stated.installed ?? stated.sets?.installed;
  if (says !== undefined && release !== null && says !== release)
    contradictions.push(
      `you said that ${says === 'none' ? 'nothing runs' : `release ${says} runs`}, and the machine says release ${release} (line ${reply?.line})`,
    );
  const options: MachineOptions = {
    ...stated,
    ...(says === undefined && release !== null ? { installed: release } : {}),
  };
  const record: MachineRecord = {
    board: profile.id,
    revision: profile.revision,
    options,
    ...(lastFileName === undefined ? {} : { lastFileName }),
    identity: reply?.pairs ?? {},
    settings: stored.settings,
    capture: capture.lines,
  };
  // What the owner says makes up for a reply that does not say it.
  const isSaid = (what: Lack['what']): boolean => what === 'release' && options.installed !== undefined;
  const lacks = [...identity.lacks.filter(({ what }) => !isSaid(what)), ...settingsLacks(stored)];
  for (const { text } of capture.problems)
    lacks.push({
      what: 'damaged',
      text: `The capture: ${text}.`,
      settle: 'Make a shorter capture: what the machine answers, and no more.',
    });
  const { machine } = machineFromRecord(record, {}, profile);
  if (suppliesOf(profile).length > 0 && machine.supply === undefined && !machine.supplyUnsure)
    lacks.push({
      what: 'supply',
      text: 'Which power supply is fitted was not told, and the build depends on it.',
      settle:
        'Read the label of the supply, with the machine unplugged, and say it: --supply 24V/6.5A, or --supply unsure.',
    });
  for (const { axis, ask: question, option } of openQuestions(profile, machine, null))
    if (
      axis !== 'supply' &&
      !(axis === 'installed' && lacks.some(({ what }) => what === 'release' || what === 'identity'))
    )
      lacks.push({ what: 'answer', text: `Not told: ${question}`, settle: `Say it: ${option}.` });
  return {
    record: contradictions.length > 0 ? null : record,
    contradictions,
    lacks,
    settings: stored.settings.length,
  };
}
