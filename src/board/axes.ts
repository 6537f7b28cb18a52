import type { Machine } from '../machine/machine.js';
import { numberingOf, valuesOf } from './check.js';
import type { Axis, For, Profile } from './profile.js';
import { endPoints, inRange, parseRange } from './ranges.js';

/** The answer to a question about one machine, or the answers that are still possible. */
export type Answer =
  | { readonly state: 'known'; readonly value: string; readonly how: 'stated' | 'derived' }
  /** `possible` is undefined when they cannot be listed. `ask`: the questions that would settle it. */
  | { readonly state: 'open'; readonly possible?: readonly string[]; readonly ask: readonly string[] };

/** Whether a condition holds on a machine; when that is open, the questions that would settle it. */
export type Holds =
  | { readonly value: true }
  | { readonly value: false }
  | { readonly value: undefined; readonly ask: readonly string[] };

/**
 * The answer of a machine to a question of the profile. What the owner stated comes first; an answer that follows
 * from another one (`from`) comes next. On a machine on which nothing runs, what ran last answers `installed`.
 */
export function answerOf(profile: Profile, machine: Machine | null, axisId: string): Answer {
  const stated = statedAnswer(machine, axisId);
  if (stated !== undefined) return { state: 'known', value: stated, how: 'stated' };
  const axis = profile.axes.find((one) => one.id === axisId);
  if (!axis?.from) {
    const possible = valuesOf(profile, axisId);
    return { state: 'open', ...(possible ? { possible } : {}), ask: [axisId] };
  }
  const possible: string[] = [];
  const ask = new Set<string>();
  for (const [value, condition] of Object.entries(axis.from)) {
    const holds = holdsOn(profile, machine, condition);
    if (holds.value === false) continue;
    if (holds.value === true) {
      if (possible.length === 0) return { state: 'known', value, how: 'derived' };
      possible.push(value);
      break;
    }
    possible.push(value);
    for (const id of holds.ask) ask.add(id);
  }
  // A release for which the profile names no generation: only the owner can tell.
  if (possible.length === 0)
    return { state: 'open', possible: valuesOf(profile, axisId) ?? [], ask: [axisId] };
  return { state: 'open', possible, ask: [...ask] };
}

function statedAnswer(machine: Machine | null, axisId: string): string | undefined {
  if (machine === null) return undefined;
  if (axisId === 'installed') return machine.installed ?? machine.was;
  return Object.hasOwn(machine.answers, axisId) ? machine.answers[axisId] : undefined;
}

/** Whether every range of a `for` holds on a machine. No condition holds always. */
export function holdsOn(profile: Profile, machine: Machine | null, condition: For | undefined): Holds {
  const ask = new Set<string>();
  for (const [axisId, range] of Object.entries(condition ?? {})) {
    const numbering = numberingOf(profile, axisId) ?? 'word';
    const answer = answerOf(profile, machine, axisId);
    if (answer.state === 'known') {
      if (!inRange(answer.value, range, numbering)) return { value: false };
      continue;
    }
    const results = (answer.possible ?? []).map((value) => inRange(value, range, numbering));
    if (results.length > 0 && !results.includes(true)) return { value: false };
    if (results.length > 0 && !results.includes(false)) continue;
    for (const id of answer.ask) ask.add(id);
  }
  return ask.size === 0 ? { value: true } : { value: undefined, ask: [...ask] };
}

/** Plain words for questions that nobody answered: why something is open, and what the owner can say. */
export function openText(
  profile: Profile,
  machine: Machine | null,
  ask: readonly string[],
): { axes: string[]; text: string; settle: string } {
  const parts = ask.map((id) => question(profile, machine, id));
  return {
    axes: [...ask],
    text: `it depends on ${parts.map((part) => part.about).join(' and on ')}, which was not told`,
    settle: parts.map((part) => part.settle).join('; '),
  };
}

function question(profile: Profile, machine: Machine | null, id: string): { about: string; settle: string } {
  const axis = profile.axes.find((one) => one.id === id);
  // No release stands here as an example: it would read like the right one.
  if (id === 'installed')
    return machine?.nothingInstalled
      ? { about: 'the release that ran last', settle: 'say which release ran last: --was RELEASE' }
      : { about: 'the release that runs now', settle: 'say which release runs now: --installed RELEASE' };
  return {
    about: `the answer to "${axis?.ask ?? id}"`,
    settle: `answer "${axis?.ask ?? id}": --set ${id}=${exampleOf(profile, axis, id)}`,
  };
}

/** An answer that could be given: one of the values, or an end point of a range that the profile asks about. */
function exampleOf(profile: Profile, axis: Axis | undefined, id: string): string {
  const listed = valuesOf(profile, id)?.[0];
  if (listed !== undefined) return listed;
  const numbering = numberingOf(profile, id) ?? 'word';
  const builds = profile.builds === undefined || profile.builds === 'any' ? [] : profile.builds;
  const conditions = [
    ...profile.axes.flatMap((one) => Object.values(one.from ?? {})),
    ...builds.map((build) => build.for ?? {}),
  ];
  for (const condition of conditions) {
    const range = Object.hasOwn(condition, id) ? parseRange(condition[id]!, numbering).range : undefined;
    const value = range ? endPoints(range)[0] : undefined;
    if (value !== undefined) return value;
  }
  return axis?.numbering === 'date' ? '2026-01-31' : 'RELEASE';
}
