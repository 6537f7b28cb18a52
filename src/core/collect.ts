import type { Profile, ResolvedProfile } from '../board/profile.js';
import { resolveProfile } from '../board/resolve.js';
import { type ByteSource, ReadProblem } from '../bytes/byte-source.js';
import type { Digests } from '../bytes/digests.js';
import { limits } from '../bytes/limits.js';
import { RecordingSource } from '../bytes/recording-source.js';
import { readFatVolume } from '../card/fat/volume.js';
import { recognise, residuesOfMedium } from '../card/recognise.js';
import { collectBoard } from '../facts/collect-board.js';
import { collectCompanions } from '../facts/collect-companions.js';
import { collectDamage, collectFatVolume } from '../facts/collect-fat.js';
import { collectImage } from '../facts/collect-image.js';
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
import { collectTree } from '../facts/collect-tree.js';
import { collectUpdateFile } from '../facts/collect-update-file.js';
import { Unseen } from '../facts/fact.js';
import { FactStore } from '../facts/fact-store.js';
import { FatTree } from '../facts/fat-tree.js';
import type { FileTree } from '../facts/file-tree.js';
import { unseenFrom } from '../facts/unseen-from.js';
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
  readonly machine: Machine | null;
  readonly stated: StatedMedia;
  readonly digests: Digests;
}

/** All facts of one subject: the pipeline from the medium's first byte to the firmware image. Judges nothing. */
export function collectFacts({ target, profile, machine, stated, digests }: Subject): FactStore {
  const store = new FactStore();
  const resolved = profile === null ? null : resolveProfile(profile, machine);
  collectMedia(store, target, stated);
  collectMachine(store, machine, profile);
  collectBoard(store, resolved, profile);
  if (target.kind === 'staging') {
    collectTree(store, target.tree);
    collectFiles(store, target.tree, { resolved, profile }, digests);
    return store;
  }
  const source = new RecordingSource(target.source, limits.problems);
  collectMedium(store, source, { resolved, profile }, digests);
  collectReading(store, source, target.changed());
  return store;
}

/** A board profile, as written and as it holds for this machine. */
interface Board {
  readonly profile: Profile | null;
  readonly resolved: ResolvedProfile | null;
}

function collectMedium(store: FactStore, source: RecordingSource, board: Board, digests: Digests): void {
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
    collectFiles(store, nowhere, board, digests);
    return;
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
    collectFiles(
      store,
      new Unseen('not-visible', 'the files on this volume could not be read'),
      board,
      digests,
    );
    return;
  }
  const volume = readFatVolume(window);
  if (volume instanceof ReadProblem) {
    collectRecognised(store, volume, place.startByte);
    collectFiles(store, unseenFrom(volume), board, digests);
    return;
  }
  const tree = new FatTree(volume, place.startByte);
  collectFatVolume(store, volume, place.startByte, Math.min(place.bytes, source.size - place.startByte));
  const file = collectFiles(store, tree, board, digests, source);
  source.stage = 'volume';
  collectDamage(store, volume, place.startByte, {
    entry: file === null ? null : tree.fatEntry(file.entry),
    wantedShortName: null,
  });
  collectResidues(store, residuesOfMedium(source, table, place, volume.isFree));
}

function collectFiles(
  store: FactStore,
  tree: FileTree | Unseen,
  { profile, resolved }: Board,
  digests: Digests,
  source?: RecordingSource,
) {
  if (source) source.stage = 'update-file';
  const file = collectUpdateFile(store, tree, resolved, digests, profile);
  if (source) source.stage = 'companions';
  collectCompanions(store, tree, resolved, digests);
  collectOtherFiles(store, tree, resolved);
  collectImage(store, file, resolved, digests);
  return file;
}
