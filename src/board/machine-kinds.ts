import { limits } from '../bytes/limits.js';
import { answerProblem, type Machine, suppliesOf } from '../machine/machine.js';
import { answerOf } from './axes.js';
import { type Cell, cellsOf, distinctCells } from './cells.js';
import { numberingOf, valuesOf } from './check.js';
import type { Build, For, Profile } from './profile.js';

/** One question on which a build depends, and the answers that have to be told apart. */
export interface Dimension {
  readonly axis: string;
  /** `stated`: one answer is known. `asked`: nobody answered. `derived`: it follows from the questions in `sources`. */
  readonly role: 'stated' | 'asked' | 'derived';
  readonly cells: readonly Cell[];
  readonly sources: readonly string[];
}

/** One kind of machine: an answer to every question on which a build depends. */
export interface MachineKind {
  /** For each dimension the index of its cell. */
  readonly at: readonly number[];
  /** Axis id -> the answer that stands for the cell. */
  readonly answers: Readonly<Record<string, string>>;
  /** Derived questions whose answer the profile does not give for these answers: each possible one is a kind. */
  readonly undecided: readonly string[];
}

/** Every kind of machine that what is known leaves possible. */
export interface MachineKinds {
  readonly dimensions: readonly Dimension[];
  readonly kinds: readonly MachineKind[];
}

/**
 * The kinds of machines between which the builds of a profile differ, as far as what is known about one machine
 * leaves them possible. Questions on which no build depends are left out. Null when there are more kinds than
 * `limits.machines` and `limits.buildChecks` allow.
 * @param machine null: nothing is known, so every machine is possible
 * @param merge one cell for all answers that make no difference, instead of each point and stretch by itself
 */
export function machineKinds(
  profile: Profile,
  machine: Machine | null,
  builds: readonly Build[],
  merge: boolean,
): MachineKinds | null {
  const known = withValidAnswers(profile, machine);
  const dimensions = dimensionsOf(profile, known, builds, merge);
  const free = dimensions.filter((one) => one.role !== 'derived');
  const count = free.reduce((product, one) => product * one.cells.length, 1);
  const checks = Math.max(builds.length, 1) * Math.max(suppliesOf(profile).length, 1);
  const most = Math.min(limits.machines, limits.buildChecks / checks);
  if (count > most) return null;
  const kinds: MachineKind[] = [];
  for (let turn = 0; turn < count; turn++) {
    const answers: Record<string, string> = {};
    const cellOf = new Map<string, number>();
    let rest = turn;
    // The last question changes fastest, so that rows stand in the order of the profile.
    for (const one of [...free].reverse()) {
      const index = rest % one.cells.length;
      rest = Math.floor(rest / one.cells.length);
      cellOf.set(one.axis, index);
      answers[one.axis] = one.cells[index]!.value;
    }
    for (const kind of withDerived(profile, known, dimensions, answers, cellOf)) {
      kinds.push(kind);
      if (kinds.length > most) return null;
    }
  }
  return { dimensions, kinds };
}

/** The machine without answers that the profile does not know: they came with another profile or were never checked. */
function withValidAnswers(profile: Profile, machine: Machine | null): Machine {
  const isAnswer = (axis: string, value: string): boolean =>
    answerProblem(axis, value, profile) === undefined;
  const { installed, was, ...rest } = machine ?? { answers: {} };
  return {
    ...rest,
    ...(installed !== undefined && isAnswer('installed', installed) ? { installed } : {}),
    ...(was !== undefined && isAnswer('installed', was) ? { was } : {}),
    answers: Object.fromEntries(
      Object.entries(rest.answers).filter(([axis, value]) => isAnswer(axis, value)),
    ),
  };
}

function dimensionsOf(
  profile: Profile,
  known: Machine,
  builds: readonly Build[],
  merge: boolean,
): readonly Dimension[] {
  const conditions: For[] = builds.flatMap((build) => (build.for ? [build.for] : []));
  const direct = new Set(conditions.flatMap((condition) => Object.keys(condition)));
  const statedValue = (axis: string): string | undefined => {
    const answer = answerOf(profile, known, axis);
    return answer.state === 'known' && answer.how === 'stated' ? answer.value : undefined;
  };
  const used = new Set(direct);
  for (const axis of profile.axes) {
    if (!direct.has(axis.id) || !axis.from || statedValue(axis.id) !== undefined) continue;
    for (const condition of Object.values(axis.from)) {
      conditions.push(condition);
      for (const source of Object.keys(condition)) used.add(source);
    }
  }
  // A question that the profile does not list, which only `installed` can be, comes first.
  const order = profile.axes.map((axis) => axis.id);
  return [...used]
    .sort((a, b) => order.indexOf(a) - order.indexOf(b))
    .map((axis): Dimension => {
      const stated = statedValue(axis);
      if (stated !== undefined)
        return {
          axis,
          role: 'stated',
          cells: [{ kind: 'value', value: stated, from: stated, to: stated }],
          sources: [],
        };
      const from = profile.axes.find((one) => one.id === axis)?.from;
      if (from) {
        const cells = (valuesOf(profile, axis) ?? []).map(
          (value): Cell => ({ kind: 'value', value, from: value, to: value }),
        );
        const sources = [...new Set(Object.values(from).flatMap((condition) => Object.keys(condition)))];
        return { axis, role: 'derived', cells, sources };
      }
      const ranges = conditions.flatMap((condition) =>
        Object.hasOwn(condition, axis) ? [condition[axis]!] : [],
      );
      const cells = cellsOf(profile, axis, ranges);
      const numbering = numberingOf(profile, axis) ?? 'word';
      return {
        axis,
        role: 'asked',
        cells: merge ? distinctCells(cells, ranges, numbering) : cells,
        sources: [],
      };
    });
}

/** Adds the answers that follow from others; where the profile leaves one open, a kind for each possible answer. */
function withDerived(
  profile: Profile,
  known: Machine,
  dimensions: readonly Dimension[],
  answers: Readonly<Record<string, string>>,
  cellOf: ReadonlyMap<string, number>,
): readonly MachineKind[] {
  const { installed, ...others } = answers;
  const machine: Machine = {
    ...known,
    ...(installed === undefined ? {} : { installed }),
    answers: { ...known.answers, ...others },
  };
  let partial: { answers: Record<string, string>; cellOf: Map<string, number>; undecided: string[] }[] = [
    { answers: { ...answers }, cellOf: new Map(cellOf), undecided: [] },
  ];
  for (const one of dimensions) {
    if (one.role !== 'derived') continue;
    const answer = answerOf(profile, machine, one.axis);
    const possible = answer.state === 'known' ? [answer.value] : (answer.possible ?? []);
    const next: typeof partial = [];
    for (const value of possible)
      for (const kind of partial) {
        if (next.length > limits.machines) break;
        next.push({
          answers: { ...kind.answers, [one.axis]: value },
          cellOf: new Map(kind.cellOf).set(
            one.axis,
            one.cells.findIndex((cell) => cell.value === value),
          ),
          undecided: answer.state === 'known' ? kind.undecided : [...kind.undecided, one.axis],
        });
      }
    partial = next;
  }
  return partial.map((kind) => ({
    at: dimensions.map((one) => kind.cellOf.get(one.axis) ?? -1),
    answers: kind.answers,
    undecided: kind.undecided,
  }));
}
