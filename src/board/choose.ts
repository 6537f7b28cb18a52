import type { Machine } from '../machine/machine.js';
import { suppliesOf } from '../machine/machine.js';
import { answerOf, openText } from './axes.js';
import { numberingOf, valuesOf } from './check.js';
import { type Dimension, type MachineKind, type MachineKinds, machineKinds } from './machine-kinds.js';
import { peakWattsOf } from './power.js';
import type { Build, Profile, Supply } from './profile.js';
import { answerText, conditionText } from './range-text.js';
import { inRange } from './ranges.js';
import { joined } from './validate.js';

/**
 * What a build is for one machine. `unsafe`: its supply does not meet what the build needs. `wrong`: it is made for
 * other machines. `unknown`: what would decide was not told.
 */
export type Fitness = 'safe' | 'unsafe' | 'wrong' | 'unknown';

/** Why a build is what it is for a machine. Volts and amperes are those of labels. */
export type Reason =
  | { readonly kind: 'supply-volts'; readonly needs: number; readonly has: number }
  | { readonly kind: 'supply-amps'; readonly needs: number; readonly has: number }
  /** No supply of this voltage came with the board. */
  | { readonly kind: 'voltage-not-listed'; readonly has: number; readonly listed: readonly number[] }
  /** No supply that the profile lists meets the needs. */
  | { readonly kind: 'no-listed-supply' }
  /** The `for` of the build does not hold; `has` is left out when only other answers are possible. */
  | {
      readonly kind: 'other-machine';
      readonly axis: string;
      readonly needs: string | readonly string[];
      readonly has?: string;
    }
  | { readonly kind: 'supply-not-told'; readonly unsure: boolean }
  | { readonly kind: 'answer-not-told'; readonly axes: readonly string[] }
  /** More kinds of machines than are told apart. */
  | { readonly kind: 'over-limit' }
  /** Safe, but another build is preferred. */
  | { readonly kind: 'weaker'; readonly than: string }
  /** It replaces the boot loader, which nobody is told to do by default. */
  | { readonly kind: 'replaces-loader' };

/** One build judged for one machine. */
export interface BuildFit {
  readonly build: Build;
  readonly fitness: Fitness;
  /** The supply meets the needs of the build; null: not known. */
  readonly isFed: boolean | null;
  /** The `for` of the build holds; null: not known. */
  readonly isMadeForIt: boolean | null;
  readonly reasons: readonly Reason[];
  /** The reasons as plain sentences with the build as their subject: `needs a supply of 24 V and 9 A; …`. */
  readonly text: string;
  /** What the owner can say to settle an `unknown`. */
  readonly settle?: string;
}

/** A question whose answer decides which build is preferred. */
export interface Question {
  /** `supply`, or the id of an axis of the profile. */
  readonly axis: string;
  readonly ask: string;
  readonly help?: string;
  /** Answers that can be listed; left out when they cannot. */
  readonly possible?: readonly { readonly value: string; readonly title?: string }[];
  /** The option of the command line with an answer as an example. */
  readonly option: string;
}

/**
 * `one`: a build is preferred. `none`: no build is safe. `tie`: several safe builds are equally strong, so that the
 * release does not say which. `open`: questions are open. `any`: the author takes every build. `silent`: the profile
 * does not say which builds exist.
 */
export type Outcome = 'one' | 'none' | 'tie' | 'open' | 'any' | 'silent';

/** Which build is for one machine, and why. */
export interface Choice {
  readonly outcome: Outcome;
  /** Id of the preferred build; null unless the outcome is `one`. It is always safe. */
  readonly preferred: string | null;
  /** Every build in the order of the profile. */
  readonly builds: readonly BuildFit[];
  /** Builds that are equally strong when the outcome is `tie`. */
  readonly tied: readonly string[];
  /** Each of them can change the outcome; when all are answered none is open. */
  readonly questions: readonly Question[];
  /** Said when the supply was not told and every listed one leads to the same build: which one was assumed. */
  readonly assumes: string | null;
  /** The outcome in one plain sentence. */
  readonly text: string;
}

/** What is known about the supply of a machine, as far as a build's needs are concerned. */
export type SupplyState =
  | { readonly state: 'known'; readonly volts: number; readonly amps: number }
  /** The owner cannot tell which of the listed ones it is. */
  | { readonly state: 'unsure' }
  /** Not told, and the profile lists none. */
  | { readonly state: 'unknown' };

/**
 * Which build of a profile is for one machine. A build is safe when the supply meets its needs and its `for` holds;
 * the preferred one is the strongest safe build that leaves the boot loader alone. What was not told is followed
 * through every answer that is possible, so that a question is open only when its answers lead to different builds.
 * @param machine null: nothing is known about it
 */
export function chooseBuild(profile: Profile, machine: Machine | null): Choice {
  const nothing = { preferred: null, builds: [], tied: [], questions: [], assumes: null };
  if (profile.builds === undefined)
    return { ...nothing, outcome: 'silent', text: 'The board profile does not say which builds exist.' };
  if (profile.builds === 'any')
    return {
      ...nothing,
      outcome: 'any',
      text: 'The board profile accepts every build: there is nothing to choose.',
    };
  const table = new BuildTable(profile, profile.builds);
  const kinds = machineKinds(profile, machine, profile.builds, true);
  if (kinds === null) return overLimit(profile, machine, profile.builds);
  return new Chooser(profile, machine, table, kinds).choice();
}

/** The builds of a profile with their conditions, for asking the same of many machines. */
export class BuildTable {
  private readonly decided = new Map<string, readonly boolean[]>();
  private readonly met = new Map<SupplyState, readonly (boolean | undefined)[]>();
  private readonly strengths: readonly (readonly number[])[];
  /** The supplies that the profile lists, and their voltages. */
  readonly listed: readonly Supply[];
  readonly voltages: ReadonlySet<number>;

  constructor(
    private readonly profile: Profile,
    readonly builds: readonly Build[],
  ) {
    this.listed = suppliesOf(profile);
    this.voltages = new Set(this.listed.map((supply) => supply.volts));
    this.strengths = builds.map((build) => strengthOf(profile, build));
  }

  /** Whether the `for` of a build holds under the answers of one kind of machine. */
  holds(build: number, answers: Readonly<Record<string, string>>): boolean {
    return Object.keys(this.builds[build]!.for ?? {}).every(
      (axis) => this.holdsOn(build, axis, answers[axis]) === true,
    );
  }

  /** Whether one range of a `for` holds for an answer; undefined when there is no answer. */
  holdsOn(build: number, axis: string, value: string | undefined): boolean | undefined {
    if (value === undefined) return undefined;
    const key = `${axis}\n${value}`;
    let decisions = this.decided.get(key);
    if (!decisions) {
      const numbering = numberingOf(this.profile, axis) ?? 'word';
      decisions = this.builds.map(({ for: condition }) =>
        condition && Object.hasOwn(condition, axis) ? inRange(value, condition[axis]!, numbering) : true,
      );
      this.decided.set(key, decisions);
    }
    return decisions[build]!;
  }

  /** Whether a supply meets what a build needs; undefined when that cannot be known. */
  meets(build: number, supply: SupplyState): boolean | undefined {
    let met = this.met.get(supply);
    if (!met) {
      met = this.builds.map((one) => this.isMet(one, supply));
      this.met.set(supply, met);
    }
    return met[build];
  }

  private isMet(build: Build, supply: SupplyState): boolean | undefined {
    if (supply.state === 'known') return unmet(build, supply, this.voltages).length === 0;
    if (supply.state === 'unknown' || this.listed.length === 0) return build.needs ? undefined : true;
    const met = this.listed.map((listed) => unmet(build, listed, this.voltages).length === 0);
    return met.every(Boolean) ? true : met.some(Boolean) ? undefined : false;
  }

  /**
   * The preferred build among those that are safe for one kind of machine. For an owner who is unsure about the
   * supply it is the first of `whenUnsure` that is made for the machine, when every listed supply meets its needs.
   */
  prefer(answers: Readonly<Record<string, string>>, supply: SupplyState): Preference {
    const made = this.builds.flatMap((build, index) =>
      build.kind === 'application' && this.holds(index, answers) ? [index] : [],
    );
    const said = this.profile.whenUnsure;
    const whenUnsure = supply.state === 'unsure' && said !== undefined && said !== 'any' ? said : null;
    let safe: number[];
    if (whenUnsure) {
      const first = whenUnsure.map((id) => this.builds.findIndex((build) => build.id === id));
      safe = first.filter((index) => made.includes(index)).slice(0, 1);
      safe = safe.filter((index) => this.meets(index, supply) === true);
    } else {
      const open = made.some((index) => this.meets(index, supply) === undefined);
      if (supply.state === 'unknown' && open) return { safe: [], best: [], open: true };
      safe = made.filter((index) => this.meets(index, supply) === true);
    }
    const best: number[] = [];
    for (const index of safe) {
      const order =
        best.length === 0 ? 0 : compareStrength(this.strengths[index]!, this.strengths[best[0]!]!);
      if (order > 0) best.length = 0;
      if (order >= 0) best.push(index);
    }
    // Where the author says that it does not matter which, the first one in the profile is as good as any.
    if (this.profile.prefer === 'any') best.length = Math.min(best.length, 1);
    return { safe, best, open: false };
  }
}

/** Indexes of builds: the safe ones, and of these the strongest. `open`: the supply would decide. */
export interface Preference {
  readonly safe: readonly number[];
  readonly best: readonly number[];
  readonly open: boolean;
}

/**
 * What of a build's needs a supply does not meet. A voltage is met by the same voltage only.
 * @param listed voltages of the supplies that the profile lists; empty when it lists none
 */
export function unmet(
  build: Build,
  supply: { readonly volts: number; readonly amps: number },
  listed: ReadonlySet<number>,
): readonly Reason[] {
  const reasons: Reason[] = [];
  const { volts, amps } = build.needs ?? {};
  if (volts !== undefined && volts !== supply.volts)
    reasons.push({ kind: 'supply-volts', needs: volts, has: supply.volts });
  if (amps !== undefined && amps > supply.amps)
    reasons.push({ kind: 'supply-amps', needs: amps, has: supply.amps });
  if (listed.size > 0 && !listed.has(supply.volts))
    reasons.push({ kind: 'voltage-not-listed', has: supply.volts, listed: [...listed] });
  return reasons;
}

/** By what builds are ordered: what they ask of the supply, the limit that they keep, what they switch on together. */
function strengthOf(profile: Profile, build: Build): readonly number[] {
  return [
    build.needs?.amps ?? 0,
    build.heaters?.limit?.amps ?? Number.POSITIVE_INFINITY,
    peakWattsOf(profile, build),
  ];
}

function compareStrength(a: readonly number[], b: readonly number[]): number {
  for (const [index, value] of a.entries()) if (value !== b[index]) return value > b[index]! ? 1 : -1;
  return 0;
}

/** One kind of machine with one supply, and the build that is preferred there. */
interface Case {
  readonly kind: MachineKind;
  readonly supply: number;
  readonly key: string;
}

class Chooser {
  private readonly supplies: readonly SupplyState[];
  /** Nobody told the supply; it may be any of the listed ones. */
  private readonly isSupplyFree: boolean;
  private readonly cases: readonly Case[];

  constructor(
    private readonly profile: Profile,
    private readonly machine: Machine | null,
    private readonly table: BuildTable,
    private readonly kinds: MachineKinds,
  ) {
    this.isSupplyFree = !machine?.supply && !machine?.supplyUnsure;
    this.supplies = this.possibleSupplies();
    this.cases = kinds.kinds.flatMap((kind) =>
      this.supplies.map((supply, index): Case => {
        const { best, open } = table.prefer(kind.answers, supply);
        const ids = best.map((one) => table.builds[one]!.id);
        return { kind, supply: index, key: open ? '?' : ids.join('\n') };
      }),
    );
  }

  choice(): Choice {
    const { profile, table } = this;
    const asksSupply = this.isSupplyFree && this.supplyMatters();
    const questions = [...(asksSupply ? [supplyQuestion(profile)] : []), ...this.axisQuestions()];
    const keys = new Set(this.cases.map((one) => one.key));
    const [key] = keys;
    const isSettled = keys.size === 1 && key !== undefined && key !== '?';
    const ids = isSettled && key !== '' ? key.split('\n') : [];
    const preferred = ids.length === 1 ? ids[0]! : null;
    const builds = table.builds.map((build, index) => this.fitOf(build, index, preferred, asksSupply));
    const outcome: Outcome = !isSettled ? 'open' : ids.length === 0 ? 'none' : ids.length > 1 ? 'tie' : 'one';
    const assumes =
      this.isSupplyFree && !asksSupply && table.listed.length > 0 && preferred !== null
        ? `the power supply is one with which this board was sold: ${joined(table.listed.map(labelOf), 'or')}`
        : null;
    return {
      outcome,
      preferred,
      builds,
      tied: outcome === 'tie' ? ids : [],
      questions: outcome === 'open' ? questions : [],
      assumes,
      text: this.outcomeText(outcome, preferred, ids, questions),
    };
  }

  private possibleSupplies(): readonly SupplyState[] {
    const { machine, table } = this;
    if (machine?.supply) return [{ state: 'known', volts: machine.supply.volts, amps: machine.supply.amps }];
    if (machine?.supplyUnsure) return [{ state: 'unsure' }];
    if (table.listed.length === 0) return [{ state: 'unknown' }];
    return table.listed.map(({ volts, amps }) => ({ state: 'known', volts, amps }));
  }

  private supplyMatters(): boolean {
    if (this.cases.some((one) => one.key === '?')) return true;
    const found = new Map<MachineKind, string>();
    return this.cases.some(({ kind, key }) => {
      const other = found.get(kind);
      found.set(kind, key);
      return other !== undefined && other !== key;
    });
  }

  /** A question is open when two machines that differ in its answer alone are for different builds. */
  private axisQuestions(): readonly Question[] {
    const { dimensions } = this.kinds;
    const matters = (asked: Dimension): boolean => {
      const rest = dimensions.map((one) => one !== asked && !one.sources.includes(asked.axis));
      const found = new Map<string, string>();
      return this.cases.some(({ kind, supply, key }) => {
        const place = `${supply} ${kind.at.filter((_, index) => rest[index]).join(' ')}`;
        const other = found.get(place);
        found.set(place, key);
        return other !== undefined && other !== key;
      });
    };
    return dimensions.flatMap((one) => {
      // What follows from other answers is asked only where the profile does not say what follows.
      const isAsked =
        one.role === 'asked' ||
        (one.role === 'derived' && this.kinds.kinds.some((kind) => kind.undecided.includes(one.axis)));
      return isAsked && matters(one) ? [axisQuestion(this.profile, this.machine, one.axis)] : [];
    });
  }

  private fitOf(build: Build, index: number, preferred: string | null, asksSupply: boolean): BuildFit {
    const { table, kinds } = this;
    const holds = kinds.kinds.map((kind) => table.holds(index, kind.answers));
    const meets = this.supplies.map((supply) => table.meets(index, supply));
    const made = holds.every(Boolean) ? true : holds.some(Boolean) ? undefined : false;
    let met: boolean | undefined;
    if (meets.every((one) => one === false)) met = false;
    // An owner who can read the label has to say what it says before anything depends on it.
    else if (asksSupply && build.needs) met = undefined;
    else met = meets.every((one) => one === true) ? true : undefined;
    const reasons: Reason[] = [];
    if (met === false) reasons.push(...this.supplyReasons(build));
    if (made === false) reasons.push(...this.otherMachine(build, index));
    const fitness: Fitness =
      met === false ? 'unsafe' : made === false ? 'wrong' : met && made ? 'safe' : 'unknown';
    const asks: string[] = [];
    if (fitness === 'unknown') {
      if (met === undefined)
        reasons.push({ kind: 'supply-not-told', unsure: this.machine?.supplyUnsure === true });
      if (made === undefined) asks.push(...this.openAxes(build, index));
      if (asks.length > 0) reasons.push({ kind: 'answer-not-told', axes: asks });
    }
    if (build.kind !== 'application') reasons.push({ kind: 'replaces-loader' });
    else if (fitness === 'safe' && preferred !== null && preferred !== build.id)
      reasons.push({ kind: 'weaker', than: preferred });
    return fitFrom(this.profile, this.machine, build, fitness, reasons, met ?? null, made ?? null);
  }

  private supplyReasons(build: Build): readonly Reason[] {
    const supply = this.machine?.supply;
    return supply ? unmet(build, supply, this.table.voltages) : [{ kind: 'no-listed-supply' }];
  }

  /** The ranges that hold for no possible answer; when only their combination is impossible, all of them. */
  private otherMachine(build: Build, index: number): readonly Reason[] {
    const condition = Object.entries(build.for ?? {});
    const never = condition.filter(([axis]) =>
      this.kinds.kinds.every((kind) => this.table.holdsOn(index, axis, kind.answers[axis]) === false),
    );
    return (never.length > 0 ? never : condition).map(([axis, needs]): Reason => {
      const answer = answerOf(this.profile, this.machine, axis);
      return {
        kind: 'other-machine',
        axis,
        needs,
        ...(answer.state === 'known' ? { has: answer.value } : {}),
      };
    });
  }

  private openAxes(build: Build, index: number): string[] {
    const asks = new Set<string>();
    for (const axis of Object.keys(build.for ?? {})) {
      const decisions = this.kinds.kinds.map((kind) => this.table.holdsOn(index, axis, kind.answers[axis]));
      if (decisions.every(Boolean)) continue;
      const answer = answerOf(this.profile, this.machine, axis);
      for (const id of answer.state === 'open' ? answer.ask : [axis]) asks.add(id);
    }
    return [...asks];
  }

  private outcomeText(
    outcome: Outcome,
    preferred: string | null,
    ids: readonly string[],
    questions: readonly Question[],
  ): string {
    const { machine, table } = this;
    if (outcome === 'tie')
      return `The builds ${joined(ids, 'and')} are equally strong and all safe for this machine: the release does not say which is meant.`;
    if (outcome === 'none')
      return machine?.supplyUnsure
        ? 'No build of this release is known to be safe with every supply that may be fitted: the label of the supply has to be read.'
        : 'No build of this release is safe for this machine.';
    if (outcome === 'open')
      return `Which build is for this machine depends on ${
        questions.length === 1
          ? 'an answer that was not told'
          : `${questions.length} answers that were not told`
      }: ${questions.map((one) => one.ask).join(' ')}`;
    const build = table.builds.find((one) => one.id === preferred)!;
    const unsure = machine?.supplyUnsure ? ', as long as nobody knows which supply is fitted' : '';
    return `The build for this machine is ${build.id}: ${build.title}${unsure}.`;
  }
}

function fitFrom(
  profile: Profile,
  machine: Machine | null,
  build: Build,
  fitness: Fitness,
  reasons: readonly Reason[],
  isFed: boolean | null,
  isMadeForIt: boolean | null,
): BuildFit {
  const settle = settleText(profile, machine, reasons);
  return {
    build,
    fitness,
    isFed,
    isMadeForIt,
    reasons,
    text: reasonsText(profile, machine, build, fitness, reasons),
    ...(fitness === 'unknown' && settle !== '' ? { settle } : {}),
  };
}

/** Without telling machines apart: what holds or fails whatever the open answers are is still said. */
function overLimit(profile: Profile, machine: Machine | null, builds: readonly Build[]): Choice {
  return {
    outcome: 'open',
    preferred: null,
    tied: [],
    builds: builds.map((build) =>
      fitFrom(profile, machine, build, 'unknown', [{ kind: 'over-limit' }], null, null),
    ),
    questions: profile.axes.flatMap((axis) =>
      !axis.from && answerOf(profile, machine, axis.id).state === 'open'
        ? [axisQuestion(profile, machine, axis.id)]
        : [],
    ),
    assumes: null,
    text: 'The builds depend on more combinations of answers than flashworthy looks at; answer the questions of the board.',
  };
}

// ---- words --------------------------------------------------------------------------------------------------

const labelOf = (supply: Supply): string => `${supply.volts} V ${supply.amps} A`;

/** `24 V and 9 A` */
export function needsText(needs: { readonly volts?: number; readonly amps?: number }): string {
  return [
    needs.volts === undefined ? '' : `${needs.volts} V`,
    needs.amps === undefined ? '' : `${needs.amps} A`,
  ]
    .filter((part) => part !== '')
    .join(' and ');
}

/** For which machines a build is made: `machines with the newer boot loader and a supply of 24 V and 9 A or more`. */
export function machinesText(profile: Profile, build: Build): string {
  const parts = Object.entries(build.for ?? {}).map(([axis, range]) => conditionText(profile, axis, range));
  if (build.needs)
    parts.push(`a supply of ${needsText(build.needs)}${build.needs.amps === undefined ? '' : ' or more'}`);
  return parts.length === 0 ? 'every machine with this board' : `machines with ${joined(parts, 'and')}`;
}

/**
 * Reasons as plain sentences with the build as their subject; for a safe build without reasons, why it fits. Empty
 * when there is nothing to say.
 */
export function reasonsText(
  profile: Profile,
  machine: Machine | null,
  build: Build,
  fitness: Fitness,
  reasons: readonly Reason[],
): string {
  const parts: string[] = [];
  const volts = reasons.find((one) => one.kind === 'supply-volts');
  const amps = reasons.find((one) => one.kind === 'supply-amps');
  if (volts || amps) {
    const has = [...(volts ? [`${volts.has} V`] : []), ...(amps ? [`${amps.has} A`] : [])].join(' and ');
    parts.push(`needs a supply of ${needsText(build.needs ?? {})}; this machine has ${has}`);
  }
  for (const reason of reasons) {
    switch (reason.kind) {
      case 'voltage-not-listed':
        if (volts) break;
        parts.push(
          `this board is made for ${joined(
            reason.listed.map((one) => `${one} V`),
            'or',
          )}; this machine has a supply of ${reason.has} V`,
        );
        break;
      case 'no-listed-supply':
        parts.push(
          `needs a supply of ${needsText(build.needs ?? {})}, and this board was sold with no such supply`,
        );
        break;
      case 'other-machine': {
        const has = reason.has === undefined ? 'another one' : answerText(reason.axis, reason.has);
        parts.push(`is for ${conditionText(profile, reason.axis, reason.needs)}; this machine has ${has}`);
        break;
      }
      case 'supply-not-told':
        parts.push(
          `needs a supply of ${needsText(build.needs ?? {})}, and ${
            reason.unsure ? 'the owner is not sure which supply is fitted' : 'the fitted supply was not told'
          }`,
        );
        break;
      case 'answer-not-told':
        parts.push(`cannot be judged yet: ${openText(profile, machine, reason.axes).text}`);
        break;
      case 'over-limit':
        parts.push('depends on more answers than flashworthy looks at');
        break;
      case 'weaker':
        parts.push(`is safe for this machine too, but ${reason.than} is the one that is meant for it`);
        break;
      case 'replaces-loader':
        parts.push('replaces the boot loader, which is never chosen without being asked for');
        break;
      default:
        break;
    }
  }
  if (parts.length > 0) return parts.join('; ');
  return fitness === 'safe' ? `is for ${machinesText(profile, build)}, as this one is` : '';
}

/** What the owner can say to settle what is not known; empty when nothing would. */
export function settleText(profile: Profile, machine: Machine | null, reasons: readonly Reason[]): string {
  return reasons
    .flatMap((reason) => {
      if (reason.kind === 'supply-not-told')
        return reason.unsure
          ? [`read the label of the supply and say it: ${supplyOption(profile)}`]
          : [`read the label of the supply and say it: ${supplyOption(profile)}, or --supply unsure`];
      return reason.kind === 'answer-not-told' ? [openText(profile, machine, reason.axes).settle] : [];
    })
    .join('; ');
}

function supplyOption(profile: Profile): string {
  const first = suppliesOf(profile)[0];
  return first ? `--supply ${first.volts}V/${first.amps}A` : '--supply 24V/6.5A';
}

function supplyQuestion(profile: Profile): Question {
  const listed = suppliesOf(profile);
  const ids = listed.map(({ id, title }) => ({ value: id, title }));
  return {
    axis: 'supply',
    ask: 'What does the label of the power supply say?',
    help: 'The label of the supply that is fitted now names its output in volts and amperes. A supply may have been exchanged, so look at the label, not at the papers.',
    ...(ids.length > 0 ? { possible: [...ids, { value: 'unsure', title: 'the label cannot be read' }] } : {}),
    option: supplyOption(profile),
  };
}

/** The question about one axis of the profile, as it is put to the owner of a machine. */
export function axisQuestion(profile: Profile, machine: Machine | null, id: string): Question {
  const axis = profile.axes.find((one) => one.id === id);
  const values = valuesOf(profile, id);
  const option = /--\S+ \S+/.exec(openText(profile, machine, [id]).settle)?.[0];
  const isPast = id === 'installed' && machine?.nothingInstalled === true;
  return {
    axis: id,
    ask: isPast ? 'Which release ran last?' : (axis?.ask ?? 'Which release runs now?'),
    ...(axis?.help ? { help: axis.help } : {}),
    ...(values ? { possible: values.map((value) => ({ value })) } : {}),
    option: option ?? `--set ${id}=`,
  };
}
