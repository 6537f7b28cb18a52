import { coreKeys, isCoreKey, loaderIds, loaderOf, profileKeys } from './keys.js';
import type { Basis, Profile } from './profile.js';

/** What a profile leaves out: all keys, and of these the core keys, without which no card is fit. */
export interface Coverage {
  readonly silent: string[];
  readonly coreSilent: string[];
}

/**
 * The keys that the author left out, such as `loader.fragments`, in the order of the schema. A key of `loader` is
 * left out when any loader generation has no word about it.
 */
export function coverage(profile: Profile): Coverage {
  const silent = profileKeys().filter((key) => !says(profile, key));
  return { silent, coreSilent: coreKeys.filter((key) => silent.includes(key)) };
}

/** Whether the author wrote something about a key, be it `any`. */
export function says(profile: Profile, key: string): boolean {
  if (key === 'update.path')
    return [profile.update.path, profile.update.names, profile.update.match].some(
      (said) => said !== undefined,
    );
  const [group, name] = key.split('.');
  if (group === 'loader' && name !== undefined) {
    const generations = loaderIds(profile);
    return (generations.length > 0 ? generations : [undefined]).every(
      (generation) => valueAt(loaderOf(profile, generation), [name]) !== undefined,
    );
  }
  return valueAt(profile, key.split('.')) !== undefined;
}

/** How the author knows what the profile says under a key; undefined when that is not said. */
export function basisOf(profile: Profile, key: string): Basis | undefined {
  const basis = profile.basis;
  if (basis === undefined || typeof basis === 'string') return basis;
  // The closest word counts: `loader.clusterBytes` before `loader` before `default`.
  for (let name = key; name !== ''; name = name.slice(0, Math.max(name.lastIndexOf('.'), 0)))
    if (Object.hasOwn(basis, name)) return basis[name];
  return Object.hasOwn(basis, 'default') ? basis.default : undefined;
}

/** Keys with a value that was only seen to work: what merely differs from one of them is unknown, not failed. */
export function seenKeys(profile: Profile): string[] {
  return profileKeys().filter((key) => basisOf(profile, key) === 'seen' && says(profile, key));
}

/** Whether a name in `basis` is a key, or a group of keys. */
export function isBasisKey(name: string): boolean {
  return (
    name === 'default' ||
    profileKeys().some((key) => key === name || key.startsWith(`${name}.`)) ||
    isCoreKey(name)
  );
}

function valueAt(value: unknown, path: readonly string[]): unknown {
  let inner = value;
  for (const name of path)
    inner =
      typeof inner === 'object' && inner !== null && Object.hasOwn(inner, name)
        ? (inner as Readonly<Record<string, unknown>>)[name]
        : undefined;
  return inner;
}
