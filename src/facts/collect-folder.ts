import type { ResolvedProfile } from '../board/profile.js';
import { widths } from '../card/fat/width.js';
import { collectWidths } from './collect-widths.js';
import { Absent, FactList, type FactRecord, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import type { FileTree } from './file-tree.js';
import { lookedInto } from './loader-view.js';
import type { MountedTree } from './mounted-tree.js';
import { takenByTold } from './taken-by-told.js';
import type { ToldVolume } from './told-volume.js';
import { foldCase } from './update-file-name.js';

const derived = { origin: 'derived' } as const;

/**
 * Sets what is known of card, partition and volume when only the files of a mounted volume can be read: what the
 * system tells, and `notShown` in place of everything else.
 */
export function collectFolder(
  store: FactStore,
  told: ToldVolume,
  tree: FileTree,
  board: ResolvedProfile | null,
  notShown: Unseen,
): void {
  for (const group of ['partitionTable', 'partition', 'volume', 'damage', 'deletedEntries', 'updateFile'])
    store.setGroup(group, notShown);
  store.set('media.bytes', told.mediumBytes);
  store.set('media.sectorBytes', told.sectorBytes);
  store.set('target.readsFat', told.readsFat);
  partitionTable(store, told);
  partition(store, told, board);
  volume(store, told, tree);
}

/** What systems call a GPT may be a hybrid table: they read both alike. */
function partitionTable(store: FactStore, { scheme }: ToldVolume): void {
  const isOpen = scheme === 'gpt';
  store.set(
    'partitionTable.scheme',
    isOpen
      ? new Unseen('not-visible', 'this computer does not tell a GPT from one with an older table beside it')
      : scheme,
  );
  store.set(
    'partitionTable.possibleSchemes',
    typeof scheme === 'string' ? new FactList(isOpen ? ['gpt', 'hybrid'] : [scheme]) : scheme,
    derived,
  );
}

function partition(store: FactStore, told: ToldVolume, board: ResolvedProfile | null): void {
  const found = takenByTold(told, board);
  if (found instanceof Unseen) {
    store.setGroup('partition', found);
    return;
  }
  store.set('partition.found', found.taken, derived);
  if (!found.taken) {
    store.setGroup('partition', new Absent(found.reason));
    return;
  }
  const { scheme, partitionIndex: index, mediumBytes } = told;
  store.set('partition.othersUsed', told.otherPartitions);
  if (typeof index !== 'number') {
    store.setGroup('partition', new Absent('the boot loader takes the whole card, not an entry of a table'));
    store.set('partition.startByte', 0, derived);
    store.set('partition.bytes', mediumBytes, derived);
    return;
  }
  const isGpt = scheme === 'gpt';
  const start = told.partitionStartByte;
  const bytes = told.partitionBytes;
  store.set('partition.index', index);
  store.set('partition.kind', isGpt ? 'gpt' : index > 4 ? 'logical' : 'primary', derived);
  store.set('partition.type', told.partitionType);
  store.set('partition.bootFlag', isGpt ? new Absent('a GPT has no boot flags') : told.bootFlag);
  store.set('partition.startByte', start);
  store.set('partition.bytes', bytes);
  if (typeof start === 'number' && typeof bytes === 'number' && typeof mediumBytes === 'number')
    store.set('partition.pastEnd', start + bytes > mediumBytes, derived);
  if (told.otherPartitions === 0) store.set('partition.overlaps', false, derived);
}

function volume(store: FactStore, told: ToldVolume, tree: FileTree): void {
  const { fileSystem, clusterBytes, clusterCount, partitionBytes, mediumBytes } = told;
  store.set('volume.fileSystem', fileSystem);
  store.set('volume.clusterBytes', clusterBytes);
  store.set('volume.clusterCount', clusterCount);
  store.set('volume.freeClusters', told.freeClusters);
  store.set('volume.bytes', told.volumeBytes);
  store.set('volume.startByte', told.partitionIndex instanceof Absent ? 0 : told.partitionStartByte, derived);
  store.set('volume.label', told.label);
  if (told.label instanceof Absent) store.set('volume.labelEntryName', told.label);
  const inRoot = tree.entries.filter(({ folder }) => folder === '').length;
  store.set('volume.rootEntries', tree.incomplete ?? inRoot);
  if (typeof fileSystem === 'string' && fileSystem.startsWith('FAT')) fat(store, told);
  // No cluster is smaller than a sector, and no sector smaller than 512 bytes (FAT specification, section 3.1).
  if (clusterBytes === 512) store.set('volume.bytesPerSector', 512, derived);
  // The clusters alone: where the tables in front of them are not seen, only "too long" is certain.
  const place = partitionBytes instanceof Absent ? mediumBytes : partitionBytes;
  if (typeof clusterBytes === 'number' && typeof clusterCount === 'number' && typeof place === 'number')
    if (clusterBytes * clusterCount > place) store.set('volume.endsInsidePartition', false, derived);
}

/** On which width drivers agree: the word of the system tells the form of the boot sector, on which they go. */
function fat(store: FactStore, { fileSystem, clusterCount }: ToldVolume): void {
  if (typeof clusterCount !== 'number') return;
  const isFat32Form = fileSystem === 'FAT32';
  collectWidths(
    store,
    widths(clusterCount, { fatSectors16: isFat32Form ? 0 : 1, rootEntryCount: isFat32Form ? 0 : 512 }),
  );
}

/**
 * Sets `media.readErrors` and `media.wholeRead` after everything was asked of a mounted folder. An error is a bad sign
 * wherever it is met, as on a medium; where this loader looks it is one of the update file or of the folders above it.
 */
export function collectFolderReading(
  store: FactStore,
  tree: MountedTree,
  board: ResolvedProfile | null,
  changed: boolean,
): void {
  const updateFile = store.text('updateFile.path');
  const folders = lookedInto(board).map(foldCase);
  const errors = tree.problems.map(
    ({ path, isFolder, text }): FactRecord => ({
      at: new Absent('it is known by its path'),
      length: new Absent('it is known by its path'),
      cause: `${path}: ${text}`,
      inMetadata:
        isFolder && folders.some((each) => each === foldCase(path) || each.startsWith(`${foldCase(path)}/`)),
      inUpdateFile: path === updateFile,
    }),
  );
  store.set('target.changed', changed);
  const unseen = changed
    ? new Unseen(
        'damaged',
        'the target changed while it was read',
        'check it again when nothing writes to it',
      )
    : undefined;
  store.set('media.readErrors', new FactList(errors, unseen));
  store.set('media.wholeRead', errors.length > 0 ? false : (unseen ?? true));
}
