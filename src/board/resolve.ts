import type { Machine } from '../machine/machine.js';
import { answerOf, holdsOn, openText } from './axes.js';
import { seenKeys } from './coverage.js';
import { loaderIds, loaderOf } from './keys.js';
import type {
  AreaByAxis,
  Companion,
  For,
  LoaderProfile,
  MemoryArea,
  Profile,
  ResolvedProfile,
  Said,
  UpdateByAxis,
  UpdateProfile,
} from './profile.js';

/** What is chosen for one machine: a value, or the questions that keep it open. */
type Choice<T> = { readonly value: T; readonly ask?: undefined } | { readonly ask: readonly string[] };

/**
 * The profile for one machine: the loader generation, and the entries of lists by axis whose `for` holds. What
 * depends on an answer that nobody gave is used all the same when every possible answer leads to the same value;
 * else it is left out and stands in `open`.
 * @param machine null: nothing is known about the machine
 */
export function resolveProfile(profile: Profile, machine: Machine | null): ResolvedProfile {
  const open: ResolvedProfile['open'] = {};
  const settled = <T>(key: string, choice: Choice<T>): T | undefined => {
    if (choice.ask === undefined) return choice.value;
    open[key] = openText(profile, machine, choice.ask);
    return undefined;
  };

  const { loader, loaderId } = resolveLoader(profile, machine, settled);
  const byAxis = <K extends UpdateByAxis>(key: K): UpdateProfile[K] => {
    const said: unknown = profile.update[key];
    return settled(`update.${key}`, chooseByAxis(profile, machine, said, key)) as UpdateProfile[K];
  };
  const area = (key: 'loader' | 'application'): Said<MemoryArea> =>
    settled(`memory.${key}`, chooseArea(profile, machine, profile.memory[key]));
  return {
    id: profile.id,
    title: profile.title,
    revision: profile.revision,
    processor: profile.processor,
    memory: {
      loader: area('loader'),
      application: area('application'),
      settings: settled('memory.settings', chooseSettings(profile, machine)),
    },
    loader,
    ...(loaderId === undefined ? {} : { loaderId }),
    update: {
      ...profile.update,
      path: byAxis('path'),
      names: byAxis('names'),
      match: byAxis('match'),
      encoding: byAxis('encoding'),
      bytes: byAxis('bytes'),
      skipBytes: byAxis('skipBytes'),
    },
    companions: settled('companions', chooseCompanions(profile, machine)),
    builds: profile.builds,
    card: profile.card,
    open,
    seenKeys: seenKeys(profile),
  };
}

function resolveLoader(
  profile: Profile,
  machine: Machine | null,
  settled: <T>(key: string, choice: Choice<T>) => T | undefined,
): { loader: LoaderProfile; loaderId?: string } {
  if (loaderIds(profile).length === 0) return { loader: profile.loader };
  const answer = answerOf(profile, machine, 'loader');
  if (answer.state === 'known') return { loader: loaderOf(profile, answer.value), loaderId: answer.value };
  const candidates = (answer.possible ?? loaderIds(profile)).map((id) => loaderOf(profile, id));
  const keys = new Set(candidates.flatMap((candidate) => Object.keys(candidate)));
  const loader = Object.fromEntries(
    [...keys].map((key) => {
      const values = candidates.map((candidate) => (candidate as unknown as Record<string, unknown>)[key]);
      return [key, settled(`loader.${key}`, agreeing(values, answer.ask))];
    }),
  );
  return { loader: loader as unknown as LoaderProfile };
}

/** The one value on which all agree; else the questions stay open. No value at all agrees on undefined. */
function agreeing<T>(values: readonly T[], ask: readonly string[]): Choice<T | undefined> {
  const first = values[0];
  return values.every((value) => isSame(value, first)) ? { value: first } : { ask };
}

/** `[{for, path}, …]`: the value of the first entry whose `for` holds. Anything else is the value itself. */
function chooseByAxis(
  profile: Profile,
  machine: Machine | null,
  said: unknown,
  key: string,
): Choice<unknown> {
  if (!Array.isArray(said) || !said.every((entry) => typeof entry === 'object' && entry !== null))
    return { value: said };
  return firstThatHolds(profile, machine, said as Record<string, unknown>[], (entry) => entry[key]);
}

function chooseArea(profile: Profile, machine: Machine | null, said: AreaByAxis): Choice<Said<MemoryArea>> {
  if (!Array.isArray(said)) return { value: said };
  return firstThatHolds(profile, machine, said, ({ start, bytes }) => ({ start, bytes }));
}

function firstThatHolds<E extends { for?: unknown }, T>(
  profile: Profile,
  machine: Machine | null,
  entries: readonly E[],
  pick: (entry: E) => T,
): Choice<T | undefined> {
  const possible: (T | undefined)[] = [];
  const ask = new Set<string>();
  for (const entry of entries) {
    const holds = holdsOn(profile, machine, entry.for as For | undefined);
    if (holds.value === false) continue;
    possible.push(pick(entry));
    if (holds.value === true) return agreeing(possible, [...ask]);
    for (const id of holds.ask) ask.add(id);
  }
  // Perhaps no entry holds: then the profile says nothing for this machine.
  return agreeing([...possible, undefined], [...ask]);
}

function chooseSettings(profile: Profile, machine: Machine | null): Choice<Said<MemoryArea[]>> {
  const said = profile.memory.settings;
  if (said === undefined || said === 'any') return { value: said };
  const choice = allThatHold(profile, machine, said);
  return choice.ask ? choice : { value: choice.value.map(({ start, bytes }) => ({ start, bytes })) };
}

function chooseCompanions(profile: Profile, machine: Machine | null): Choice<Said<Companion[]>> {
  const said = profile.companions;
  return said === undefined || said === 'any' ? { value: said } : allThatHold(profile, machine, said);
}

function allThatHold<E extends { for?: For }>(
  profile: Profile,
  machine: Machine | null,
  entries: readonly E[],
): Choice<E[]> {
  const ask = new Set<string>();
  const kept: E[] = [];
  for (const entry of entries) {
    const holds = holdsOn(profile, machine, entry.for);
    if (holds.value === undefined) for (const id of holds.ask) ask.add(id);
    else if (holds.value) kept.push(entry);
  }
  return ask.size > 0 ? { ask: [...ask] } : { value: kept };
}

/** Same value, whatever the order of keys in the file. */
function isSame(a: unknown, b: unknown): boolean {
  if (a === b) return true;
  if (typeof a !== 'object' || typeof b !== 'object' || a === null || b === null) return false;
  if (Array.isArray(a) !== Array.isArray(b)) return false;
  const names = Object.keys(a);
  return (
    names.length === Object.keys(b).length &&
    names.every(
      (name) =>
        Object.hasOwn(b, name) &&
        isSame((a as Record<string, unknown>)[name], (b as Record<string, unknown>)[name]),
    )
  );
}
