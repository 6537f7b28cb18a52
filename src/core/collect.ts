import type { Candidate, Manifest } from '../board/manifest.js';
import type { Profile, ResolvedProfile } from '../board/profile.js';
import { resolveProfile } from '../board/resolve.js';
import { type ByteSource, ReadProblem } from '../bytes/byte-source.js';
import type { Digests } from '../bytes/digests.js';
import { limits } from '../bytes/limits.js';
import { RecordingSource } from '../bytes/recording-source.js';
import { readFatVolume } from '../card/fat/volume.js';
import { recognise, residuesOfMedium } from '../card/recognise.js';
import { collectAsPublished, collectBoard } from '../facts/collect-board.js';
import { collectCompanions } from '../facts/collect-companions.js';
import { collectDamage, collectFatVolume } from '../facts/collect-fat.js';
import { collectIdentity } from '../facts/collect-identity.js';
import { collectImage, collectPlaceExplained } from '../facts/collect-image.js';
import { collectMachine } from '../facts/collect-machine.js';
import {
  collectMedia,
  collectReading,
  type StatedMedia,
  type TargetDescription,
} from '../facts/collect-media.js';
import { collectOtherFiles } from '../facts/collect-other-files.js';
import {
  collectPartitions,
  collectRecognised,
  collectResidues,
  volumeWindow,
} from '../facts/collect-partitions.js';
import { collectPower } from '../facts/collect-power.js';
import { collectRelease } from '../facts/collect-release.js';
import { collectTree } from '../facts/collect-tree.js';
import { collectUpdateFile, type UpdateFile } from '../facts/collect-update-file.js';
import { Unseen } from '../facts/fact.js';
import { FactStore } from '../facts/fact-store.js';
import { FatTree } from '../facts/fat-tree.js';
import type { FileTree } from '../facts/file-tree.js';
import { unseenFrom } from '../facts/unseen-from.js';
import type { Decoded } from '../firmware/encodings/encoding.js';
import type { ProcessorTable } from '../firmware/processors.js';
import type { Machine } from '../machine/machine.js';

/** What is to be checked: a medium to read, or files without a card. */
export type Target = TargetDescription & {
  /** Asked after the last read: true when somebody wrote to the target meanwhile. */
  changed(): boolean;
} & (
    | { readonly kind: 'image' | 'device'; readonly source: ByteSource }
    | { readonly kind: 'staging'; readonly tree: FileTree }
  );

/** Everything that facts are collected from. */
export interface Subject {
  readonly target: Target;
  readonly profile: Profile | null;
  /** The release that the files are held against; null or left out: none was given. */
  readonly manifest?: Manifest | null;
  /** SHA-256 of the profile's file, by which an edited profile is told from the published one. */
  readonly profileSha256?: string;
  /** The published files, with which a file that equals none of them is compared; read only then. */
  readonly candidates?: readonly Candidate[];
  readonly machine: Machine | null;
  readonly stated: StatedMedia;
  readonly digests: Digests;
  /** Processors that a profile may name; without them nothing is said about the memory of one that is named. */
  readonly processors?: ProcessorTable;
}

/** What the facts were taken from, for those who go on with it. */
export interface Seen {
  /** The profile as it holds for this machine; null: none was given. */
  readonly resolved: ResolvedProfile | null;
  /** The files; Unseen where none could be read. */
  readonly tree: FileTree | Unseen;
  readonly file: UpdateFile | null;
  /** The update file as what it is by its content; null when it is no firmware, or there is none. */
  readonly decoded: Decoded | null;
  /** Where the volume that the loader takes lies on the medium, in bytes; null when it was not found or read. */
  readonly volume: { readonly startByte: number; readonly bytes: number } | null;
}

/** Files with what was decoded of them. */
type SeenFiles = Pick<Seen, 'tree' | 'file' | 'decoded'>;

/** All facts of one subject: the pipeline from the medium's first byte to the firmware image. Judges nothing. */
export const collectFacts = (subject: Subject): FactStore => collect(subject).store;

/** All facts of one subject, and what they were taken from. */
export function collect(subject: Subject): { store: FactStore; seen: Seen } {
  const { target, profile, machine, stated, digests } = subject;
  const store = new FactStore();
  const resolved = profile === null ? null : resolveProfile(profile, machine);
  collectMedia(store, target, stated);
  collectMachine(store, machine, profile);
  collectBoard(store, resolved, profile);
  collectAsPublished(store, subject.manifest ?? null, subject.profileSha256);
  if (target.kind === 'staging') {
    collectTree(store, target.tree);
    const files = collectFiles(store, target.tree, { ...subject, resolved }, digests);
    return { store, seen: { resolved, volume: null, ...files } };
  }
  const source = new RecordingSource(target.source, limits.problems);
  const seen = collectMedium(store, source, { ...subject, resolved }, digests);
  collectReading(store, source, target.changed());
  return { store, seen: { resolved, ...seen } };
}

/** A board profile, as written and as it holds for this machine, and the release that its builds come from. */
interface Board extends Pick<Subject, 'profile' | 'machine' | 'manifest' | 'candidates' | 'processors'> {
  readonly resolved: ResolvedProfile | null;
}

function collectMedium(
  store: FactStore,
  source: RecordingSource,
  board: Board,
  digests: Digests,
): SeenFiles & Pick<Seen, 'volume'> {
  source.stage = 'partition-table';
  const { table, taken } = collectPartitions(store, source, board.resolved);
  // Where the loader finds nothing, what an owner would call the volume is still named.
  const place = taken.found ? taken : taken.closest;
  if (place === null) {
    const nowhere =
      (!taken.found && taken.unseen) ||
      new Unseen('not-visible', 'the volume that this loader takes was not found');
    for (const group of ['volume', 'damage', 'files', 'filesTotal', 'deletedEntries'])
      store.setGroup(group, nowhere);
    return { volume: null, ...collectFiles(store, nowhere, board, digests) };
  }
  source.stage = 'volume';
  const window = volumeWindow(source, place.startByte, place.bytes);
  const recognised = window instanceof ReadProblem ? window : recognise(window);
  collectRecognised(store, recognised, place.startByte);
  if (
    window instanceof ReadProblem ||
    recognised instanceof ReadProblem ||
    recognised.fileSystem !== 'FAT' ||
    !taken.found
  ) {
    const unread = new Unseen('not-visible', 'the files on this volume could not be read');
    return { volume: null, ...collectFiles(store, unread, board, digests) };
  }
  const volume = readFatVolume(window);
  if (volume instanceof ReadProblem) {
    collectRecognised(store, volume, place.startByte);
    return { volume: null, ...collectFiles(store, unseenFrom(volume), board, digests) };
  }
  const tree = new FatTree(volume, place.startByte);
  collectFatVolume(store, volume, place.startByte, Math.min(place.bytes, source.size - place.startByte));
  const files = collectFiles(store, tree, board, digests, source);
  source.stage = 'volume';
  collectDamage(store, volume, place.startByte, {
    entry: files.file === null ? null : tree.fatEntry(files.file.entry),
    wantedShortName: null,
  });
  collectResidues(store, residuesOfMedium(source, table, place, volume.isFree));
  return { volume: { startByte: place.startByte, bytes: window.size }, ...files };
}

function collectFiles(
  store: FactStore,
  tree: FileTree | Unseen,
  board: Board,
  digests: Digests,
  source?: RecordingSource,
): SeenFiles {
  const { profile, resolved, machine, manifest = null, candidates = [] } = board;
  if (source) source.stage = 'update-file';
  const file = collectUpdateFile(store, tree, resolved, digests, profile);
  // Which companions are wanted depends on the release of the image.
  const decoded = collectImage(store, file, board, digests);
  const { buildId } = collectIdentity(store, {
    bytes: file?.bytes ?? null,
    sha256: store.value('updateFile.sha256'),
    decoded,
    profile,
    resolved,
    manifest,
    machine,
    candidates,
  });
  collectPlaceExplained(store);
  collectPower(store, profile, machine, buildId);
  collectRelease(store, profile, machine, buildId);
  if (source) source.stage = 'companions';
  collectCompanions(store, tree, resolved, digests, profile);
  collectOtherFiles(store, tree, resolved);
  return { tree, file, decoded };
}
