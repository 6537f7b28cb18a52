import type { BuildMachine } from '../board/build-machines.js';
import { releaseNumbering } from '../board/check.js';
import type { Manifest } from '../board/manifest.js';
import { findMarkers } from '../board/markers.js';
import type { Build, Companion, MemoryArea, Profile, ResolvedProfile, Said } from '../board/profile.js';
import { valueProblem } from '../board/ranges.js';
import { joined } from '../board/validate.js';
import type { Digests } from '../bytes/digests.js';
import { collectBoard } from '../facts/collect-board.js';
import { collectCompanions } from '../facts/collect-companions.js';
import { collectIdentity } from '../facts/collect-identity.js';
import { collectImage, collectPlaceExplained } from '../facts/collect-image.js';
import { collectMachine } from '../facts/collect-machine.js';
import { collectPower } from '../facts/collect-power.js';
import {
  type BuildFault,
  type BuildFindings,
  type FaultList,
  faultLists,
} from '../facts/collect-release-folder.js';
import { Unseen } from '../facts/fact.js';
import { FactStore } from '../facts/fact-store.js';
import type { FileTree } from '../facts/file-tree.js';
import { bytesOf } from '../facts/release-files.js';
import type { DeclaredFile, ReleaseParts } from '../facts/release-parts.js';
import { releasesIn } from '../facts/release-strays.js';
import { wantedFile } from '../facts/update-file-name.js';
import type { Decoded } from '../firmware/encodings/encoding.js';
import type { ProcessorTable } from '../firmware/processors.js';
import type { Machine } from '../machine/machine.js';
import type { Finding } from '../report/report.js';
import { judge } from '../rules/judge.js';
import type { RuleSet } from '../rules/rule.js';

/** What every build of a release is tried with. */
export interface BuildTrial {
  readonly profile: Profile;
  readonly tree: FileTree;
  readonly parts: ReleaseParts;
  /** The manifest that the folder would be sealed with. */
  readonly manifest: Manifest;
  /** Null: which release it is was not told. */
  readonly release: string | null;
  readonly digests: Digests;
  readonly processors: ProcessorTable;
  /** The rules about cards: what `check` will say about each build, an owner must not be the first to learn. */
  readonly cardRules: RuleSet;
}

/** Rules of cards whose failure has a rule of its own among those about releases; the rest of the group is `other`. */
const listOfRule: Readonly<Record<string, FaultList>> = {
  'file/empty': 'size',
  'image/blank': 'form',
  'image/encoding': 'form',
  'image/esp-chip': 'form',
  'image/scrambled': 'form',
  'image/sound': 'form',
  'image/uf2-family': 'form',
  'image/whole': 'form',
  'image/length-multiple': 'size',
  'image/size': 'size',
  'image/application-area': 'place',
  'image/contains-boot-loader': 'place',
  'image/load-address': 'place',
  'image/loader-skips': 'place',
  'image/processor-memory': 'place',
  'image/settings-overlap': 'place',
};

/** Rules of the group `image` that compare with the release itself. */
const aboutTheRelease: readonly string[] = ['image/damaged-copy', 'image/known-build'];

/** Holds every build, for every machine that it is made for, against the rules about the program on a card. */
export function tryBuilds(trial: BuildTrial): BuildFindings {
  const found = new Found();
  for (const one of trial.parts.declared) {
    const machines = trial.parts.machines[one.index] ?? null;
    if (machines === null) {
      found.lose([...faultLists, 'companions'], tooMany);
      continue;
    }
    if (machines.length === 0) found.nowhere.add(one.build.id);
    // What goes with a build in further files is written by other means than by this boot loader.
    if (!one.isFirst) continue;
    const bytes = one.file === null ? null : bytesOf(trial.tree, one.file.entry);
    if (one.file !== null && bytes === null)
      found.lose(faultLists, new Unseen('over-limit', `${one.path} could not be read as firmware`));
    for (const machine of machines) tryOn(trial, one, bytes, machine, found);
  }
  return found.findings();
}

const tooMany = new Unseen(
  'over-limit',
  'the profile tells more kinds of machines apart than flashworthy tries builds on',
);

/** Faults, each once, and what could not be judged. */
class Found {
  private readonly faults = new Map<FaultList, Map<string, BuildFault>>();
  private readonly companions = new Set<string>();
  private readonly lost: Partial<Record<FaultList | 'companions', Unseen>> = {};
  readonly nowhere = new Set<string>();

  add(list: FaultList, fault: BuildFault): void {
    const all = this.faults.get(list) ?? new Map<string, BuildFault>();
    this.faults.set(list, all.set(JSON.stringify(fault), fault));
  }

  addCompanion(text: string): void {
    this.companions.add(text);
  }

  lose(lists: readonly (FaultList | 'companions')[], why: Unseen): void {
    for (const list of lists) this.lost[list] ??= why;
  }

  findings(): BuildFindings {
    const of = (list: FaultList): BuildFault[] => [...(this.faults.get(list)?.values() ?? [])];
    return {
      faults: Object.fromEntries(faultLists.map((list) => [list, of(list)])) as Record<
        FaultList,
        BuildFault[]
      >,
      companions: [...this.companions],
      lost: this.lost,
      nowhere: [...this.nowhere],
    };
  }
}

/**
 * One build on one kind of machine, as if it lay on a card for it under the name that its boot loader looks for.
 * @param bytes null: the file is not there, or cannot be read; its companions are wanted all the same
 */
function tryOn(
  trial: BuildTrial,
  one: DeclaredFile,
  bytes: Uint8Array | null,
  { machine, resolved, text }: BuildMachine,
  found: Found,
): void {
  const { profile, digests, cardRules, release } = trial;
  const board = boardOf(resolved, one.build);
  const store = new FactStore();
  collectMachine(store, machine, profile);
  collectBoard(store, board, profile);
  const decoded = bytes === null ? null : collectBuild(store, trial, one, bytes, machine, board);
  if (bytes === null && release !== null) store.set('image.release', release);
  collectCompanions(store, withoutAttributes(trial.tree), board, digests, profile);
  const { findings } = judge(store, cardRules);
  const where = text === '' ? '' : `, on ${text}`;
  // A boot loader switches nothing on, and where the profile lists no supply nothing can be compared.
  const isFed = machine.supply !== undefined && one.build.kind !== 'loader';
  for (const finding of findings)
    if (bytes !== null || finding.rule.startsWith('companion/')) take(finding, one, isFed, where, found);
  if (decoded === null) return;
  tryMarker(trial, one, decoded, board, found);
  tryNumber(trial, one, decoded, found);
}

/** The facts about a build, as a check of a card with it would find them. */
function collectBuild(
  store: FactStore,
  { profile, digests, processors, manifest }: BuildTrial,
  { path, file }: DeclaredFile,
  bytes: Uint8Array,
  machine: Machine,
  board: ResolvedProfile,
): Decoded | null {
  const { entry, sha256 } = file!;
  store.set('updateFile.path', path);
  store.set('updateFile.name', entry.name);
  store.set('updateFile.bytes', bytes.length);
  store.set('updateFile.sha256', sha256);
  store.set('updateFile.whole', true);
  store.set('updateFile.wanted', wantedFile(board)?.text ?? path);
  const decoded = collectImage(store, { entry, bytes }, { profile, resolved: board, processors }, digests);
  const { buildId } = collectIdentity(store, {
    bytes,
    sha256,
    decoded,
    profile,
    resolved: board,
    manifest,
    machine,
    candidates: [],
  });
  collectPlaceExplained(store);
  if (machine.supply) collectPower(store, profile, machine, buildId);
  return decoded;
}

function take(finding: Finding, one: DeclaredFile, isFed: boolean, where: string, found: Found): void {
  const { rule, outcome, hazard, because, missing = [] } = finding;
  const [group] = rule.split('/');
  if (hazard === 'advice' || aboutTheRelease.includes(rule)) return;
  const list =
    listOfRule[rule] ??
    (group === 'companion'
      ? 'companions'
      : group === 'power' && isFed
        ? 'power'
        : group === 'image'
          ? 'other'
          : null);
  if (list === null) return;
  if (outcome === 'unknown') {
    const [first] = missing;
    const why = `${one.path}: ${first?.text ?? finding.title} (${rule})`;
    found.lose([list], new Unseen(first?.cause ?? 'not-visible', why, first?.settle));
  } else if (outcome === 'not-applicable' && because !== undefined) {
    // The rule that put it aside is one of the same file, or nobody is told why this one was not judged.
    if (!isTold(because)) found.lose([list], new Unseen('not-visible', `${one.path}: ${because} (${rule})`));
  } else if (outcome === 'failed' && list === 'companions')
    for (const text of finding.shown ?? [finding.found]) found.addCompanion(text);
  else if (outcome === 'failed' && list !== 'companions') {
    const shown = finding.shown?.length ? `: ${finding.shown.join('; ')}` : '';
    found.add(list, {
      path: one.path,
      build: one.build.id,
      found: `${finding.found}${shown}${where}`,
      needed: finding.needed,
      rule,
    });
  }
}

/** True when the rule that failed first, in brackets at its end, is one whose failure is told too, be it as a marker. */
const isTold = (because: string): boolean =>
  /\((?:(?:image|companion|power)\/[^)]*|file\/empty|machine\/(?:other-board|marker-conflict))\) failed$/.test(
    because,
  );

// ---- what differs between a card and a release ------------------------------------------------------------------

/**
 * The board as a build meets it: without the companions that an owner's machine or card brings along, and, for a
 * build with a boot loader in it, with the place of that boot loader as a place for the program.
 */
function boardOf(resolved: ResolvedProfile, { kind }: Build): ResolvedProfile {
  const { companions, memory } = resolved;
  const own = Array.isArray(companions) ? companions.filter(comesWithRelease) : companions;
  if (kind === 'application') return { ...resolved, companions: own };
  return {
    ...resolved,
    companions: own,
    memory: {
      ...memory,
      application: kind === 'loader' ? memory.loader : around(memory.loader, memory.application),
      loader: 'any',
    },
  };
}

/** Settings and what stays on the card come from the machine; a copy of the update file is made from the chosen build. */
const comesWithRelease = ({ role, content }: Companion): boolean =>
  role !== 'settings' && role !== 'stays' && content !== 'same-as-update';

function around(one: Said<MemoryArea>, other: Said<MemoryArea>): Said<MemoryArea> {
  if (typeof one !== 'object' || typeof other !== 'object') return one === 'any' ? other : one;
  const start = Math.min(one.start, other.start);
  return { start, bytes: Math.max(one.start + one.bytes, other.start + other.bytes) - start };
}

/** A folder on a computer may be read-only; on the card its files will not be. */
const withoutAttributes = (tree: FileTree): FileTree => ({
  entries: tree.entries.map((entry) => ({ ...entry, readOnly: false })),
  incomplete: tree.incomplete,
  fatCopies: tree.fatCopies,
  read: (entry, visit) => tree.read(entry, visit),
  sameChainInEveryFat: (entry) => tree.sameChainInEveryFat(entry),
});

// ---- what a build says of itself ----------------------------------------------------------------------------

const isHidden = ({ encoding }: Decoded): boolean => encoding === 'scrambled' || encoding === 'packed-gzip';

function tryMarker(
  { profile, parts }: BuildTrial,
  { build, path }: DeclaredFile,
  decoded: Decoded,
  { memory }: ResolvedProfile,
  found: Found,
): void {
  if (isHidden(decoded)) return;
  const start = typeof memory.application === 'object' ? memory.application.start : undefined;
  const markers = findMarkers(profile, decoded.map, start);
  const markerOf = (id: string): string | undefined =>
    parts.builds?.find((one) => one.id === id)?.marker?.text;
  const own = build.marker?.text;
  const others = markers.builds.filter((id) => id !== build.id && markerOf(id) !== own);
  const isOwn = markers.builds.includes(build.id);
  const strangers = [
    ...(isOwn ? [] : others.map((id) => `${markerOf(id)}, that of the build ${id}`)),
    ...markers.siblings.map(({ title }) => `the marker of another board (${title})`),
  ];
  if (isOwn && strangers.length === 0) return;
  if (own === undefined && strangers.length === 0) return;
  found.add('marker', {
    path,
    build: build.id,
    found: strangers.length === 0 ? 'no marker of any build' : joined(strangers, 'and'),
    needed: own === undefined ? 'no marker of anything else' : `${own}, that of the build ${build.id}`,
  });
}

function tryNumber(
  { profile, release }: BuildTrial,
  { build, path }: DeclaredFile,
  decoded: Decoded,
  found: Found,
): void {
  if (isHidden(decoded)) return;
  const numbering = releaseNumbering(profile);
  // A word that is no number of a release is a part of a text that is filled in when the program runs.
  const numbers = releasesIn(decoded.map, profile).filter(
    (value) => valueProblem(value, numbering) === undefined,
  );
  if (numbers.length === 0) return;
  if (release === null)
    found.lose(
      ['number'],
      new Unseen('not-told', 'which release the folder holds was not told', 'say it: --release RELEASE'),
    );
  else if (valueProblem(release, numbering) === undefined && !numbers.includes(release))
    found.add('number', {
      path,
      build: build.id,
      found: `release ${joined(numbers, 'or')}`,
      needed: `release ${release}`,
    });
}
