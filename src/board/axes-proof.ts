import { limits } from '../bytes/limits.js';
import { suppliesOf } from '../machine/machine.js';
import { BuildTable, type SupplyState } from './choose.js';
import { type Dimension, type MachineKind, machineKinds } from './machine-kinds.js';
import type { Build, Profile, Supply } from './profile.js';
import { cellsText } from './range-text.js';
import { joined } from './validate.js';

/**
 * What a build is in one row of the decision table. `preferred`: the one that is meant; `tied`: equally strong with
 * another; `safe`: it would run, but another is meant. Refused: `supply`: the supply does not meet what it needs;
 * `machine`: it is made for other machines; `both`. `replaces-loader`: it would fit, but nobody is told to use it.
 * `open`: the supply would decide, and the profile lists none.
 */
export type RowFit =
  | 'preferred'
  | 'tied'
  | 'safe'
  | 'supply'
  | 'machine'
  | 'both'
  | 'replaces-loader'
  | 'open';

/** One row of the decision table: a kind of machine with one supply. */
export interface ProofRow {
  /** Axis id -> the answers of this row in words: `release below 24`. */
  readonly machine: Readonly<Record<string, string>>;
  /** Axis id -> the answer that was tested. */
  readonly tested: Readonly<Record<string, string>>;
  /** Null when the profile lists no supplies and no build needs one. */
  readonly supply: { readonly id: string; readonly volts: number; readonly amps: number } | null;
  /** Ids of the safe builds that leave the boot loader alone. */
  readonly safe: readonly string[];
  /** Id of the preferred build; null when there is none, or several are equally strong. */
  readonly preferred: string | null;
  /** For each build in the order of the profile what it is here. */
  readonly fits: readonly RowFit[];
}

/**
 * `gap`: no build is safe. `overlap`: several safe builds are equally strong. `unsure`: for an owner who cannot read
 * the label no build is named that every listed supply can feed. `voltage`: a build would be safe with a voltage that
 * the profile does not list. `supplies-not-listed`: builds need a supply, but the profile lists none to test.
 */
export interface ProofProblem {
  readonly kind: 'gap' | 'overlap' | 'unsure' | 'voltage' | 'supplies-not-listed';
  /** One plain sentence. */
  readonly text: string;
  /** Ids of the builds concerned; empty for a gap. */
  readonly builds: readonly string[];
  /** Rows of the table that it covers; 0 when it is not about rows. */
  readonly rows: number;
}

/** Whether the builds of a profile hold exactly one right build for every machine. */
export interface Proof {
  /**
   * `proved`; `refuted`: there are problems; `over-limit`: more kinds of machines than are tested, so nothing is proved;
   * `any`: the author takes every build, so there is nothing to prove; `silent`: the profile names no builds.
   */
  readonly state: 'proved' | 'refuted' | 'over-limit' | 'any' | 'silent';
  readonly rows: readonly ProofRow[];
  readonly problems: readonly ProofProblem[];
  /** Builds that are preferred on no machine: harmless, but nobody is ever told to use them. */
  readonly neverPreferred: readonly string[];
  /** Voltages beside the listed ones with which every build was tested. */
  readonly voltagesTested: readonly number[];
  /** The result in one plain sentence. */
  readonly text: string;
}

/**
 * Proves the build choice of a profile: every question on which a build depends is cut at all end points of its ranges,
 * and every point, every stretch between, and every listed supply is tried. Each machine must have at least one safe
 * build and exactly one preferred one, and a supply of a voltage that is not listed must find none.
 */
export function proveChoice(profile: Profile): Proof {
  const nothing = { rows: [], problems: [], neverPreferred: [], voltagesTested: [] };
  const { builds } = profile;
  if (builds === 'any')
    return {
      ...nothing,
      state: 'any',
      text: 'The profile accepts every build: there is no choice to prove.',
    };
  if (builds === undefined)
    return { ...nothing, state: 'silent', text: 'The profile does not say which builds exist.' };
  const all = machineKinds(profile, null, builds, false);
  const supplies = suppliesOf(profile);
  const count = (all?.kinds.length ?? 0) * Math.max(supplies.length, 1);
  if (all === null || count > limits.machines || count * builds.length > limits.buildChecks)
    return {
      ...nothing,
      state: 'over-limit',
      text: `The questions of this profile tell more than ${limits.machines} machines apart, or as many as make more than ${limits.buildChecks} choices: they were not tested.`,
    };
  return new Prover(profile, builds, supplies, all.dimensions, all.kinds).proof();
}

/** A stretch of rows: from and to index in each dimension that is told apart, the supply last. */
interface Box {
  readonly from: number[];
  readonly to: number[];
  rows: number;
}

class Prover {
  private readonly table: BuildTable;
  /** The supplies as the last dimension; one entry that stands for all when the profile lists none. */
  private readonly states: readonly SupplyState[];
  /** Indexes of the dimensions by which machines are named: not what always follows from another answer. */
  private readonly named: readonly number[];

  constructor(
    private readonly profile: Profile,
    private readonly builds: readonly Build[],
    private readonly supplies: readonly Supply[],
    private readonly dimensions: readonly Dimension[],
    private readonly kinds: readonly MachineKind[],
  ) {
    this.table = new BuildTable(profile, builds);
    this.states =
      supplies.length > 0
        ? supplies.map(({ volts, amps }) => ({ state: 'known', volts, amps }))
        : [{ state: 'unknown' }];
    this.named = [...dimensions.keys()].filter(
      (at) =>
        dimensions[at]!.role !== 'derived' ||
        kinds.some((kind) => kind.undecided.includes(dimensions[at]!.axis)),
    );
  }

  proof(): Proof {
    const rows: ProofRow[] = [];
    const gaps: Box[] = [];
    const overlaps = new Map<string, Box[]>();
    const needy = this.supplies.length === 0 ? this.builds.filter((build) => build.needs) : [];
    for (const kind of this.kinds)
      for (const [index, state] of this.states.entries()) {
        const { safe, best, open } = this.table.prefer(kind.answers, state);
        rows.push(this.rowOf(kind, index, safe, best, this.fitsOf(kind, state, safe, best)));
        if (open) continue;
        if (safe.length === 0) gaps.push(this.boxOf(kind, index, index));
        else if (best.length > 1) {
          const key = best.join(' ');
          const boxes = overlaps.get(key) ?? [];
          boxes.push(this.boxOf(kind, index, index));
          overlaps.set(key, boxes);
        }
      }
    const problems: ProofProblem[] = [];
    if (needy.length > 0)
      problems.push({
        kind: 'supplies-not-listed',
        text: `${joined(
          needy.map((build) => build.id),
          'and',
        )} need a certain supply, but the profile lists no supplies to test them with.`,
        builds: needy.map((build) => build.id),
        rows: 0,
      });
    for (const box of this.merged(gaps))
      problems.push({
        kind: 'gap',
        text: `No build is safe for ${this.machineText(box)}.`,
        builds: [],
        rows: box.rows,
      });
    for (const [key, boxes] of overlaps) {
      const ids = key.split(' ').map((index) => this.builds[Number(index)]!.id);
      for (const box of this.merged(boxes))
        problems.push({
          kind: 'overlap',
          text: `${joined(ids, 'and')} are equally strong and all safe for ${this.machineText(box)}: nothing says which is meant.`,
          builds: ids,
          rows: box.rows,
        });
    }
    problems.push(...this.unsureProblems());
    const voltages = voltagesBeside(this.builds, this.supplies);
    problems.push(...this.voltageProblems(voltages));
    const preferred = new Set(rows.map((row) => row.preferred));
    return {
      state: problems.length === 0 ? 'proved' : 'refuted',
      rows,
      problems,
      neverPreferred: this.builds.flatMap((build) =>
        build.kind === 'application' && !preferred.has(build.id) ? [build.id] : [],
      ),
      voltagesTested: voltages,
      text:
        problems.length === 0
          ? `Each of the ${rows.length} kinds of machines has exactly one right build.`
          : `The builds do not fit all machines: ${problems.length === 1 ? 'one problem' : `${problems.length} problems`}.`,
    };
  }

  private boxOf(kind: MachineKind, firstSupply: number, lastSupply: number): Box {
    const at = this.named.map((dimension) => kind.at[dimension]!);
    return { from: [...at, firstSupply], to: [...at, lastSupply], rows: 1 };
  }

  private rowOf(
    kind: MachineKind,
    supply: number,
    safe: readonly number[],
    best: readonly number[],
    fits: readonly RowFit[],
  ): ProofRow {
    const listed = this.supplies[supply];
    return {
      machine: Object.fromEntries(
        this.dimensions.map((one, at) => [
          one.axis,
          cellsText(this.profile, one.axis, [one.cells[kind.at[at]!]!]),
        ]),
      ),
      tested: kind.answers,
      supply: listed ? { id: listed.id, volts: listed.volts, amps: listed.amps } : null,
      safe: safe.map((index) => this.builds[index]!.id),
      preferred: best.length === 1 ? this.builds[best[0]!]!.id : null,
      fits,
    };
  }

  private fitsOf(
    kind: MachineKind,
    supply: SupplyState,
    safe: readonly number[],
    best: readonly number[],
  ): readonly RowFit[] {
    return this.builds.map((build, index): RowFit => {
      if (best.includes(index)) return best.length === 1 ? 'preferred' : 'tied';
      if (safe.includes(index)) return 'safe';
      const isMade = this.table.holds(index, kind.answers);
      const isFed = this.table.meets(index, supply);
      if (isFed === false) return isMade ? 'supply' : 'both';
      if (!isMade) return 'machine';
      return build.kind === 'application' ? 'open' : 'replaces-loader';
    });
  }

  /** An owner who cannot read the label gets one build, and every listed supply must be able to feed it. */
  private unsureProblems(): readonly ProofProblem[] {
    const { whenUnsure } = this.profile;
    if (whenUnsure === undefined || whenUnsure === 'any') return [];
    const boxes: Box[] = [];
    for (const kind of this.kinds) {
      const { best } = this.table.prefer(kind.answers, { state: 'unsure' });
      if (best.length !== 1)
        // The supply is not told here: all of them at once.
        boxes.push(this.boxOf(kind, 0, this.states.length - 1));
    }
    return this.merged(boxes).map((box) => ({
      kind: 'unsure',
      text: `whenUnsure names no build that every listed supply can feed for ${this.machineText(box)}.`,
      builds: whenUnsure,
      rows: box.rows,
    }));
  }

  private voltageProblems(voltages: readonly number[]): readonly ProofProblem[] {
    const problems: ProofProblem[] = [];
    const amps = Math.max(
      1,
      ...this.supplies.map((one) => one.amps),
      ...this.builds.map((one) => one.needs?.amps ?? 0),
    );
    for (const volts of voltages) {
      const safe = this.builds.filter((_, index) => this.table.meets(index, { state: 'known', volts, amps }));
      if (safe.length > 0)
        problems.push({
          kind: 'voltage',
          text: `${joined(
            safe.map((build) => build.id),
            'and',
          )} would be safe with a supply of ${volts} V, which the profile does not list: say the voltage in needs.`,
          builds: safe.map((build) => build.id),
          rows: 0,
        });
    }
    return problems;
  }

  /** Joins boxes that lie side by side in one dimension and are equal in all others. */
  private merged(boxes: readonly Box[]): readonly Box[] {
    let found = boxes.map((box) => ({ from: [...box.from], to: [...box.to], rows: box.rows }));
    const order = [...this.named.keys(), this.named.length];
    for (const dimension of order) {
      const groups = new Map<string, Box[]>();
      for (const box of found) {
        const key = order
          .filter((at) => at !== dimension)
          .map((at) => `${box.from[at]}-${box.to[at]}`)
          .join(' ');
        const group = groups.get(key);
        if (group) group.push(box);
        else groups.set(key, [box]);
      }
      found = [...groups.values()].flatMap((group) => {
        group.sort((a, b) => a.from[dimension]! - b.from[dimension]!);
        const joinedBoxes: Box[] = [];
        for (const box of group) {
          const before = joinedBoxes.at(-1);
          if (before && before.to[dimension]! + 1 === box.from[dimension]!) {
            before.to[dimension] = box.to[dimension]!;
            before.rows += box.rows;
          } else joinedBoxes.push(box);
        }
        return joinedBoxes;
      });
    }
    return found;
  }

  /** `a machine with release 24 or later and the supply 24 V 6.5 A`; what makes no difference is left out. */
  private machineText(box: Box): string {
    const parts: string[] = [];
    for (const [at, dimension] of this.named.entries()) {
      const one = this.dimensions[dimension]!;
      const cells = one.cells.slice(box.from[at]!, box.to[at]! + 1);
      if (cells.length < one.cells.length) parts.push(cellsText(this.profile, one.axis, cells));
    }
    const supplies = this.supplies.slice(box.from.at(-1)!, box.to.at(-1)! + 1);
    if (supplies.length < this.supplies.length)
      parts.push(
        `the supply ${joined(
          supplies.map((supply) => supply.title),
          'or',
        )}`,
      );
    return parts.length === 0 ? 'any machine' : `a machine with ${joined(parts, 'and')}`;
  }
}

/**
 * Voltages that the profile does not list: those that builds name all the same, one below, one above, and one between
 * each two of all that are named. Empty when the profile lists no supplies.
 */
function voltagesBeside(builds: readonly Build[], supplies: readonly Supply[]): readonly number[] {
  if (supplies.length === 0) return [];
  const listed = new Set(supplies.map((supply) => supply.volts));
  const named = new Set([...listed, ...builds.flatMap((build) => build.needs?.volts ?? [])]);
  const points = [...named].sort((a, b) => a - b);
  const tested = points.filter((volts) => !listed.has(volts));
  tested.push(points[0]! / 2, points.at(-1)! * 2);
  for (const [index, volts] of points.entries()) {
    const next = points[index + 1];
    if (next !== undefined) tested.push((volts + next) / 2);
    // A label that is nearly right is not right.
    tested.push(volts * 0.999, volts * 1.001);
  }
  const rounded = tested.map((volts) => Number(volts.toPrecision(6)));
  return [...new Set(rounded)].filter((volts) => !listed.has(volts)).sort((a, b) => a - b);
}
