import { numberingOf, valuesOf } from '../board/check.js';
import { nearest } from '../board/nearest.js';
import type { Profile, Supply } from '../board/profile.js';
import { valueProblem } from '../board/ranges.js';
import { joined } from '../board/validate.js';

/** What is known about one owner's machine. All of it is the owner's word; what nobody told is left out. */
export interface Machine {
  /** Id of the board, as a machine record says it. */
  board?: string;
  /** The fitted supply: numbers of its label, and its id when the profile lists it. */
  supply?: { id?: string; volts: number; amps: number };
  /** The owner looked and cannot tell which supply is fitted. */
  supplyUnsure?: boolean;
  /** Release that runs now. */
  installed?: string;
  /** No program runs now. */
  nothingInstalled?: boolean;
  /** Release that ran last, when nothing runs now. */
  was?: string;
  /** Answers to the other questions of the profile, by axis id; `loader` is one of them. */
  answers: Record<string, string>;
  lastFileName?: string;
  /** Settings of the machine that a machine record holds; none when its report did not come whole. */
  settingsNoted?: number;
}

/** Something that the owner stated and that cannot be so. */
export interface UsageProblem {
  /** `--supply` */
  readonly option: string;
  /** Plain words: what is wrong, and what may stand there. */
  readonly message: string;
}

/** What the command line says about the machine, as written there. */
export interface MachineOptions {
  /** `24V/6.5A`, the id of a supply of the profile, or `unsure`. */
  supply?: string;
  /** A release, or `none`. */
  installed?: string;
  was?: string;
  /** `--set axis=value` */
  sets?: Readonly<Record<string, string>>;
}

/**
 * The machine that the options of the command line describe. With problems, the rest is still filled in. Without a
 * profile only supply and releases can be stated, since nobody asked anything else.
 */
export function machineFromOptions(
  options: MachineOptions,
  profile: Profile | null,
): { machine: Machine; problems: UsageProblem[] } {
  const machine: Machine = { answers: {} };
  const problems: UsageProblem[] = [];
  if (options.supply !== undefined) readSupply(options.supply, profile, machine, problems);
  readInstalled(options, profile, machine, problems);
  for (const [axis, value] of Object.entries(options.sets ?? {}))
    readAnswer(axis, value, profile, machine, problems);
  return { machine, problems };
}

function readSupply(text: string, profile: Profile | null, machine: Machine, problems: UsageProblem[]): void {
  if (text.toLowerCase() === 'unsure') {
    machine.supplyUnsure = true;
    return;
  }
  const supplies = suppliesOf(profile);
  const named = supplies.find((supply) => supply.id === text);
  const numbers = named ?? parseSupply(text);
  if (numbers) {
    const { volts, amps } = numbers;
    const id = named?.id ?? supplies.find((one) => one.volts === volts && one.amps === amps)?.id;
    machine.supply = { ...(id === undefined ? {} : { id }), volts, amps };
    return;
  }
  const ids = supplies.map((supply) => supply.id);
  const known = ids.length > 0 ? `, the name of a supply (${joined(ids, 'or')})` : '';
  const meant = nearest(text, [...ids, 'unsure']);
  problems.push({
    option: '--supply',
    message: `'${text}' is no supply; say its label as 24V/6.5A${known}, or unsure${meant ? `. Did you mean ${meant}?` : ''}`,
  });
}

/** `24V/6.5A` as volts and amperes; undefined when it is not of that form, or zero. */
export function parseSupply(text: string): { volts: number; amps: number } | undefined {
  const parts = /^([0-9]{1,4}(?:\.[0-9]{1,3})?) ?V ?[/, ] ?([0-9]{1,4}(?:\.[0-9]{1,3})?) ?A$/i.exec(
    text.trim(),
  );
  const [volts, amps] = [Number(parts?.[1] ?? 0), Number(parts?.[2] ?? 0)];
  return volts > 0 && amps > 0 ? { volts, amps } : undefined;
}

function readInstalled(
  options: MachineOptions,
  profile: Profile | null,
  machine: Machine,
  problems: UsageProblem[],
): void {
  const answered = options.sets?.installed;
  const stated = options.installed ?? answered;
  if (answered !== undefined && answered !== stated)
    problems.push({ option: '--set', message: `installed is stated twice: ${stated} and ${answered}` });
  if (stated?.toLowerCase() === 'none') machine.nothingInstalled = true;
  else if (stated !== undefined)
    readRelease('--installed', stated, profile, problems, (release) => (machine.installed = release));
  if (options.was === undefined) return;
  // On a machine that runs a program, what ran before it says nothing.
  if (machine.nothingInstalled)
    readRelease('--was', options.was, profile, problems, (release) => (machine.was = release));
  else problems.push({ option: '--was', message: 'it goes with --installed none, when nothing runs now' });
}

function readRelease(
  option: string,
  value: string,
  profile: Profile | null,
  problems: UsageProblem[],
  take: (release: string) => void,
): void {
  const problem = profile ? answerProblem('installed', value, profile) : undefined;
  if (problem) problems.push({ option, message: problem });
  else take(value);
}

function readAnswer(
  axis: string,
  value: string,
  profile: Profile | null,
  machine: Machine,
  problems: UsageProblem[],
): void {
  if (axis === 'installed') return;
  const known = profile?.axes.map((one) => one.id) ?? [];
  if (!profile || !known.includes(axis)) {
    const meant = nearest(axis, known);
    const rest = !profile
      ? 'without a board profile (--board) there are no questions to answer'
      : known.length === 0
        ? 'this board has no questions of its own'
        : meant
          ? `did you mean ${meant}?`
          : `the questions of this board are ${joined(known, 'and')}`;
    problems.push({ option: '--set', message: `there is no question '${axis}'; ${rest}` });
    return;
  }
  const problem = answerProblem(axis, value, profile);
  if (problem) problems.push({ option: '--set', message: `${axis}: ${problem}` });
  else machine.answers[axis] = value;
}

/** Why a value is no answer to a question of the profile; undefined when it is one. */
export function answerProblem(axis: string, value: string, profile: Profile): string | undefined {
  const problem = valueProblem(value, numberingOf(profile, axis) ?? 'word');
  if (problem) return problem;
  const values = valuesOf(profile, axis);
  return values && !values.includes(value)
    ? `'${value}' is no answer; expected ${joined(values, 'or')}`
    : undefined;
}

/** The supplies that a profile lists. */
export function suppliesOf(profile: Profile | null): readonly Supply[] {
  const supplies = profile?.supplies;
  return supplies === undefined || supplies === 'any' ? [] : supplies;
}
