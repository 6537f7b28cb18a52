import { ReadProblem } from '../bytes/byte-source.js';
import { attribute, type FatEntry } from '../card/fat/directory.js';
import type { FatVolume } from '../card/fat/volume.js';
import { sameChainInEveryFat } from '../card/fat/volume.js';
import { widths } from '../card/fat/width.js';
import { litterOf } from '../card/litter.js';
import { Absent, FactList, type FactRecord, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import { unseenFrom } from './unseen-from.js';

/** Sets `volume.*`, `files`, `filesTotal` and `deletedEntries` of a FAT volume that starts at a byte of the medium. */
export function collectFatVolume(store: FactStore, volume: FatVolume, startByte: number, placeBytes: number): void {
  const { boot, geometry } = volume;
  const value = <T extends FactValue>(got: T | ReadProblem): T | Unseen =>
    got instanceof ReadProblem ? unseenFrom(new ReadProblem(startByte + got.at, got.length, got.cause, got.detail)) : got;
  const at = (offset: number, length: number) => ({ where: { offset: startByte + offset, length } });
  const incomplete = volume.incomplete === null ? undefined : (value(volume.incomplete) as Unseen);

  store.set('volume.startByte', startByte, { origin: 'derived' });
  store.set('volume.bytesPerSector', boot.bytesPerSector, at(11, 2));
  store.set('volume.clusterBytes', boot.bytesPerSector * boot.sectorsPerCluster, at(13, 1));
  store.set('volume.reservedSectors', boot.reservedSectors, at(14, 2));
  store.set('volume.fatCount', boot.fatCount, at(16, 1));
  store.set('volume.bytes', (boot.totalSectors16 || boot.totalSectors32) * boot.bytesPerSector, at(boot.totalSectors16 ? 19 : 32, 4));
  store.set('volume.endsInsidePartition', (boot.totalSectors16 || boot.totalSectors32) * boot.bytesPerSector <= placeBytes, at(32, 4));
  store.set('volume.mirroring', (boot.extendedFlags & 0x80) === 0);
  store.set('volume.cleanShutdown', value(volume.cleanShutdown), at(boot.stateAt, 1));
  store.set('volume.hardErrorsNoted', value(volume.hardErrorsNoted), at(boot.stateAt, 1));
  store.set('volume.fatCopiesMatch', value(volume.fatCopiesMatch), at(geometry?.fatStart ?? 0, geometry?.fatBytes ?? 512));
  store.set(
    'volume.bootBackupMatches',
    volume.bootBackupMatches === null ? new Absent('this volume keeps no backup of its boot sector') : value(volume.bootBackupMatches),
  );
  store.set('volume.freeClusters', value(volume.freeClusters));
  if (geometry === null) {
    const marker = new Unseen('damaged', 'the boot sector describes no volume');
    for (const path of ['volume', 'files', 'filesTotal', 'deletedEntries']) store.setGroup(path, marker);
    store.set('volume.fileSystem', 'not recognised');
    return;
  }
  const layout = { fatSectors16: boot.fatSectors16, rootEntryCount: boot.rootEntryCount };
  const decided = widths(geometry.clusterCount, layout);
  store.set('volume.fileSystem', geometry.fileSystem, at(0, 512));
  store.set('volume.clusterCount', geometry.clusterCount, at(11, 25));
  store.set('volume.dataStartByte', startByte + geometry.dataStart);
  store.set(
    'volume.rootEntryCapacity',
    geometry.rootBytes > 0 ? boot.rootEntryCount : new Absent('the root folder of a FAT32 volume grows'),
  );
  store.set('volume.rootEntriesUsed', incomplete ?? volume.rootSlotsUsed);
  store.set('volume.rootEntries', incomplete ?? volume.rootEntries);
  store.set('volume.widthDisputed', decided.disputed);
  store.set('volume.widthByFatfs', decided.fatfs);
  store.set(
    'volume.widthByDriver',
    new FactList([
      `specification: ${decided.specification}`,
      `fatfs: ${decided.fatfs}`,
      `Linux: ${decided.linux}`,
      `Windows: ${decided.windows}`,
    ]),
  );
  labels(store, volume, incomplete);
  store.set(
    'volume.serial',
    boot.extendedSignature === 0x29 || boot.extendedSignature === 0x28
      ? boot.serial.toString(16).toUpperCase().padStart(8, '0')
      : new Absent('the boot sector carries no serial number'),
  );
  store.set('volume.oddities', new FactList(volume.oddities.map(({ code, text, at: offset }) => ({ code, text, at: startByte + offset }))));
  store.set('files', new FactList(volume.entries.map(fileRecord), incomplete));
  store.set('filesTotal', incomplete ?? volume.entries.length);
}

function labels(store: FactStore, volume: FatVolume, incomplete: Unseen | undefined): void {
  const root = volume.labels.find((label) => label.folder === null && !label.isFolder);
  const { boot } = volume;
  const stored = String.fromCharCode(...boot.labelBytes).trimEnd();
  const none = new Absent('the volume has no label');
  if (root !== undefined) {
    store.set('volume.label', root.rawShortName.trimEnd());
    store.set('volume.labelEntryName', root.shortName);
    return;
  }
  store.set('volume.labelEntryName', incomplete ?? none);
  const own = boot.extendedSignature === 0x29 && stored !== '' && stored !== 'NO NAME' ? stored : null;
  store.set('volume.label', own ?? incomplete ?? none);
}

const unreadFat = new Unseen('damaged', 'the file allocation table could not be read');

function fileRecord(entry: FatEntry): FactRecord {
  const { attributes, folderPath } = entry;
  return {
    path: entry.path,
    name: entry.name,
    shortName: entry.shortName,
    hasLongName: entry.hasLongName,
    folder: folderPath,
    depth: folderPath === '' ? 0 : folderPath.split('/').length,
    isFolder: entry.isFolder,
    bytes: entry.bytes,
    readOnly: (attributes & attribute.readOnly) !== 0,
    hidden: (attributes & attribute.hidden) !== 0,
    system: (attributes & attribute.system) !== 0,
    entryIndex: entry.entryIndex,
    fragments: entry.chain?.fragments ?? unreadFat,
    litter: litterOf(entry.name),
  };
}

/** What `collectDamage` needs of the update file: its entry, and the short name that this loader looks for. */
export interface UpdateEntry {
  readonly entry: FatEntry | null;
  readonly wantedShortName: string | null;
}

/** Sets `damage.*`, `deletedEntries` and `updateFile.deletedTwins`, which depend on which file is the update file. */
export function collectDamage(store: FactStore, volume: FatVolume, startByte: number, update: UpdateEntry): void {
  const incomplete = volume.incomplete === null ? undefined : unseenFrom(volume.incomplete);
  const touched = touches(volume, update.entry);
  const list = volume.damage.map((damage) => ({
    kind: damage.kind,
    text: damage.text,
    path: damage.entry?.path ?? new Absent('it touches no single file'),
    at: damage.at === null ? new Absent('it is not in one place') : startByte + damage.at,
    touchesUpdateFile: touched(damage),
  }));
  const counts = volume.damageCounts;
  const total = Object.values(counts).reduce((sum, count) => sum + count, 0);
  const rest = total > list.length ? new Unseen('over-limit', `${total - list.length} more faults are not listed`) : undefined;
  store.set('damage.list', new FactList(list, rest ?? incomplete));
  store.set('damage.any', total > 0 ? true : (incomplete ?? false));
  store.set(
    'damage.touchesUpdateFile',
    list.some((damage) => damage.touchesUpdateFile) ? true : (rest ?? incomplete ?? false),
  );
  const count = (...kinds: string[]): number => kinds.reduce((sum, kind) => sum + (counts[kind] ?? 0), 0);
  store.set('damage.loops', incomplete ?? count('loop'));
  store.set('damage.crossLinks', incomplete ?? count('cross-link'));
  store.set('damage.lostClusters', volume.lostClusters instanceof ReadProblem ? unseenFrom(volume.lostClusters) : volume.lostClusters);
  store.set('damage.shortChains', incomplete ?? count('short-chain'));
  store.set('damage.longChains', incomplete ?? count('long-chain'));
  store.set('damage.brokenChains', incomplete ?? count('into-free', 'into-bad', 'out-of-range'));
  store.set('damage.orphanLongNames', incomplete ?? count('orphan-long-name'));
  store.set('damage.bootSector', count('boot-sector'));
}

/** Which damage touches the update file: its own entry, its folders, its FAT entries, or the volume as a whole. */
function touches(volume: FatVolume, update: FatEntry | null): (damage: FatVolume['damage'][number]) => boolean {
  if (update === null) return () => false;
  const own = new Set<FatEntry>([update]);
  for (let folder = update.folder; folder !== null; folder = folder.folder) own.add(folder);
  const sameChain = sameChainInEveryFat(volume, update);
  return ({ kind, entry, other, folder }) => {
    if (kind === 'boot-sector' || kind === 'fat-start') return true;
    if (kind === 'fat-copies-differ') return !sameChain;
    if (kind === 'lost-clusters' || kind === 'boot-backup-differs') return false;
    if ((entry !== null && own.has(entry)) || (other !== null && own.has(other))) return true;
    // Stray entries in the folder of the update file come before or behind its own.
    return kind === 'orphan-long-name' && folder === update.folder;
  };
}
