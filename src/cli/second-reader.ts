import type { ByteSource } from '../bytes/byte-source.js';
import { ReadProblem } from '../bytes/byte-source.js';
import type { Digests } from '../bytes/digests.js';
import type { Target } from '../core/collect.js';
import { ownReading, type Rehearsed } from '../core/rehearsal-report.js';
import { volumeWindow } from '../facts/collect-partitions.js';
import { askFatFs, loadFatFs, pathForDriver, sectorBytesOf } from '../node/fatfs-opinion.js';
import { type DriverOpinion, driverBroke, driverOpinion, notAsked } from '../rehearsal/driver.js';

/** Lets the driver that the loader of this board carries read the same card; null when it carries none that is at hand. */
export async function secondReader(
  target: Target,
  result: Rehearsed,
  digests: Digests,
): Promise<DriverOpinion | null> {
  const { file, volume, resolved } = result.seen;
  if (resolved?.loader.driver !== 'fatfs') return null;
  if (!('source' in target)) return notAsked('It was not asked: the bytes of a card are not seen from here.');
  const path = file === null ? null : pathForDriver(file.entry);
  if (file !== null && path === null)
    return notAsked('It was not asked: the name of the file has letters that depend on how it was built.');
  const fatFs = await loadFatFs();
  if (typeof fatFs === 'string') return notAsked(`It was not asked: ${fatFs}.`);
  const window = volume === null ? null : volumeWindow(target.source, volume.startByte, volume.bytes);
  const own = window === null || window instanceof ReadProblem ? null : window;
  const given = own !== null && !findsItself(result) ? 'volume' : 'card';
  const source: ByteSource = given === 'volume' && own !== null ? own : target.source;
  try {
    const answer = await askFatFs(fatFs, source, sectorBytesOf(own ?? target.source), path, digests);
    return driverOpinion(given, answer, ownReading(result));
  } catch (error) {
    // The driver was compiled for another machine and may trip over a card as it would there.
    if (error instanceof Error && error.name === 'RuntimeError') return driverBroke(given);
    throw error;
  }
}

/** Whether the driver takes the same volume by itself: it knows the older partition table, and the first FAT in it. */
function findsItself({ store, seen }: Rehearsed): boolean {
  const scheme = store.text('partitionTable.scheme');
  const takes = seen.resolved?.loader.takesPartition;
  return (
    (scheme === 'mbr' || scheme === 'none') &&
    (takes === 'first-slot' || takes === 'first-fat' || takes === 'whole-card')
  );
}
