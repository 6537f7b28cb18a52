import { axisQuestion, type Choice, chooseBuild, machinesText, type Question } from '../board/choose.js';
import type { Manifest } from '../board/manifest.js';
import { type PowerFigures, powerOf } from '../board/power.js';
import type { Build, Companion, Profile, ResolvedProfile, Supply } from '../board/profile.js';
import { axisWords } from '../board/range-text.js';
import { resolveProfile } from '../board/resolve.js';
import type { Digests } from '../bytes/digests.js';
import { collectMachine } from '../facts/collect-machine.js';
import { collectRelease } from '../facts/collect-release.js';
import { FactList, isRecord, Unseen } from '../facts/fact.js';
import { FactStore } from '../facts/fact-store.js';
import { matchesGlob, nameCaseOf, splitPath, wantedFile } from '../facts/update-file-name.js';
import { type Machine, suppliesOf } from '../machine/machine.js';
import type { CardFile, ChoicePower, ChoiceReport, ReleaseFileState } from '../report/choice.js';

/** A release and a machine. */
export interface ChoiceSubject {
  readonly profile: Profile;
  readonly machine: Machine;
  /** Null: the release has none. */
  readonly manifest: Manifest | null;
  /** The bytes of a file of the release folder; null when they cannot be had. */
  readonly read: (path: string) => Uint8Array | null;
  readonly digests: Digests;
  readonly version: string;
  readonly inputs: ChoiceReport['inputs'];
  /** The command that checks the card afterwards, with `CARD` where the card stands. */
  readonly next: string;
}

/**
 * Which build of a release is for one machine, with everything that an owner needs to put it on a card. A build is not
 * recommended when its estimated peak is above the rating of the supply, when the release cannot be flashed over the
 * one that runs now, or when its file is not the published one.
 */
export function choiceReport(subject: ChoiceSubject): ChoiceReport {
  const { profile, machine, manifest } = subject;
  const choice = chooseBuild(profile, machine);
  const chosen = choice.builds.find(({ build }) => build.id === choice.preferred)?.build ?? null;
  const power = chosen === null ? null : powerFor(profile, chosen, machine);
  const file = chosen === null ? null : fileState(subject, chosen);
  const change = releaseChange(profile, machine, manifest, chosen);
  const obstacle =
    chosen === null || file === null
      ? null
      : (powerObstacle(chosen, power) ??
        changeObstacle(change) ??
        fileObstacle(chosen, file, manifest !== null));
  const questions = openQuestions(profile, machine, manifest);
  const isOpen = obstacle === null && chosen !== null && questions.length > 0;
  const build = obstacle === null && !isOpen ? chosen : null;
  return {
    schema: 'flashworthy-choice/1',
    tool: { name: 'flashworthy', version: subject.version },
    board: { id: profile.id, title: profile.title, revision: profile.revision },
    release: manifest?.release ?? null,
    inputs: subject.inputs,
    stated: statedAbout(machine),
    outcome: obstacle === null ? (isOpen ? 'open' : choice.outcome) : 'none',
    text: obstacle ?? (isOpen ? betweenText(questions) : choice.text),
    build: build?.id ?? null,
    assumes: choice.assumes,
    file,
    card:
      build === null
        ? []
        : cardFiles(subject, resolveProfile(profile, machine), { title: build.title, from: build.files[0]! }),
    builds: choice.builds.map((fit) => ({
      id: fit.build.id,
      title: fit.build.title,
      file: fit.build.files[0]!,
      kind: fit.build.kind,
      fitness: fit.fitness,
      preferred: fit.build.id === choice.preferred,
      machines: machinesText(profile, fit.build),
      text: fit.text,
      ...(fit.settle === undefined ? {} : { settle: fit.settle }),
    })),
    questions: obstacle === null ? questions : [],
    power,
    cautions: build === null ? [] : cautionsOf(subject, choice, file, change),
    next: build === null ? null : subject.next,
  };
}

/**
 * The questions that keep the choice open: those between whose answers the builds differ, and, once the build is
 * settled, the release that runs now where it decides whether this release may follow it at once.
 */
export function openQuestions(profile: Profile, machine: Machine, manifest: Manifest | null): Question[] {
  const choice = chooseBuild(profile, machine);
  if (choice.outcome !== 'one') return [...choice.questions];
  const chosen = choice.builds.find(({ build }) => build.id === choice.preferred)?.build ?? null;
  return releaseChange(profile, machine, manifest, chosen).isOpen
    ? [axisQuestion(profile, machine, 'installed')]
    : [];
}

const betweenText = (questions: readonly Question[]): string =>
  `Whether this release may follow the one on the machine at once depends on an answer that was not told: ${questions.map(({ ask }) => ask).join(' ')}`;

/** What the owner said, in words. */
function statedAbout(machine: Machine): ChoiceReport['stated'] {
  const { supply, supplyUnsure, installed, nothingInstalled, was, answers } = machine;
  return [
    ...(supply ? [{ axis: 'supply', text: `a supply of ${supply.volts} V and ${supply.amps} A` }] : []),
    ...(supplyUnsure ? [{ axis: 'supply', text: 'not sure which supply is fitted' }] : []),
    ...(installed === undefined ? [] : [{ axis: 'installed', text: `release ${installed} runs now` }]),
    ...(nothingInstalled ? [{ axis: 'installed', text: 'nothing runs now' }] : []),
    ...(was === undefined ? [] : [{ axis: 'installed', text: `release ${was} ran last` }]),
    ...Object.entries(answers).map(([axis, value]) => ({
      axis,
      text: axis === 'loader' ? `the ${value} boot loader` : `${axisWords(axis)} ${value}`,
    })),
  ];
}

// ---- the file of the build ----------------------------------------------------------------------------------

function fileState({ manifest, read, digests }: ChoiceSubject, build: Build): ReleaseFileState {
  const path = build.files[0]!;
  const bytes = read(path);
  if (bytes === null) return { path, state: 'missing', bytes: null, crc32: null, sha256: null };
  const [sha256, crc32] = [digests.sha256(), digests.crc32()];
  sha256.update(bytes);
  crc32.update(bytes);
  const found = { path, bytes: bytes.length, crc32: crc32.hex(), sha256: sha256.hex() };
  if (manifest === null) return { ...found, state: 'not-compared' };
  const isPublished = manifest.files.some(
    (one) =>
      one.path === path &&
      one.role === 'build' &&
      one.build === build.id &&
      one.bytes === found.bytes &&
      one.sha256 === found.sha256,
  );
  return { ...found, state: isPublished ? 'published' : 'differs' };
}

/** A profile by itself, without a release around it, tells which build it is all the same. */
function fileObstacle(build: Build, { path, state }: ReleaseFileState, isRelease: boolean): string | null {
  if (state === 'missing' && isRelease)
    return `The build for this machine is ${build.id}, but its file ${path} is not in the release folder: download the release again.`;
  return state === 'differs'
    ? `The build for this machine is ${build.id}, but its file ${path} is not the one that the manifest of this release describes: download the release again.`
    : null;
}

// ---- from the release on the machine to this one -------------------------------------------------------------

/** What the profile says about flashing this release over the one on the machine. */
interface ReleaseChange {
  readonly to: string | null;
  readonly from: string | null;
  /** Release that has to come in between. */
  readonly via: string | null;
  /** Why no older release can be flashed on this machine. */
  readonly locked: string | null;
  /** The loader would not take it in place of the one that runs. */
  readonly isIgnored: boolean;
  /** An answer about the release on the machine would decide one of these. */
  readonly isOpen: boolean;
  /** Plain sentences. */
  readonly remarks: readonly string[];
}

function releaseChange(
  profile: Profile,
  machine: Machine,
  manifest: Manifest | null,
  build: Build | null,
): ReleaseChange {
  const store = new FactStore();
  collectMachine(store, machine, profile);
  if (manifest !== null) store.set('image.release', manifest.release);
  collectRelease(store, profile, machine, build?.id ?? null);
  const text = (path: string): string | null => store.text(path) ?? null;
  const isTold = text('release.from') !== null;
  const deciding = ['release.stepVia', 'release.lockedSince', 'release.taken'];
  const since = text('release.lockedSince');
  return {
    from: text('release.from'),
    to: manifest?.release ?? null,
    via: text('release.stepVia'),
    locked:
      since === null
        ? null
        : `From release ${since} on no older one can be flashed (${text('release.lockedBecause') ?? 'as the board profile says'}), and this machine is there already.`,
    isIgnored: store.value('release.taken') === false,
    isOpen: manifest !== null && !isTold && deciding.some((path) => store.value(path) instanceof Unseen),
    remarks: remarksOf(store),
  };
}

function remarksOf(store: FactStore): string[] {
  const listOf = (path: string): string[] => {
    const value = store.value(path);
    return value instanceof FactList
      ? [...value.items].map((one) => (isRecord(one) ? String(one.text) : String(one)))
      : [];
  };
  const toNote = listOf('release.settingsToNote');
  const dropped = listOf('release.settingsDropped');
  const changes = store.value('release.layoutChanges') === true;
  // Between two releases that store them alike nothing was dropped or renamed.
  const isAlike = store.value('release.layoutChanges') === false;
  const noWayBack = store.text('release.noWayBackFrom');
  return [
    ...listOf('release.notes'),
    ...(noWayBack === undefined ? [] : ['There is no way back from this build by card.']),
    ...(toNote.length === 0
      ? []
      : [
          `${changes ? 'This release stores its settings in another way: w' : 'W'}rite down the settings before the flash and enter these again afterwards: ${toNote.join(', ')}.`,
        ]),
    ...(dropped.length === 0 || isAlike ? [] : [`Settings that exist no longer: ${dropped.join(', ')}.`]),
    ...(isAlike ? [] : listOf('release.settingsRenamed').map((one) => `${one}.`)),
    ...listOf('release.remarks'),
  ];
}

function changeObstacle({ from, to, via, locked, isIgnored }: ReleaseChange): string | null {
  if (via !== null)
    return `Release ${to} cannot be flashed over release ${from} at once: flash release ${via} first, then choose again.`;
  if (locked !== null) return locked;
  return isIgnored
    ? `The boot loader of this machine would not take release ${to} in place of release ${from}, which runs now.`
    : null;
}

// ---- power --------------------------------------------------------------------------------------------------

/** The supply with which figures are compared when the owner named none: the one that gives least. */
function smallestListed(profile: Profile, build: Build): Supply | null {
  const fitting = suppliesOf(profile).filter(
    ({ volts }) => build.needs?.volts === undefined || volts === build.needs.volts,
  );
  return fitting.reduce<Supply | null>(
    (least, one) => (least === null || one.volts * one.amps < least.volts * least.amps ? one : least),
    null,
  );
}

/** The figures of a build, rounded to thousandths; null when the profile lists no loads. */
function powerFor(profile: Profile, build: Build, machine: Machine): ChoicePower | null {
  const loads = profile.loads === undefined || profile.loads === 'any' ? [] : profile.loads;
  if (loads.length === 0) return null;
  const supply = machine.supply ?? smallestListed(profile, build);
  const figures = powerOf(profile, build, supply);
  const { peak, sustained, sustainedRating, rating } = figures;
  const titles = new Map(loads.map((load) => [load.id, load.title ?? load.id]));
  return {
    rating:
      rating === null || supply === null
        ? null
        : {
            watts: rounded(rating.watts),
            amps: rating.amps,
            volts: supply.volts,
            whose: machine.supply ? 'fitted' : 'smallest-listed',
          },
    peak: peak && {
      watts: rounded(peak.watts),
      amps: rounded(peak.amps),
      limitAmps: peak.limitedBy?.amps ?? null,
      marginWatts: rating && rounded(rating.watts - peak.watts),
    },
    sustained: sustained && {
      watts: rounded(sustained.watts),
      amps: rounded(sustained.amps),
      ratingWatts: sustainedRating && rounded(sustainedRating.watts),
      marginWatts: sustainedRating && rounded(sustainedRating.watts - sustained.watts),
    },
    derating: figures.derating,
    heating: figures.heating.map((one) => ({
      load: one.load,
      title: titles.get(one.load) ?? one.load,
      levelsOffAt: rounded(one.levelsOffAt),
      target: one.target,
      ambient: one.ambient,
      boundBy: one.boundBy,
    })),
    notKnown: notKnownTexts(figures, titles),
  };
}

const notKnownTexts = ({ notKnown }: PowerFigures, titles: ReadonlyMap<string, string>): string[] =>
  notKnown.map(({ load, because }) => `${titles.get(load) ?? load}: ${because}`);

/** To thousandths: sums of shares must not be over a rating by the last bit. Adding zero drops a negative zero. */
const rounded = (value: number): number =>
  Number.isFinite(value) ? Math.round(value * 1000) / 1000 + 0 : Number.MAX_SAFE_INTEGER;

/** Nothing above a rating is recommended, whatever the conditions of the build say. */
function powerObstacle(build: Build, power: ChoicePower | null): string | null {
  const { peak, rating } = power ?? {};
  if (!peak || !rating || (peak.marginWatts ?? 0) >= 0) return null;
  const whose = rating.whose === 'fitted' ? 'the fitted supply' : 'the smallest supply of this board';
  return `By its conditions the build for this machine is ${build.id}, but by the numbers of the profile it may draw ${peak.amps} A, and ${whose} gives ${rating.amps} A: nothing above a rating is recommended. Ask the author of the release.`;
}

// ---- the card -----------------------------------------------------------------------------------------------

/** What a card has to hold: the update file, then each companion of the profile in its order. */
export function cardFiles(
  subject: Pick<ChoiceSubject, 'machine' | 'manifest' | 'read'>,
  resolved: ResolvedProfile,
  { title, from }: { readonly title: string; readonly from: string },
): CardFile[] {
  const update: CardFile = {
    role: 'update',
    title,
    from,
    ...nameOnCard(resolved, subject.machine, from),
    required: true,
  };
  const { companions } = resolved;
  if (companions === undefined && resolved.open.companions)
    return [
      update,
      {
        role: 'companion',
        title: 'files beside it',
        from: null,
        to: null,
        required: true,
        note: `${resolved.open.companions.text}: ${resolved.open.companions.settle}`,
      },
    ];
  if (companions === undefined || companions === 'any') return [update];
  return [update, ...companions.map((companion) => companionFile(subject, resolved, companion, from))];
}

/** Under which name the update file has to lie on the card of this machine. */
function nameOnCard(
  resolved: ResolvedProfile,
  machine: Machine,
  from: string,
): { to: string | null; note?: string } {
  const { update, open } = resolved;
  const isNew = update.naming === 'new-each-time';
  const notes = isNew ? ['the name must be another one than at the last flash'] : [];
  const wanted = wantedFile(resolved);
  if (wanted === null) {
    const unsettled = open['update.path'] ?? open['update.names'] ?? open['update.match'];
    if (unsettled) return { to: null, note: `${unsettled.text}: ${unsettled.settle}` };
    const isAny = [update.path, update.names, update.match].includes('any');
    return {
      to: null,
      note: isAny
        ? 'any name will do'
        : 'the board profile does not say under which name the board looks for it',
    };
  }
  const inFolder = (name: string): string => (wanted.folder === '' ? name : `${wanted.folder}/${name}`);
  if (wanted.pattern === null) {
    // Where the name must change, one of the others is free.
    const fresh = wanted.places.find(
      ({ name }) => !isNew || name.toUpperCase() !== machine.lastFileName?.toUpperCase(),
    );
    const first = fresh ?? wanted.places[0];
    if (wanted.places.length > 1)
      notes.push(`the board looks for ${wanted.text}, in this order: only one of them may be on the card`);
    const to = first ? [first.folder, first.name].filter((part) => part !== '').join('/') : null;
    return { to, ...noted(notes) };
  }
  const { glob, contains } = wanted.pattern;
  const { name } = splitPath(from);
  const nameCase = nameCaseOf(resolved);
  const matches = glob === undefined ? name.includes(contains ?? '') : matchesGlob(name, glob, nameCase);
  notes.push(`the board looks for ${wanted.text}: no other file there may have such a name`);
  return { to: matches && !isNew ? inFolder(name) : null, ...noted(notes) };
}

const noted = (notes: readonly string[]): { note?: string } =>
  notes.length === 0 ? {} : { note: notes.join('; ') };

function companionFile(
  { manifest, read }: Pick<ChoiceSubject, 'manifest' | 'read'>,
  resolved: ResolvedProfile,
  companion: Companion,
  updateFile: string,
): CardFile {
  const { path, glob, title, role, required } = companion;
  const wanted = splitPath(path ?? glob ?? '');
  const nameCase = nameCaseOf(resolved);
  const isIt = (name: string): boolean =>
    path === undefined
      ? matchesGlob(name, wanted.name, nameCase)
      : name.toUpperCase() === wanted.name.toUpperCase();
  const listed = (manifest?.files ?? []).find(
    (file) => file.role === 'companion' && isIt(splitPath(file.path).name),
  );
  const beside = manifest === null && path !== undefined && read(path) !== null ? path : null;
  const from = companion.content === 'same-as-update' ? updateFile : (listed?.path ?? beside);
  const notes: string[] = [];
  if (companion.content === 'same-as-update') notes.push('the same bytes as the update file');
  if (from === null)
    notes.push(
      companion.from === undefined
        ? 'it is not in the release folder'
        : `it is not in the release folder; it comes with release ${companion.from}`,
    );
  if (!required) notes.push('it may be left out');
  const found = from === null ? null : splitPath(from).name;
  const named = [wanted.folder, found ?? ''].filter((part) => part !== '').join('/');
  const to = path ?? (found === null ? null : named);
  return { role: 'companion', title: title ?? roleTitles[role], from, to, required, ...noted(notes) };
}

const roleTitles: Readonly<Record<Companion['role'], string>> = {
  trigger: 'file that makes the board flash',
  flasher: 'program that does the flashing',
  asset: 'file that the program reads',
  settings: 'settings',
  stays: 'file that stays on the card',
};

// ---- cautions -----------------------------------------------------------------------------------------------

const dangers = {
  mains:
    'Parts of this machine carry mains voltage: unplug it before you open it. Work on mains parts is for licensed people, and local codes come first.',
  hot: 'Parts of this machine get hot: let them cool down before you begin.',
  moving: 'Parts of this machine may move by themselves at the first start: keep your hands away.',
} as const;

/** What to beware of at the machine itself, in plain sentences. */
export const dangersOf = ({ cautions }: Profile): string[] =>
  Array.isArray(cautions) ? cautions.map((danger) => dangers[danger]) : [];

function cautionsOf(
  { profile, machine, manifest, inputs }: ChoiceSubject,
  choice: Choice,
  file: ReleaseFileState | null,
  change: ReleaseChange,
): string[] {
  const cautions: string[] = [];
  if (choice.assumes !== null) cautions.push(`It is assumed that ${choice.assumes}.`);
  if (machine.supplyUnsure)
    cautions.push(
      'Read the label of the supply as soon as you can: another build may be meant for this machine.',
    );
  if (file?.state === 'missing')
    cautions.push('The file of the build is not here: get the whole release, and name its folder.');
  else if (manifest === null)
    cautions.push(
      'There is no release manifest, so the file of the build could not be compared with a published one.',
    );
  const published = manifest?.files.filter(({ role }) => role === 'profile') ?? [];
  const read = inputs.find(({ role }) => role === 'board profile');
  if (read && published.length > 0 && !published.some(({ sha256 }) => sha256 === read.sha256))
    cautions.push(
      'The board profile is not the one that was published with this release: somebody changed it.',
    );
  if (profile.card.otherFiles === 'forbidden') cautions.push('Nothing else may be on the card.');
  cautions.push(...change.remarks);
  cautions.push(...dangersOf(profile));
  return cautions;
}
