import type { LoaderProfile, Profile } from './profile.js';
import { boardSchema, type SchemaNode } from './schema/validators.js';
import { resolve } from './validate.js';

/** The maps of a profile whose keys stand for themselves: `loader.fragments`. */
export const groupNames = [
  'memory',
  'loader',
  'application',
  'card',
  'update',
  'releases',
  'settings',
] as const satisfies readonly (keyof Profile)[];
export type GroupName = (typeof groupNames)[number];

/** Keys without which nobody can say that a card is fit. `update.path` stands for `update.names` and `update.match` too. */
export const coreKeys = [
  'memory.application',
  'loader.partitioning',
  'loader.takesPartition',
  'loader.fileSystems',
  'loader.erases',
  'update.path',
  'update.encoding',
  'update.checks',
  'builds',
] as const;

/** Keys that describe the profile or serve others; leaving them out says nothing about the board. */
const notCounted = ['schema', 'id', 'title', 'revision', 'basis', 'axes', 'loaders', 'waive'];

/** Names of the keys of a group such as `loader`, in the order of the schema. */
export function keysOfGroup(group: GroupName): readonly string[] {
  return Object.keys(propertiesOf(propertiesOf(boardSchema)[group] ?? {}));
}

/**
 * Every key by which a profile may say something about the board, in the order of the schema: `processor`,
 * `memory.loader`, `loader.fragments`. `update.path` stands for its alternatives `update.names` and `update.match`.
 */
export function profileKeys(): readonly string[] {
  return Object.keys(propertiesOf(boardSchema))
    .filter((key) => !notCounted.includes(key))
    .flatMap((key) => {
      const group = groupNames.find((name) => name === key);
      return group ? keysOfGroup(group).map((inner) => `${group}.${inner}`) : [key];
    })
    .filter((key) => key !== 'update.names' && key !== 'update.match');
}

/** Whether a key, or the key that it lies below, is a core key: `memory.application.start` is. */
export function isCoreKey(key: string): boolean {
  return coreKeys.some((core) => key === core || key.startsWith(`${core}.`));
}

/** Loader generations that the profile tells apart, in its order; empty when it tells none apart. */
export function loaderIds(profile: Profile): readonly string[] {
  const axis = profile.axes.find((one) => one.id === 'loader');
  return axis?.values ?? Object.keys(axis?.from ?? profile.loaders);
}

/** The loader of one generation: the common part, with what that generation changes. */
export function loaderOf(profile: Profile, generation: string | undefined): LoaderProfile {
  const own =
    generation !== undefined && Object.hasOwn(profile.loaders, generation) ? profile.loaders[generation] : {};
  return { ...profile.loader, ...own };
}

function propertiesOf(schema: unknown): Readonly<Record<string, unknown>> {
  const node = resolve(schema as SchemaNode, boardSchema);
  if (Array.isArray(node.anyOf))
    return node.anyOf.map(propertiesOf).find((found) => Object.keys(found).length > 0) ?? {};
  return (node.properties ?? {}) as Readonly<Record<string, unknown>>;
}
