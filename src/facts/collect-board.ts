import { coverage } from '../board/coverage.js';
import { isCoreKey } from '../board/keys.js';
import type { Manifest } from '../board/manifest.js';
import type { Profile, ResolvedProfile, Said, UpdateProfile } from '../board/profile.js';
import { Absent, FactList, type FactRecord, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import { type FactDeclaration, factSchema } from './schema.js';

const noProfile = new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE');
const doesNotMatter = new Absent('the profile says that this does not matter');
const notSaid = new Absent('the profile does not say');

/**
 * Sets every `board.*` fact from a profile and the same profile resolved for one machine. A key with `any` is absent;
 * so is one that was left out, but a core key that was left out is unseen, since without it nothing is proved. What
 * depends on an answer that nobody gave is unseen too. Without a profile all are unseen.
 */
export function collectBoard(
  store: FactStore,
  resolved: ResolvedProfile | null,
  profile: Profile | null,
): void {
  if (resolved === null || profile === null) {
    store.setGroup('board', noProfile);
    return;
  }
  const said = whatIsSaid(resolved, profile);
  for (const [path, declaration] of Object.entries(factSchema))
    if (path.startsWith('board.'))
      store.set(path, factAt(path.slice('board.'.length), declaration, said, resolved), {
        origin: 'profile',
      });
  const { coreSilent } = coverage(profile);
  store.set(
    'board.coreComplete',
    coreSilent.length === 0 ||
      new Unseen(
        'profile-silent',
        `the board profile does not say: ${coreSilent.join(', ')}`,
        'ask the author of the profile for these keys',
      ),
    { origin: 'profile' },
  );
}

/** Sets `board.asPublished`: whether the profile is, byte for byte, the one that the release was published with. */
export function collectAsPublished(
  store: FactStore,
  manifest: Manifest | null,
  sha256: string | undefined,
): void {
  const published = manifest?.files.find(({ role }) => role === 'profile');
  if (published === undefined) {
    store.set('board.asPublished', new Absent('no release says which profile it was published with'));
    return;
  }
  store.set(
    'board.asPublished',
    sha256 === undefined
      ? new Unseen('not-visible', 'the file of the board profile was not compared with the release')
      : sha256 === published.sha256,
  );
}

/** The profile for this machine as one tree, whose dotted paths are those of the facts without `board.`. */
function whatIsSaid(resolved: ResolvedProfile, profile: Profile): Readonly<Record<string, unknown>> {
  const { loader, update, builds, processor } = resolved;
  return {
    ...profile,
    ...resolved,
    processor: typeof processor === 'object' ? processor.core : processor,
    loader: {
      ...loader,
      partitionTypes: loader.partitionTypes === 'any-but-zero' ? 'any' : loader.partitionTypes,
      partitionTypesAnyButZero: isWord(loader.partitionTypes, 'any-but-zero'),
      bootCodeMustBeZero: isWord(loader.bootCode, 'must-be-zero'),
    },
    update: { ...update, takes: takesOf(update), looksFor: looksForOf(update) },
    takesAnyBuild: builds === undefined ? undefined : builds === 'any',
  };
}

/** True for the word, false for another value; `any` and silence stay what they are. */
function isWord(said: unknown, word: string): Said<boolean> {
  return said === undefined || said === 'any' ? said : said === word;
}

function takesOf(update: UpdateProfile): Said<string> {
  return update.match === undefined || update.match === 'any' ? update.match : update.match.takes;
}

function looksForOf({ path, names, match }: UpdateProfile): Said<string[]> {
  if (path !== undefined && path !== 'any') return [path];
  if (names !== undefined && names !== 'any') return names;
  if (match !== undefined && match !== 'any') {
    const pattern = match.glob ?? (match.contains === undefined ? '*' : `*${match.contains}*`);
    return [match.folder === undefined ? pattern : `${match.folder}/${pattern}`];
  }
  return path ?? names ?? match;
}

/** Facts whose key in the profile has another name. */
const keyOfFact: Readonly<Record<string, string>> = {
  'loader.partitionTypesAnyButZero': 'loader.partitionTypes',
  'loader.bootCodeMustBeZero': 'loader.bootCode',
  'update.takes': 'update.match',
  takesAnyBuild: 'builds',
};

function factAt(
  path: string,
  declaration: FactDeclaration,
  said: Readonly<Record<string, unknown>>,
  resolved: ResolvedProfile,
): FactValue {
  // Three keys say which file the loader looks for; each of them may be what is open, and silence is about all.
  const keys =
    path === 'update.looksFor' ? ['update.path', 'update.names', 'update.match'] : [keyOfFact[path] ?? path];
  const open = Object.entries(resolved.open).find(([key]) =>
    keys.some((one) => one === key || one.startsWith(`${key}.`)),
  );
  if (open) return new Unseen('not-told', open[1].text, open[1].settle);
  let value: unknown = said;
  for (const name of path.split('.')) {
    if (value === 'any') break;
    value =
      typeof value === 'object' && value !== null && Object.hasOwn(value, name)
        ? (value as Readonly<Record<string, unknown>>)[name]
        : undefined;
  }
  if (value === 'any') return doesNotMatter;
  if (value !== undefined) return asFact(value, declaration);
  const key = keys[0] ?? path;
  // A core key with a value, such as one area of two limits, is not silent; what it leaves open does not matter.
  if (!isCoreKey(key)) return notSaid;
  return new Unseen(
    'profile-silent',
    `the board profile does not say: ${declaration.meaning}`,
    `ask the author of the profile for ${key}`,
  );
}

function asFact(value: unknown, declaration: FactDeclaration): FactValue {
  if (Array.isArray(value))
    return new FactList(
      value.map((item: unknown) => (declaration.item ? asRecord(item, declaration.item) : asScalar(item))),
    );
  return asScalar(value);
}

function asRecord(value: unknown, fields: Readonly<Record<string, FactDeclaration>>): FactRecord {
  const match = (value as { match?: object }).match;
  const from = { ...(value as Readonly<Record<string, unknown>>), ...match } as Readonly<
    Record<string, unknown>
  >;
  return Object.fromEntries(
    Object.keys(fields).map((name) => [name, from[name] === undefined ? notSaid : asScalar(from[name])]),
  );
}

function asScalar(value: unknown): FactValue {
  if (typeof value === 'string' || typeof value === 'number' || typeof value === 'boolean') return value;
  throw new Error('a key of the profile does not fit the type of its fact');
}
