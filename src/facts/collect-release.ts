import { holdsOn, openText } from '../board/axes.js';
import { releaseNumbering } from '../board/check.js';
import type { Build, Profile, Said } from '../board/profile.js';
import { compareValues, inRange, valueProblem } from '../board/ranges.js';
import type { Machine } from '../machine/machine.js';
import { type Hazard, hazards } from '../rules/rule.js';
import { Absent, FactList, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';

const derived = { origin: 'derived' } as const;

/** One of the two releases: a value that can be compared, or why there is none. Absent: the profile takes any build. */
type Release = string | Unseen | Absent;

/** The release on the card and the one on the machine, and how releases are compared. */
interface Pair {
  readonly profile: Profile;
  readonly machine: Machine | null;
  /** Release that runs now; when nothing runs, the one that ran last. */
  readonly from: Release;
  /** Release of the build on the card. */
  readonly to: Release;
}

/**
 * Sets every `release.*` fact: what the profile says about going from the release on the machine to the one on the
 * card. Called after the identity of the update file was set. Nothing is judged here.
 * @param machine null: nothing was told about it
 * @param buildId the build on the card; null when it is not known
 */
export function collectRelease(
  store: FactStore,
  profile: Profile | null,
  machine: Machine | null,
  buildId: string | null,
): void {
  if (profile === null) {
    store.setGroup('release', noProfile);
    return;
  }
  const pair: Pair = {
    profile,
    machine,
    from: comparable(profile, installedRelease(store)),
    to: comparable(profile, store.value('image.release')),
  };
  store.set('release.from', pair.from, derived);
  store.set('release.direction', direction(pair), derived);
  store.set('release.stepVia', stepVia(pair), derived);
  const lock = locks(pair);
  store.set('release.lockedSince', lock.lockedSince, derived);
  store.set('release.lockedBecause', lock.lockedBecause, derived);
  store.set('release.locksBecause', lock.locksBecause, derived);
  const build = listOf(profile.builds).find((one) => one.id === buildId) ?? null;
  store.set('release.noWayBackFrom', noWayBackFrom(pair, build), derived);
  store.set('release.taken', isTaken(pair, store), derived);
  collectLayouts(store, pair);
  collectNotes(store, pair);
}

const noProfile = new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE');

const listOf = <T>(said: Said<readonly T[]>): readonly T[] =>
  said === undefined || said === 'any' ? [] : said;

function installedRelease(store: FactStore): FactValue {
  const installed = store.value('machine.installed');
  return installed instanceof Absent ? store.value('machine.was') : installed;
}

function comparable(profile: Profile, value: FactValue): Release {
  if (value instanceof Unseen || value instanceof Absent) return value;
  if (typeof value !== 'string') return new Unseen('not-visible', 'the release is not known');
  const problem = valueProblem(value, releaseNumbering(profile));
  return problem === undefined
    ? value
    : new Unseen('profile-silent', `releases of this board are numbered in another way: ${problem}`);
}

const isIn = ({ profile }: Pair, release: string, range: string | readonly string[]): boolean =>
  inRange(release, range, releaseNumbering(profile));
const order = ({ profile }: Pair, a: string, b: string): number =>
  compareValues(a, b, releaseNumbering(profile));

/** Null when both releases are known; else why one is not, the machine's first, since its owner can say it. */
function whyNoPair({ from, to }: Pair): Unseen | Absent | null {
  for (const release of [from, to]) if (release instanceof Unseen) return release;
  for (const release of [from, to]) if (release instanceof Absent) return release;
  return null;
}

function direction(pair: Pair): FactValue {
  const { from, to } = pair;
  if (typeof from !== 'string' || typeof to !== 'string') return whyNoPair(pair)!;
  const compared = order(pair, to, from);
  return compared > 0 ? 'newer' : compared < 0 ? 'older' : 'same';
}

/** The release that has to be flashed in between. What the known one of the two rules out is not unseen. */
function stepVia(pair: Pair): FactValue {
  const { profile, from, to } = pair;
  const steps = listOf(profile.releases.steps);
  const possible = steps.filter(
    (step) =>
      (typeof from !== 'string' || isIn(pair, from, step.from)) &&
      (typeof to !== 'string' || isIn(pair, to, step.to)),
  );
  const [first] = possible;
  if (first === undefined)
    return new Absent(
      steps.length === 0
        ? 'the profile names no release that has to come in between'
        : 'no release has to come in between',
    );
  return whyNoPair(pair) ?? first.via;
}

/**
 * Locks: releases behind which no older one can be flashed. `locked…`: the machine is behind one and the card is not.
 * `locksBecause`: the card leads the machine behind one.
 */
function locks(pair: Pair): Record<'lockedSince' | 'lockedBecause' | 'locksBecause', FactValue> {
  const { profile, from, to } = pair;
  const all = listOf(profile.releases.locks);
  // Null: cannot be told.
  const isBehind = (release: Release, lock: string): boolean | null =>
    typeof release === 'string' ? order(pair, release, lock) >= 0 : null;
  const look = (isFromBehind: boolean, text: string) => {
    const possible = all.filter(
      (lock) => isBehind(from, lock.from) !== !isFromBehind && isBehind(to, lock.from) !== isFromBehind,
    );
    const certain = possible.filter(
      (lock) => isBehind(from, lock.from) !== null && isBehind(to, lock.from) !== null,
    );
    return { lock: certain[0], none: possible.length > 0 ? whyNoPair(pair)! : new Absent(text) };
  };
  const back = look(true, 'no lock keeps this release from being flashed');
  const ahead = look(false, 'this release locks nothing that was open');
  return {
    lockedSince: back.lock?.from ?? back.none,
    lockedBecause: back.lock?.because ?? back.none,
    locksBecause: ahead.lock?.because ?? ahead.none,
  };
}

/** The release from which on this build cannot be put back by card, when the machine is not there yet. */
function noWayBackFrom(pair: Pair, build: Build | null): FactValue {
  const { profile, from, to } = pair;
  const hasAny = listOf(profile.builds).some((one) => one.cannotReturnFrom !== undefined);
  if (!hasAny) return new Absent('every build of the profile can be put back by card');
  if (build === null)
    return typeof to === 'string' ? new Unseen('not-visible', 'which build is on the card is not known') : to;
  const since = build.cannotReturnFrom;
  const canReturn = new Absent('there is a way back from this build by card');
  if (since === undefined) return canReturn;
  if (typeof to === 'string' && order(pair, to, since) < 0) return canReturn;
  if (typeof from === 'string' && order(pair, from, since) >= 0)
    return new Absent('the machine has gone past the way back already');
  return whyNoPair(pair) ?? since;
}

/** Whether the loader takes this release in place of the one that runs, by what it compares. */
function isTaken(pair: Pair, store: FactStore): FactValue {
  const { takes, comparedBy } = pair.profile.releases;
  if (takes === undefined || takes === 'any') return new Absent('this loader takes any release');
  const nothingRuns = store.value('machine.nothingInstalled') === true;
  if (nothingRuns) return new Absent('nothing runs now with which this loader could compare the release');
  if (comparedBy === 'name') return isNameTaken(takes, store);
  const compared = direction(pair);
  if (typeof compared !== 'string') return compared;
  if (takes === 'newer') return compared === 'newer';
  // A checksum tells builds of one release apart too, and nobody said which of them runs.
  if (compared === 'same' && comparedBy === 'checksum')
    return new Unseen(
      'not-told',
      'this loader takes a file with other bytes than those that run, and which build of this release runs was not told',
      'flash a build of another release',
    );
  return compared !== 'same';
}

function isNameTaken(takes: 'newer' | 'different', store: FactStore): FactValue {
  const name = store.value('updateFile.name');
  const last = store.value('machine.lastFileName');
  for (const one of [last, name]) if (one instanceof Unseen || one instanceof Absent) return one;
  const [now, before] = [String(name).toUpperCase(), String(last).toUpperCase()];
  return takes === 'newer' ? now > before : now !== before;
}

/** The layouts of the stored settings before and after, and what the owner has to write down. */
function collectLayouts(store: FactStore, pair: Pair): void {
  const { profile, machine } = pair;
  const { layouts, carry, dropped, renamed } = profile.settings;
  const layoutOf = (release: Release): FactValue => {
    if (listOf(layouts).length === 0) return new Absent('the profile tells no layouts of settings apart');
    if (typeof release !== 'string') return release;
    return (
      listOf(layouts).find((one) => isIn(pair, release, one.releases))?.id ??
      new Unseen(
        'profile-silent',
        `the profile does not say how release ${release} stores its settings`,
        'ask the author of the profile for settings.layouts',
      )
    );
  };
  const [before, after] = [layoutOf(pair.from), layoutOf(pair.to)];
  store.set('release.layoutBefore', before, derived);
  store.set('release.layoutAfter', after, derived);
  const missing =
    [before, after].find((one) => one instanceof Unseen) ??
    [before, after].find((one) => one instanceof Absent);
  const onlyOne = listOf(layouts).length === 1;
  store.set(
    'release.layoutChanges',
    listOf(layouts).length > 0 && onlyOne ? false : (missing ?? before !== after),
    derived,
  );
  // `any`: the author says that no setting has to be carried over; silence leaves the owner alone with it.
  store.set('release.settingsNamed', carry !== undefined, derived);
  store.set('release.settingsToNote', new FactList([...listOf(carry)]), { origin: 'profile' });
  store.set('release.settingsDropped', new FactList([...listOf(dropped)]), { origin: 'profile' });
  store.set(
    'release.settingsRenamed',
    new FactList(
      Object.entries(renamed === undefined || renamed === 'any' ? {} : renamed).map(
        ([old, now]) => `${old} is called ${now} now`,
      ),
    ),
    { origin: 'profile' },
  );
  store.set('release.settingsNoted', (machine?.settingsNoted ?? 0) > 0, derived);
}

/** The notes of the profile about the release on the card that are for this machine. */
function collectNotes(store: FactStore, pair: Pair): void {
  const { profile, machine, to } = pair;
  const notes = listOf(profile.releases.notes);
  if (notes.length === 0) {
    const none = new Absent('the profile has no notes about releases');
    for (const path of ['release.notes', 'release.remarks', 'release.worstNote'])
      store.set(path, none, derived);
    return;
  }
  const inForce: { hazard: Hazard; text: string }[] = [];
  const open: { hazard: Hazard; why: Unseen }[] = [];
  for (const { release, hazard, text, for: condition } of notes) {
    const holds = holdsOn(profile, machine, condition);
    if (holds.value === false) continue;
    if (to instanceof Unseen) open.push({ hazard, why: to });
    if (typeof to !== 'string' || !isIn(pair, to, release)) continue;
    if (holds.value === true) {
      inForce.push({ hazard, text });
      continue;
    }
    const asked = openText(profile, machine, holds.ask);
    open.push({
      hazard,
      why: new Unseen(
        'not-told',
        `whether a warning about release ${to} is for this machine: ${asked.text}`,
        asked.settle,
      ),
    });
  }
  const incomplete = open.find(({ hazard }) => hazard !== 'advice')?.why;
  const grave = inForce.filter(({ hazard }) => hazard !== 'advice');
  store.set(
    'release.notes',
    new FactList(
      grave.map(({ hazard, text }) => ({ hazard, text })),
      incomplete,
    ),
    derived,
  );
  const remarks = inForce.filter(({ hazard }) => hazard === 'advice').map(({ text }) => text);
  store.set('release.remarks', new FactList(remarks), derived);
  const worst = hazards.find((hazard) => grave.some((one) => one.hazard === hazard));
  store.set(
    'release.worstNote',
    worst ?? incomplete ?? new Absent('no warning about this release is for this machine'),
    derived,
  );
}
