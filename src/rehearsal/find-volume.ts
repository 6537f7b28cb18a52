import type { Range } from '../board/profile.js';
import { sizeText } from '../bytes/size-text.js';
import { FactList, type FactValue } from '../facts/fact.js';
import type { RehearsalSubject } from './subject.js';
import type { StepWork } from './work.js';

const isListed = (found: FactValue, said: readonly unknown[]): boolean => said.includes(found);
const sizes = (list: readonly number[]): string => list.map(sizeText).join(', ');
const sectorBytes = 512;

/** The loader looks for the volume: partition table, partition, and what the boot sector of the volume says. */
export function findVolume(work: StepWork, { isCard }: RehearsalSubject): void {
  if (!isCard) {
    work.unknown({
      text: 'no card was looked at, only files in a folder',
      settle: 'put the files on a card, and rehearse that card',
    });
    return;
  }
  findPartition(work);
  mount(work);
  if (work.findings.length === 0) work.done(takenText(work));
}

function findPartition(work: StepWork): void {
  if (
    work.quietly('partitionTable.bothDescribed') === true &&
    work.said('loader.takesPartition') !== 'whole-card'
  ) {
    work.unknown({
      text: 'the first sector of the card describes two things at once, and loaders choose differently',
      settle: 'format the card again',
    });
    return;
  }
  work.wants<string[]>(
    'loader.partitioning',
    'partitionTable.scheme',
    isListed,
    (found, said) =>
      `The card has ${schemeText(found)}; this loader reads ${said.map(schemeText).join(' or ')}.`,
    { rule: 'card/partition-table' },
  );
  if (work.quietly('partitionTable.scheme') !== 'none')
    work.reads.push({ what: 'partition table', start: 0, bytes: sectorBytes });
  work.said('loader.takesPartition');
  const found = work.seen('partition.found');
  if (found === false) work.failed('The volume that this loader takes is not on the card.');
  if (found !== true) return;
  work.wants<number[] | 'any-but-zero'>(
    'loader.partitionTypes',
    'partition.type',
    (type, said) => typeof type !== 'number' || (Array.isArray(said) ? said.includes(type) : type !== 0),
    (type) => `The partition is marked as type ${byteText(type)}, which this loader passes over.`,
    { rule: 'card/partition-type' },
  );
  work.wants<number[]>(
    'loader.bootFlag',
    'partition.bootFlag',
    isListed,
    (flag) => `The boot flag of the partition is ${byteText(flag)}, which this loader does not take.`,
    { rule: 'card/boot-flag' },
  );
  work.wants<boolean>(
    'loader.onlyPartition',
    'partition.othersUsed',
    (others, said) => !said || others === 0,
    () => 'There are further partitions on the card; this loader wants one alone.',
    { rule: 'card/only-partition' },
  );
  work.wants<'must-be-zero'>(
    'loader.bootCode',
    'partitionTable.bootCode',
    (code) => code !== true || work.quietly('partitionTable.scheme') === 'none',
    () => 'Start-up code of a computer stands in front of the partition table, and this board may run it.',
    { rule: 'card/boot-code' },
  );
  if (work.quietly('partition.pastEnd') === true)
    work.failed('The partition runs past the end of the card.', {
      late: true,
      rule: 'card/partition-inside',
    });
  fitsCard(work);
}

function fitsCard(work: StepWork): void {
  work.wants<string[]>(
    'loader.cardClass',
    'media.possibleClasses',
    (found, said) => !(found instanceof FactList) || found.items.some((one) => isListed(one, said)),
    (_found, said) =>
      `This loader speaks to ${said.join(' and ')} cards only, and the card is of another family.`,
    { rule: 'card/capacity-class' },
  );
  work.wants<Range>(
    'loader.cardBytes',
    'media.leastCardBytes',
    (least, said) => typeof least !== 'number' || said.max === undefined || least <= said.max,
    (least, said) =>
      `The card has ${sizeText(Number(least))} at least; this loader takes ${sizeText(said.max ?? 0)} at most.`,
    { rule: 'card/exact-size' },
  );
}

/** What the loader reads from the boot sector of the volume. It may notice some of it only when it reads the file. */
function mount(work: StepWork): void {
  if (work.has('failed') || work.has('unknown')) return;
  const start = work.seen('volume.startByte');
  if (typeof start === 'number')
    work.reads.push({ what: 'boot sector of the volume', start, bytes: sectorBytes });
  const rule = (name: string): { late: true; rule: string } => ({ late: true, rule: `volume/${name}` });
  const faults = work.quietly('damage.bootSector');
  if (typeof faults === 'number' && faults > 0)
    work.failed('The boot sector of the volume is damaged, so that the loader cannot make sense of it.', {
      ...rule('boot-sector'),
    });
  work.wants<string[]>(
    'loader.fileSystems',
    'volume.fileSystem',
    isListed,
    (found, said) => `The volume is ${kindText(found)}; this loader reads ${said.join(' and ')}.`,
    rule('file-system'),
  );
  if (work.has('failed')) return;
  disputedWidth(work);
  strayPaths(work);
  work.wants<number[]>(
    'loader.clusterBytes',
    'volume.clusterBytes',
    isListed,
    (found, said) =>
      `The clusters have ${sizeText(Number(found))}; this loader reads clusters of ${sizes(said)}.`,
    rule('cluster-size'),
  );
  work.wants<number[]>(
    'loader.sectorBytes',
    'volume.bytesPerSector',
    isListed,
    (found, said) =>
      `The sectors have ${sizeText(Number(found))}; this loader reads sectors of ${sizes(said)}.`,
    rule('sector-size'),
  );
  work.wants<number[]>(
    'loader.fatCount',
    'volume.fatCount',
    isListed,
    (found, said) =>
      `The volume has ${found} copies of its file allocation table; this loader reads ${said.join(' or ')}.`,
    rule('fat-count'),
  );
  work.wants<number[]>(
    'loader.reservedSectors',
    'volume.reservedSectors',
    isListed,
    (found, said) =>
      `The volume keeps ${found} sectors in front of its tables; this loader wants ${said.join(' or ')}.`,
    { rule: 'volume/reserved-sectors' },
  );
  work.wants<number>(
    'loader.dataAlignment',
    'volume.dataStartByte',
    (found, said) => Number(found) % said === 0,
    (_found, said) => `The files do not begin at a multiple of ${sizeText(said)}, where this loader looks.`,
    { rule: 'volume/data-alignment' },
  );
  work.wants<Range>(
    'loader.volumeBytes',
    'volume.bytes',
    (found, { min = 0, max = Number.POSITIVE_INFINITY }) => Number(found) >= min && Number(found) <= max,
    (found) => `A volume of ${sizeText(Number(found))} is smaller or larger than this loader takes.`,
    rule('size'),
  );
  if (work.quietly('volume.endsInsidePartition') === false)
    work.failed('The volume is longer than its partition.', rule('inside-partition'));
  work.wants<boolean>(
    'loader.refusesDirty',
    'volume.cleanShutdown',
    (clean, said) => !said || clean === true,
    () => 'The card was not ejected properly, and this loader refuses such a card.',
    { rule: 'volume/clean-shutdown' },
  );
}

/** What lets a loader end up in another place, or with other bytes, than the tables say. */
function strayPaths(work: StepWork): void {
  if (work.quietly('volume.hardErrorsNoted') === true)
    work.unknown(
      { text: 'a computer met read or write errors on this card before' },
      { rule: 'volume/hard-errors' },
    );
  const left = work.quietly('volume.residues');
  if (
    work.said<string>('loader.searches') === 'whole-card' &&
    left instanceof FactList &&
    left.items.length > 0
  )
    work.unknown(
      { text: 'this loader searches the whole card, and finds what an earlier format left behind' },
      { rule: 'volume/residues' },
    );
}

/** Near the borders between the FAT widths drivers disagree; the limits of one driver are known. */
function disputedWidth(work: StepWork): void {
  if (work.quietly('volume.widthDisputed') !== true) return;
  const text = 'The volume has a number of clusters about which drivers disagree:';
  if (work.said<string>('loader.driver') !== 'fatfs') {
    work.unknown(
      { text: `${text} nobody can say what this loader takes it for.` },
      { rule: 'volume/width-disputed' },
    );
    return;
  }
  const width = work.quietly('volume.widthByFatfs');
  if (width !== work.quietly('volume.fileSystem'))
    work.failed(
      `${text} the driver of this loader ${width === 'refused' ? 'refuses it' : `takes it for ${width}`}.`,
      { late: true, rule: 'volume/width-disputed' },
    );
}

function takenText(work: StepWork): string {
  const index = work.quietly('partition.index');
  const place = typeof index === 'number' ? `partition ${index}` : 'the volume that begins with the card';
  const cluster = work.quietly('volume.clusterBytes');
  const clusters = typeof cluster === 'number' ? ` with clusters of ${sizeText(cluster)}` : '';
  return `It takes ${place}: ${kindText(work.quietly('volume.fileSystem'))}${clusters}.`;
}

const byteText = (value: FactValue): string =>
  typeof value === 'number' ? `0x${value.toString(16).toUpperCase().padStart(2, '0')}` : String(value);

const kindText = (found: FactValue): string =>
  found === 'empty' ? 'blank' : typeof found === 'string' ? found : 'of a kind that was not seen';

function schemeText(scheme: FactValue): string {
  if (scheme === 'mbr') return 'a partition table of the older kind (MBR)';
  if (scheme === 'gpt') return 'a partition table of the newer kind (GPT)';
  return scheme === 'hybrid' ? 'partition tables of both kinds' : 'no partition table';
}
