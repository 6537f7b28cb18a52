import { limits } from '../bytes/limits.js';
import { type Machine, suppliesOf } from '../machine/machine.js';
import { BuildTable } from './choose.js';
import { machineKinds } from './machine-kinds.js';
import type { Build, For, Profile, ResolvedProfile } from './profile.js';
import { conditionText } from './range-text.js';
import { resolveProfile } from './resolve.js';
import { joined } from './validate.js';

/** A machine for which a build is made, and the profile as it holds there. */
export interface BuildMachine {
  readonly machine: Machine;
  readonly resolved: ResolvedProfile;
  /** `machines with the newer boot loader`; empty when the build is tried on one kind only. */
  readonly text: string;
}

/**
 * The machines on which a build has to work: one for each way in which the profile differs among those that the
 * build is made for, with the weakest supply that meets its needs. Empty when the `for` of the build holds nowhere;
 * null when there are more kinds of machines than `limits` allow.
 */
export function machinesOf(profile: Profile, builds: readonly Build[], index: number): BuildMachine[] | null {
  const build = builds[index]!;
  // What differs by machine elsewhere in the profile tells machines apart as well.
  const others = conditionsOf(profile).map(
    (condition): Build => ({ id: '', title: '', kind: 'application', files: [], for: condition }),
  );
  const all = machineKinds(profile, null, [build, ...others], true);
  if (all === null || all.kinds.length > limits.releaseKinds) return null;
  const table = new BuildTable(profile, builds);
  const supply = weakestSupply(profile, table, index);
  const found = new Map<string, BuildMachine>();
  for (const { answers } of all.kinds) {
    if (!table.holds(index, answers)) continue;
    const { installed, ...rest } = answers;
    const machine: Machine = {
      answers: rest,
      ...(installed === undefined ? {} : { installed }),
      ...(supply === undefined ? {} : { supply }),
    };
    const resolved = resolveProfile(profile, machine);
    const key = JSON.stringify([resolved.memory, resolved.update, resolved.companions, resolved.loader]);
    if (found.has(key)) continue;
    found.set(key, { machine, resolved, text: answersText(profile, answers) });
    if (found.size > limits.releaseMachines) return null;
  }
  const machines = [...found.values()];
  return machines.length === 1 ? [{ ...machines[0]!, text: '' }] : machines;
}

/** Every condition on machines outside the builds. */
function conditionsOf({ memory, update, companions, loaders, axes }: Profile): For[] {
  const lists: unknown[] = [...Object.values(memory), ...Object.values(update), companions];
  const conditions = lists.flatMap((list) =>
    Array.isArray(list) ? list.flatMap((entry: { for?: For }) => (entry?.for ? [entry.for] : [])) : [],
  );
  const generations = Object.keys(loaders);
  if (generations.length > 0 && axes.some(({ id }) => id === 'loader'))
    conditions.push({ loader: generations });
  return conditions;
}

function weakestSupply(profile: Profile, table: BuildTable, index: number): Machine['supply'] {
  const met = suppliesOf(profile).filter(({ volts, amps }) =>
    table.meets(index, { state: 'known', volts, amps }),
  );
  const [first, ...rest] = met;
  if (first === undefined) return undefined;
  const { id, volts, amps } = rest.reduce((one, other) => (other.amps < one.amps ? other : one), first);
  return { id, volts, amps };
}

const answersText = (profile: Profile, answers: Readonly<Record<string, string>>): string =>
  `machines with ${joined(
    Object.entries(answers).map(([axis, value]) => conditionText(profile, axis, value)),
    'and',
  )}`;
