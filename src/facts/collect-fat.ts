import { ReadProblem } from '../bytes/byte-source.js';
import { limits } from '../bytes/limits.js';
import { clusterStart } from '../card/fat/boot-sector.js';
import { attribute, type FatEntry } from '../card/fat/directory.js';
import { rawShortName, shortNameText } from '../card/fat/short-name.js';
import {
  type Damage,
  type DamageKind,
  type FatVolume,
  runs,
  sameChainInEveryFat,
} from '../card/fat/volume.js';
import { widths } from '../card/fat/width.js';
import { type Litter, litterOf } from '../card/litter.js';
import { collectWidths } from './collect-widths.js';
import { Absent, FactList, type FactRecord, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import { unseenFrom } from './unseen-from.js';

/** The marker for what a read problem inside the volume kept away; offsets in its text are those of the medium. */
const unseenOnMedium = ({ at, length, cause, detail }: ReadProblem, startByte: number): Unseen =>
  unseenFrom(new ReadProblem(startByte + at, length, cause, detail));

/** Why the list of files may lack some; undefined when it is complete. `startByte` is the volume's on the medium. */
export function incompleteFiles(volume: FatVolume, startByte: number): Unseen | undefined {
  const { incomplete, incompleteText } = volume;
  if (incomplete === null) return undefined;
  if (incompleteText === null) return unseenOnMedium(incomplete, startByte);
  return new Unseen(
    incomplete.cause === 'over-limit' ? 'over-limit' : 'damaged',
    incompleteText,
    'format the card again and copy the files onto it',
  );
}

/**
 * Sets `volume.*`, `files`, `filesTotal` and `deletedEntries` from a FAT volume. `startByte` is its first byte on the
 * medium, `placeBytes` the length of its partition or, without one, of the medium.
 */
export function collectFatVolume(
  store: FactStore,
  volume: FatVolume,
  startByte: number,
  placeBytes: number,
): void {
  const { boot, geometry } = volume;
  const known = <T extends FactValue>(got: T | ReadProblem): T | Unseen =>
    got instanceof ReadProblem ? unseenOnMedium(got, startByte) : got;
  const at = (offset: number, length: number) => ({ where: { offset: startByte + offset, length } });
  const incomplete = incompleteFiles(volume, startByte);

  if (geometry === null) {
    const marker = incomplete ?? new Unseen('damaged', 'the boot sector describes no volume');
    for (const path of ['volume', 'files', 'filesTotal', 'deletedEntries']) store.setGroup(path, marker);
    store.set('volume.fileSystem', 'not recognised', at(0, 512));
  }
  store.set('volume.startByte', startByte, { origin: 'derived' });
  store.set('volume.bytesPerSector', boot.bytesPerSector, at(11, 2));
  store.set('volume.reservedSectors', boot.reservedSectors, at(14, 2));
  store.set('volume.fatCount', boot.fatCount, at(16, 1));
  serial(store, volume, at);
  if (geometry === null) return;

  store.set('volume.fileSystem', geometry.fileSystem, at(11, 53));
  store.set('volume.clusterBytes', geometry.clusterBytes, at(13, 1));
  store.set('volume.clusterCount', geometry.clusterCount, { ...at(11, 53), origin: 'derived' });
  const sizeField = boot.totalSectors16 === 0 ? at(32, 4) : at(19, 2);
  store.set('volume.bytes', geometry.volumeBytes, sizeField);
  store.set('volume.endsInsidePartition', geometry.volumeBytes <= placeBytes, sizeField);
  store.set('volume.dataStartByte', startByte + geometry.dataStart, { origin: 'derived' });
  store.set(
    'volume.rootStartByte',
    startByte + (geometry.rootBytes > 0 ? geometry.rootStart : clusterStart(geometry, boot.rootCluster)),
    { origin: 'derived' },
  );
  collectWidths(store, widths(geometry.clusterCount, boot));

  const fat = at(geometry.fatStart, geometry.fatBytes);
  store.set('volume.cleanShutdown', known(volume.cleanShutdown), at(boot.stateAt, 1));
  store.set('volume.hardErrorsNoted', known(volume.hardErrorsNoted), at(boot.stateAt, 1));
  store.set('volume.fatCopiesMatch', known(volume.fatCopiesMatch), fat);
  store.set('volume.freeClusters', known(volume.freeClusters), fat);
  store.set('volume.mirroring', (boot.extendedFlags & 0x80) === 0, boot.isFat32Form ? at(40, 2) : {});
  store.set(
    'volume.bootBackupMatches',
    volume.bootBackupMatches === null
      ? new Absent('this volume keeps no backup of its boot sector')
      : known(volume.bootBackupMatches),
    boot.isFat32Form ? at(boot.backupBootSector * boot.bytesPerSector, 512) : {},
  );

  const rootIncomplete = volume.rootIncomplete === null ? undefined : incomplete;
  store.set(
    'volume.rootEntryCapacity',
    geometry.rootBytes > 0 ? boot.rootEntryCount : new Absent('the root folder of this volume grows'),
    at(17, 2),
  );
  store.set('volume.rootEntriesUsed', rootIncomplete ?? volume.rootSlotsUsed);
  store.set('volume.rootEntries', rootIncomplete ?? volume.rootEntries);
  labels(store, volume, startByte, rootIncomplete);
  store.set(
    'volume.oddities',
    new FactList(
      volume.oddities.map(({ code, text, at: offset }) => ({ code, text, at: startByte + offset })),
    ),
  );

  store.set(
    'files',
    FactList.later((most) => fileRecords(volume.entries.slice(0, most)), incomplete),
  );
  store.set('filesTotal', incomplete ?? volume.entries.length);
  store.set('deletedEntries', deletedRecords(volume, incomplete, null));
}

type Place = (offset: number, length: number) => { where: { offset: number; length: number } };

function serial(store: FactStore, { boot }: FatVolume, at: Place): void {
  const isSigned = boot.extendedSignature === 0x29 || boot.extendedSignature === 0x28;
  store.set(
    'volume.serial',
    isSigned
      ? boot.serial.toString(16).toUpperCase().padStart(8, '0')
      : new Absent('the boot sector carries no serial number'),
    at(boot.stateAt + 2, 4),
  );
}

/** The label is the root folder's, else the boot sector's unless that is `NO NAME`. */
function labels(
  store: FactStore,
  volume: FatVolume,
  startByte: number,
  incomplete: Unseen | undefined,
): void {
  const { boot } = volume;
  const none = new Absent('the volume has no label');
  const root = volume.labels.find((label) => label.folder === null && !label.isFolder);
  if (root !== undefined) {
    const where = { where: { offset: startByte + root.entryAt, length: 11 } };
    store.set('volume.label', labelText(root.rawShortName), where);
    store.set('volume.labelEntryName', root.shortName, where);
    return;
  }
  store.set('volume.labelEntryName', incomplete ?? none);
  const stored = boot.extendedSignature === 0x29 ? labelText(String.fromCharCode(...boot.labelBytes)) : '';
  const own = stored === '' || stored === 'NO NAME' ? undefined : stored;
  store.set('volume.label', incomplete ?? own ?? none, {
    where: { offset: startByte + boot.labelAt, length: 11 },
  });
}

/** Eleven bytes of a label as text: they are one name, not a base and an extension. */
const labelText = (raw: string): string =>
  (
    shortNameText(`${raw.slice(0, 8)}   `).padEnd(8) + shortNameText(`X       ${raw.slice(8)}`).slice(2)
  ).trimEnd();

const unreadFat = new Unseen('damaged', 'the file allocation table could not be read');

function fileRecords(entries: readonly FatEntry[]): FactRecord[] {
  // What lies in a folder that is litter is litter of the same kind. Folders come before what they hold.
  const folders = new Map<FatEntry, { litter: Litter; depth: number }>();
  return entries.map((entry) => {
    const { attributes, folder } = entry;
    const above = folder === null ? undefined : folders.get(folder);
    const depth = above === undefined ? 0 : above.depth + 1;
    const litter = above === undefined || above.litter === 'none' ? litterOf(entry.name) : above.litter;
    if (entry.isFolder) folders.set(entry, { litter, depth });
    return {
      path: entry.path,
      name: entry.name,
      shortName: entry.shortName,
      hasLongName: entry.hasLongName,
      folder: entry.folderPath,
      depth,
      isFolder: entry.isFolder,
      bytes: entry.bytes,
      readOnly: (attributes & attribute.readOnly) !== 0,
      hidden: (attributes & attribute.hidden) !== 0,
      system: (attributes & attribute.system) !== 0,
      entryIndex: entry.entryIndex,
      fragments: entry.chain?.fragments ?? unreadFat,
      litter,
    };
  });
}

const nameNotKnown = new Unseen('not-visible', 'which name this loader looks for is not known');

function deletedRecords(volume: FatVolume, incomplete: Unseen | undefined, raw: string | null): FactList {
  const rest = raw?.slice(1);
  return new FactList(
    volume.deleted.map((entry) => ({
      shortName: entry.shortName,
      folder: entry.folderPath,
      entryIndex: entry.entryIndex,
      bytes: entry.bytes,
      looksLikeUpdateFile: rest === undefined ? nameNotKnown : entry.rawRest === rest,
    })),
    incomplete,
  );
}

/** What `collectDamage` needs of the update file: its entry, and the short name that this loader looks for. */
export interface UpdateEntry {
  readonly entry: FatEntry | null;
  /** As text, `UPDATE.BIN`; null when it is not one short name, or when the fact `updateFile.wantedName` tells. */
  readonly wantedShortName: string | null;
}

/**
 * Sets `damage.*`, `deletedEntries` and `updateFile.deletedTwins`, which depend on which file is the update file.
 * Called after the update file was chosen; `startByte` is the volume's first byte on the medium.
 */
export function collectDamage(
  store: FactStore,
  volume: FatVolume,
  startByte: number,
  update: UpdateEntry,
): void {
  const incomplete = incompleteFiles(volume, startByte);
  deletedTwins(store, volume, update, incomplete);
  store.set(
    'updateFile.deletedBefore',
    update.entry?.freeBefore ?? incomplete ?? new Absent('the update file is not on the card'),
  );
  store.set(
    'updateFile.pieces',
    update.entry === null
      ? (incomplete ?? new Absent('the update file is not on the card'))
      : piecesOf(volume, update.entry, startByte),
    { origin: 'derived' },
  );

  const touches = touchesUpdate(volume, update.entry);
  const found = volume.damage.map((damage) => ({ damage, touching: touches(damage) }));
  // Those that touch the update file come first: they are what a report shows.
  const ordered = [...found.filter((one) => one.touching), ...found.filter((one) => !one.touching)];
  const counts = volume.damageCounts;
  const total = Object.values(counts).reduce((sum, count) => sum + count, 0);
  const rest =
    total > ordered.length
      ? new Unseen('over-limit', `${total - ordered.length} more faults are not listed`)
      : undefined;
  store.set(
    'damage.list',
    new FactList(
      ordered.map(({ damage, touching }) => ({
        kind: damage.kind,
        text: damage.text,
        path: damage.entry?.path ?? new Absent('it touches no single file'),
        at: damage.at === null ? new Absent('it is not in one place') : startByte + damage.at,
        touchesUpdateFile: touching,
      })),
      rest ?? incomplete,
    ),
  );
  const place = (damage: Damage | undefined) =>
    damage === undefined || damage.at === null ? {} : { where: { offset: startByte + damage.at } };
  store.set('damage.any', total > 0 ? true : (incomplete ?? false), place(ordered[0]?.damage));
  const own = ownEntries(update.entry);
  const isTouched = ordered[0]?.touching === true || [...own].some((entry) => volume.touched.has(entry.id));
  store.set(
    'damage.touchesUpdateFile',
    isTouched ? true : (incomplete ?? false),
    isTouched ? place(ordered[0]?.damage) : {},
  );
  // What was counted stands also when more might be found; only a zero would be a guess.
  const count = (number: number): number | Unseen => (number > 0 ? number : (incomplete ?? 0));
  const ofKinds = (...kinds: DamageKind[]): number | Unseen =>
    count(kinds.reduce((sum, kind) => sum + counts[kind], 0));
  store.set('damage.loops', ofKinds('loop'));
  store.set('damage.crossLinks', count(volume.sharedClusters));
  store.set(
    'damage.lostClusters',
    volume.lostClusters instanceof ReadProblem
      ? (incomplete ?? unseenOnMedium(volume.lostClusters, startByte))
      : volume.lostClusters,
  );
  store.set('damage.shortChains', ofKinds('short-chain'));
  store.set('damage.longChains', ofKinds('long-chain'));
  store.set('damage.brokenChains', ofKinds('into-free', 'into-bad', 'out-of-range'));
  store.set('damage.orphanLongNames', ofKinds('orphan-long-name'));
  store.set(
    'damage.bootSector',
    volume.damage.filter(
      ({ kind, at }) =>
        kind === 'fat-size' || (kind === 'boot-sector' && !isLabel(volume, at) && !isTooLong(volume, at)),
    ).length,
  );
}

/** Where the bytes of a file lie on the medium: the first `limits.listed` unbroken stretches; the rest is counted. */
function piecesOf({ table, geometry }: FatVolume, entry: FatEntry, startByte: number): FactList | Unseen {
  if (table === null || geometry === null) return unreadFat;
  const pieces: FactRecord[] = [];
  let more = 0;
  const clusters = Math.ceil(entry.bytes / geometry.clusterBytes);
  for (const { at, length } of runs(table, geometry, entry.firstCluster, clusters)) {
    if (pieces.length < limits.listed) pieces.push({ startByte: startByte + at, bytes: length });
    else more++;
  }
  return new FactList(
    pieces,
    more > 0 ? new Unseen('over-limit', `${more} more pieces are not listed`) : undefined,
  );
}

function deletedTwins(
  store: FactStore,
  volume: FatVolume,
  { entry, wantedShortName }: UpdateEntry,
  incomplete: Unseen | undefined,
): void {
  const wanted = wantedShortName ?? store.text('updateFile.wantedName') ?? null;
  const raw = entry?.rawShortName ?? (wanted === null ? null : rawShortName(wanted));
  store.set('deletedEntries', deletedRecords(volume, incomplete, raw));
  if (entry === null) {
    store.set('updateFile.deletedTwins', incomplete ?? new Absent('the update file is not on the card'));
    return;
  }
  const rest = entry.rawShortName.slice(1);
  const twins = volume.deleted.filter((one) => one.folderPath === entry.folderPath && one.rawRest === rest);
  store.set('updateFile.deletedTwins', twins.length > 0 ? twins.length : (incomplete ?? 0));
}

/** The update file and the folders that it lies in. */
function ownEntries(update: FatEntry | null): Set<FatEntry> {
  const own = new Set<FatEntry>();
  for (let entry = update; entry !== null; entry = entry.folder) own.add(entry);
  return own;
}

/** True for the label and its signature, which no driver needs to find a file. */
const isLabel = ({ boot }: FatVolume, at: number | null): boolean =>
  at === boot.labelAt || at === boot.labelAt - 5;

/** True for the size of a volume that is longer than its place: `volume.endsInsidePartition` tells that. */
const isTooLong = ({ boot, geometry, source }: FatVolume, at: number | null): boolean =>
  geometry !== null && geometry.volumeBytes > source.size && at === (boot.totalSectors16 === 0 ? 32 : 19);

/** Which damage touches the update file: its own entry, its folders, its FAT entries, or the volume as a whole. */
function touchesUpdate(volume: FatVolume, update: FatEntry | null): (damage: Damage) => boolean {
  if (update === null) return () => false;
  const own = ownEntries(update);
  let isChainSame: boolean | undefined;
  return ({ kind, at, entry, other, folder }) => {
    if (kind === 'boot-sector') return !isLabel(volume, at);
    if (kind === 'fat-size') return true;
    if (kind === 'fat-copies-differ') {
      isChainSame ??= [...own].every((one) => sameChainInEveryFat(volume, one));
      return !isChainSame;
    }
    if ((entry !== null && own.has(entry)) || (other !== null && own.has(other))) return true;
    // A broken root folder, or what is wrong with the folder of the update file and not with another file in it.
    if (entry !== null || kind === 'lost-clusters' || kind === 'boot-backup-differs' || kind === 'fat-start')
      return false;
    return folder === undefined || folder === update.folder;
  };
}
