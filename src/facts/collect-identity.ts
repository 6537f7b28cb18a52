import {
  type BuildFit,
  type Choice,
  chooseBuild,
  machinesText,
  reasonsText,
  settleText,
} from '../board/choose.js';
import {
  type Candidate,
  type Identity,
  identify,
  type Manifest,
  nearMiss,
  nearMissText,
} from '../board/manifest.js';
import { findMarkers, type MarkersFound } from '../board/markers.js';
import type { Build, Profile, ResolvedProfile } from '../board/profile.js';
import type { Decoded } from '../firmware/encodings/encoding.js';
import type { Machine } from '../machine/machine.js';
import { Absent, FactList, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';

/** Everything by which a firmware file is known. */
export interface IdentitySubject {
  /** All bytes of the file; null when there is no file or they did not come whole. */
  readonly bytes: Uint8Array | null;
  /** SHA-256 of the file, or why there is none. */
  readonly sha256: FactValue;
  /** The decoded file; null when it is no firmware. */
  readonly decoded: Decoded | null;
  readonly profile: Profile | null;
  readonly resolved: ResolvedProfile | null;
  /** Null: no manifest was given. */
  readonly manifest: Manifest | null;
  /** Null: nothing was told about the machine. */
  readonly machine: Machine | null;
  /** Published files to compare with when the file equals none; those of the release folder. */
  readonly candidates: readonly Candidate[];
}

/** Which build a file is, and which one the machine wants. */
export interface IdentityFound {
  /** Id of the build that the file is by its SHA-256, or that it seems to be by its marker; null when neither. */
  readonly buildId: string | null;
  /** Null without a profile. */
  readonly choice: Choice | null;
}

const noProfile = new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE');
const noManifest = new Unseen(
  'not-visible',
  'no release manifest was given, so the file was compared with no published build',
  'name the release folder: --board FOLDER, or its manifest: --manifest FILE',
);
const anyBuild = new Absent('the board profile accepts every build');
const derived = { origin: 'derived' } as const;

/**
 * Sets the facts `image.*` that say which build a firmware file is and whether that is the build for this machine. Only
 * the SHA-256 makes a known build; markers say what a file seems to be. A build that only its marker names is never
 * counted as right, but may be counted as wrong.
 */
export function collectIdentity(store: FactStore, subject: IdentitySubject): IdentityFound {
  const { profile, manifest } = subject;
  const identity =
    typeof subject.sha256 === 'string' && subject.bytes !== null && manifest !== null
      ? identify({ sha256: subject.sha256, bytes: subject.bytes.length }, manifest)
      : null;
  const markers = markersOf(subject);
  const known = knownBuild(identity, profile);
  const guess = markers instanceof Unseen || markers instanceof Absent ? null : onlyOne(markers.builds);
  setIdentity(store, subject, identity, known, guess);
  setMarkers(store, subject, markers, known);
  setNearMiss(store, subject, identity);
  const choice = profile === null ? null : chooseBuild(profile, subject.machine);
  setChoice(store, choice);
  const buildId = known ?? guess;
  setBuild(store, subject, choice, known, guess);
  return { buildId, choice };
}

const onlyOne = (ids: readonly string[]): string | null => (ids.length === 1 ? ids[0]! : null);

const buildsOf = (profile: Profile | null): readonly Build[] =>
  profile?.builds === undefined || profile.builds === 'any' ? [] : profile.builds;

/** The build whose update file has these bytes; a further file of a build is not what a loader is given. */
export function knownBuild(identity: Identity | null, profile: Profile | null): string | null {
  if (identity?.state !== 'known' || identity.file.role !== 'build') return null;
  const { path, build: id } = identity.file;
  const build = buildsOf(profile).find((one) => one.id === id);
  if (build && build.files.indexOf(path) > 0) return null;
  return id ?? null;
}

/** Why nothing can be said about the file at all; null when its bytes are there. */
function whyNoFile({ bytes, sha256 }: IdentitySubject): Unseen | Absent | null {
  if (sha256 instanceof Unseen || sha256 instanceof Absent) return sha256;
  return bytes === null
    ? new Unseen('over-limit', 'the update file is larger than flashworthy reads, or was not read to its end')
    : null;
}

function setIdentity(
  store: FactStore,
  subject: IdentitySubject,
  identity: Identity | null,
  known: string | null,
  guess: string | null,
): void {
  const { profile } = subject;
  const missing = whyNoFile(subject);
  const isAny = profile?.builds === 'any';
  const unknownFile = new Absent('the file equals none of the published builds');
  const withoutManifest = isAny ? anyBuild : noManifest;
  const other = missing ?? (identity === null ? withoutManifest : unknownFile);
  // Without a manifest the marker is the best that there is; it proves nothing.
  const build = known ?? (identity === null && missing === null ? guess : null);
  store.set('image.build', build ?? other, derived);
  store.set(
    'image.release',
    known !== null && identity?.state === 'known' ? identity.release : other,
    derived,
  );
  store.set('image.isKnownBuild', missing ?? (identity === null ? withoutManifest : known !== null), derived);
  const file = identity?.state === 'known' ? identity.file : null;
  const noFile =
    missing ?? (identity === null ? noManifest : new Absent('no file of the release has these bytes'));
  store.set('image.releaseFile', file?.path ?? noFile, derived);
  store.set('image.releaseFileRole', file?.role ?? noFile, derived);
  store.set(
    'image.sameSizeAs',
    identity?.state === 'unknown'
      ? new FactList(identity.sameSize.map((one) => one.path))
      : identity === null
        ? noFile
        : new FactList([]),
    derived,
  );
}

function markersOf({
  decoded,
  profile,
  resolved,
  ...subject
}: IdentitySubject): MarkersFound | Unseen | Absent {
  if (profile === null) return noProfile;
  const missing = whyNoFile({ decoded, profile, resolved, ...subject });
  if (missing) return missing;
  if (decoded === null) return new Absent('the file is no firmware');
  if (decoded.encoding === 'scrambled' || decoded.encoding === 'packed-gzip')
    return new Unseen('not-visible', 'the program is scrambled or packed, so its texts cannot be seen');
  const application = resolved?.memory.application;
  return findMarkers(profile, decoded.map, typeof application === 'object' ? application.start : undefined);
}

function setMarkers(
  store: FactStore,
  { decoded }: IdentitySubject,
  markers: MarkersFound | Unseen | Absent,
  known: string | null,
): void {
  const paths = ['image.markerBuilds', 'image.markerConflict', 'image.siblingMarker', 'image.siblingTitle'];
  if (markers instanceof Unseen || markers instanceof Absent) {
    for (const path of paths) store.set(path, markers, derived);
    return;
  }
  // What lacks of the program may hold a marker.
  const lacks =
    decoded?.whole === false
      ? new Unseen('damaged', 'the firmware file is not whole, so not every text in it was seen')
      : undefined;
  store.set('image.markerBuilds', new FactList([...markers.builds], lacks), derived);
  const conflict = known !== null && !markers.builds.includes(known) ? (markers.builds[0] ?? null) : null;
  store.set(
    'image.markerConflict',
    conflict ?? lacks ?? new Absent('no marker speaks against what the file is'),
    derived,
  );
  const sibling = markers.siblings[0];
  const none = lacks ?? new Absent('no marker of another board was found');
  store.set('image.siblingMarker', sibling?.id ?? none, derived);
  store.set('image.siblingTitle', sibling?.title ?? none, derived);
}

function setNearMiss(store: FactStore, subject: IdentitySubject, identity: Identity | null): void {
  const paths = ['image.nearMiss', 'image.nearMissKind', 'image.nearMissAt', 'image.nearMissFile'];
  const missing =
    whyNoFile(subject) ??
    (identity?.state === 'known' ? new Absent('the file equals a published one') : null) ??
    (subject.candidates.length === 0
      ? new Unseen(
          'not-visible',
          'the published files are not at hand to compare with',
          'name the release folder: --board FOLDER',
        )
      : null);
  const miss = missing === null && subject.bytes ? nearMiss(subject.bytes, subject.candidates) : null;
  const none = missing ?? new Absent('the file is not nearly equal to a published one');
  const values = miss ? [nearMissText(miss), miss.kind, miss.at, miss.candidate.path] : [];
  for (const [index, path] of paths.entries()) store.set(path, values[index] ?? none, derived);
}

function setChoice(store: FactStore, choice: Choice | null): void {
  store.set('image.preferredBuild', preferredFact(choice), derived);
  store.set(
    'image.supplyAssumed',
    choice === null
      ? noProfile
      : (choice.assumes ?? new Absent('nothing had to be assumed about the supply')),
    derived,
  );
}

function preferredFact(choice: Choice | null): FactValue {
  switch (choice?.outcome) {
    case undefined:
      return noProfile;
    case 'one':
      return choice?.preferred ?? noProfile;
    case 'any':
      return anyBuild;
    case 'open':
      return openChoice(choice as Choice);
    case 'silent':
      return silent;
    default:
      return new Absent((choice as Choice).text);
  }
}

const silent = new Unseen(
  'profile-silent',
  'the board profile does not say which builds exist',
  'ask the author of the profile for builds',
);

const openChoice = (choice: Choice): Unseen =>
  new Unseen(
    'not-told',
    choice.text,
    choice.questions.map((one) => `${one.ask} (${one.option})`).join('; ') || undefined,
  );

/** Facts about the build that the file is, or seems to be, on this machine. */
function setBuild(
  store: FactStore,
  subject: IdentitySubject,
  choice: Choice | null,
  known: string | null,
  guess: string | null,
): void {
  const { profile, machine } = subject;
  const id = known ?? guess;
  const fit = choice?.builds.find((one) => one.build.id === id) ?? null;
  if (profile === null || choice === null || fit === null) {
    const why = whyNoBuild(subject, choice, id);
    for (const path of buildFacts) store.set(path, why, derived);
    return;
  }
  const { build } = fit;
  const notNeeded = new Absent('the build does not say what it needs of the supply');
  store.set('image.buildTitle', build.title, { origin: 'profile' });
  store.set('image.buildKind', build.kind, { origin: 'profile' });
  store.set('image.buildNeedsVolts', build.needs?.volts ?? notNeeded, { origin: 'profile' });
  store.set('image.buildNeedsAmps', build.needs?.amps ?? notNeeded, { origin: 'profile' });
  store.set('image.buildMachines', machinesText(profile, build), { origin: 'profile' });

  const open = new Unseen(
    'not-told',
    `the build ${build.id} ${fit.text}`,
    fit.settle ?? openSettle(profile, machine, choice),
  );
  store.set('image.fitness', fit.fitness === 'unknown' ? open : fit.fitness, derived);
  store.set('image.unsafeBecause', because(subject, fit, 'supply', open), derived);
  store.set('image.wrongBecause', because(subject, fit, 'machine', open), derived);
  store.set(
    'image.wrongAxes',
    new FactList(
      fit.reasons.flatMap((reason) => (reason.kind === 'other-machine' ? [reason.axis] : [])),
      fit.isMadeForIt === null ? open : undefined,
    ),
    derived,
  );
  store.set('image.isForThisMachine', isForThisMachine(fit, known, open), derived);
  const preferred = preferredFact(choice);
  store.set(
    'image.isPreferred',
    choice.outcome === 'one' ? choice.preferred === id : preferred instanceof Absent ? false : preferred,
    derived,
  );
}

const buildFacts = [
  'image.buildTitle',
  'image.buildKind',
  'image.buildNeedsVolts',
  'image.buildNeedsAmps',
  'image.buildMachines',
  'image.fitness',
  'image.unsafeBecause',
  'image.wrongBecause',
  'image.wrongAxes',
  'image.isForThisMachine',
  'image.isPreferred',
] as const;

/** Why nothing can be said about the build that the file is. */
function whyNoBuild(subject: IdentitySubject, choice: Choice | null, id: string | null): Unseen | Absent {
  if (choice === null) return noProfile;
  if (choice.outcome === 'any') return anyBuild;
  if (choice.outcome === 'silent') return silent;
  const missing = whyNoFile(subject);
  if (missing) return missing;
  if (id !== null)
    return new Unseen(
      'profile-silent',
      `the release manifest calls the file the build ${id}, which the board profile does not know`,
      'use the board profile of the same release',
    );
  if (subject.manifest === null) return noManifest;
  // A keystone fails on such a file; what a build would be for, it is for nobody.
  return new Absent('the file equals none of the published builds, so it is for no machine');
}

/** A false needs no proof of identity: a file that says itself that it is the wrong one is not flashed. */
function isForThisMachine(fit: BuildFit, known: string | null, open: Unseen): boolean | Unseen {
  if (fit.fitness === 'unknown') return open;
  if (fit.fitness !== 'safe') return false;
  if (known !== null) return true;
  return new Unseen(
    'not-visible',
    `by its marker the file seems to be the build ${fit.build.id}, which would be right for this machine; only its SHA-256 in a release manifest proves that`,
    noManifest.settle,
  );
}

function because(
  { profile, machine }: IdentitySubject,
  fit: BuildFit,
  about: 'supply' | 'machine',
  open: Unseen,
): FactValue {
  const holds = about === 'supply' ? fit.isFed : fit.isMadeForIt;
  if (holds === null) return open;
  if (holds)
    return new Absent(
      about === 'supply' ? 'the supply meets what the build needs' : 'the build is made for this machine',
    );
  const reasons = fit.reasons.filter((one) => (one.kind === 'other-machine') === (about === 'machine'));
  return `the build ${fit.build.id} ${reasonsText(profile!, machine, fit.build, fit.fitness, reasons)}`;
}

function openSettle(profile: Profile, machine: Machine | null, choice: Choice): string {
  return (
    choice.questions.map((one) => `${one.ask} (${one.option})`).join('; ') ||
    settleText(profile, machine, [{ kind: 'supply-not-told', unsure: machine?.supplyUnsure === true }])
  );
}
