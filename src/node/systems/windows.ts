import { Absent, Unseen } from '../../facts/fact.js';
import type { FileSystemName } from '../../facts/schema.js';
import { clusterFacts } from './allocation-units.js';
import { Answer } from './answer.js';
import { type Asking, askComputer } from './asking.js';
import type { CallAnswer } from './call-out.js';
import { nothingTold } from './nothing-told.js';
import type { CardList, CardSystem, DeviceDetails, ListedCard, MountedVolume, Told } from './system.js';
import { type WindowsDevice, windowsDevice } from './windows-device.js';
import { cardsScript, deviceScript, volumeScript } from './windows-scripts.js';

/*
 * What is asked of Windows: the storage cmdlets of PowerShell (classes MSFT_Volume, MSFT_Partition, MSFT_Disk), and
 * Win32_Volume where they fail. Written from documentation and tried with answers written from it; not yet run on
 * Windows.
 */

export function windowsSystem(
  asking: Asking = askComputer,
  systemRoot: string = process.env.SystemRoot ?? 'C:\\Windows',
): CardSystem {
  const ask = (script: string): Answer | string =>
    answerOf(
      asking.call({
        name: 'PowerShell',
        program: `${systemRoot}\\System32\\WindowsPowerShell\\v1.0\\powershell.exe`,
        args: ['-NoProfile', '-NonInteractive', '-Command', script],
      }),
    );
  return {
    volumeOf: (folder) => {
      const root = asking.mountPointOf(folder);
      if (root === null) return null;
      const letter = /^([A-Za-z]):\\$/.exec(root)?.[1]?.toUpperCase();
      if (letter === undefined)
        return nothingTold(root, null, 'Windows shows this volume in a folder, not under a drive letter');
      return volumeUnder(letter, ask(volumeScript(letter)), asking);
    },
    cards: () => cardList(ask(cardsScript)),
    deviceOf: (path) => {
      const device = windowsDevice(path);
      return device === null ? null : deviceDetails(path, device, ask(deviceScript(device)));
    },
  };
}

/** What was printed, or in plain words why it cannot be used. */
function answerOf(answer: CallAnswer): Answer | string {
  if ('failure' in answer) return answer.failure;
  try {
    return new Answer(JSON.parse(answer.printed.replace(/^\uFEFF/, '')));
  } catch {
    return 'PowerShell printed what is no JSON';
  }
}

const notSaid = (what: string): Unseen => new Unseen('not-visible', `Windows does not tell ${what}`);

const fileSystems: Readonly<Record<string, readonly FileSystemName[]>> = {
  FAT: ['FAT12', 'FAT16'],
  FAT32: ['FAT32'],
  exFAT: ['exFAT'],
  NTFS: ['NTFS'],
  ReFS: ['ReFS'],
  UDF: ['UDF'],
  CDFS: ['ISO9660'],
};

function volumeUnder(letter: string, answer: Answer | string, asking: Asking): MountedVolume {
  const root = `${letter}:\\`;
  const device = `\\\\.\\${letter}:`;
  if (typeof answer === 'string') return nothingTold(root, device, answer);
  const [volume, partition, disk] = [answer.group('volume'), answer.group('partition'), answer.group('disk')];
  const older = answer.group('cim');
  if (!answer.has('volume') && !answer.has('cim'))
    return nothingTold(root, device, `Windows tells nothing of the drive ${letter}:`);
  const word = volume.text('FileSystem') ?? older.text('FileSystem') ?? '';
  return {
    root,
    device,
    driver: word,
    writable: writableOf(partition, disk),
    ...clusterFacts({
      system: 'Windows',
      candidates: Object.hasOwn(fileSystems, word) ? fileSystems[word]! : [],
      word,
      unitBytes: volume.number('AllocationUnitSize') ?? older.number('BlockSize'),
      units: asking.unitsOf(root),
    }),
    volumeBytes: notSaid('the size that the boot sector gives the volume'),
    label: answer.has('volume') ? labelOf(volume, 'FileSystemLabel') : labelOf(older, 'Label'),
    mediumBytes: disk.number('Size') ?? notSaid('the size of the card'),
    sectorBytes: disk.number('LogicalSectorSize') ?? notSaid('the sector size of the card'),
    ...placeOf(partition, disk, answer.groups('partitions')),
  };
}

function writableOf(partition: Answer, disk: Answer): Told<boolean> {
  const locked = [partition.flag('IsReadOnly'), disk.flag('IsReadOnly')];
  if (locked.includes(true)) return false;
  return locked.includes(undefined) ? notSaid('whether the volume can be written') : true;
}

function labelOf(volume: Answer, key: string): Told<string> {
  const label = volume.text(key);
  if (label === undefined) return new Absent('Windows shows no label');
  // Written in another code page than was asked for.
  return label.includes('\uFFFD') ? notSaid('the label in letters that can be read') : label;
}

type Place = Pick<
  MountedVolume,
  'scheme' | 'partitionIndex' | 'partitionType' | 'partitionStartByte' | 'partitionBytes' | 'otherPartitions'
>;

/** Protective entry in front of a GPT: beside others, the table is a hybrid one (UEFI specification, 5.2.3). */
const protective = 0xee;

/** Where on the card the volume lies. A word or the number of MSFT_Disk.PartitionStyle. */
function placeOf(partition: Answer, disk: Answer, all: readonly Answer[]): Place {
  const start = partition.number('Offset');
  // Sector 0 holds the table where there is one: what begins there is a card without a table.
  if (start === 0) return noTable;
  const style = disk.text('PartitionStyle') ?? String(disk.number('PartitionStyle') ?? '');
  const isHybrid = all.some((each) => each.number('MbrType') === protective);
  const scheme = /^(?:MBR|1)$/i.test(style)
    ? isHybrid
      ? 'hybrid'
      : 'mbr'
    : /^(?:GPT|2)$/i.test(style)
      ? 'gpt'
      : null;
  const known = scheme !== null && start !== undefined;
  return {
    scheme: known ? scheme : notSaid('of which kind the partition table is'),
    // Unused entries are left out of its count: number 1 may be any entry of the table.
    partitionIndex: new Unseen(
      'not-visible',
      'Windows numbers partitions by itself and does not tell which entry of the partition table this is',
    ),
    partitionType: (known ? typeOf(partition, scheme) : undefined) ?? notSaid('the type of the partition'),
    partitionStartByte: start ?? notSaid('where on the card the partition begins'),
    partitionBytes: partition.number('Size') ?? notSaid('the size of the partition'),
    otherPartitions: othersOf(disk, all),
  };
}

const wholeCard = new Absent('the volume fills the whole card');
const noTable: Place = {
  scheme: 'none',
  partitionIndex: wholeCard,
  partitionType: wholeCard,
  partitionStartByte: wholeCard,
  partitionBytes: wholeCard,
  otherPartitions: 0,
};

function typeOf(partition: Answer, scheme: string): number | string | undefined {
  if (scheme === 'gpt')
    return /^\{([0-9A-F-]{36})\}$/i.exec(partition.text('GptType') ?? '')?.[1]?.toUpperCase();
  const type = partition.number('MbrType');
  return type !== undefined && type > 0 && type < 256 ? type : undefined;
}

/** Told only when the disk counts as many partitions as were listed. */
function othersOf(disk: Answer, all: readonly Answer[]): Told<number> {
  const count = disk.number('NumberOfPartitions');
  return count !== undefined && count > 0 && count === all.length
    ? count - 1
    : notSaid('how many partitions there are');
}

function cardList(answer: Answer | string): CardList {
  if (typeof answer === 'string') return { cards: [], incomplete: answer };
  if (answer.has('disks'))
    return { cards: answer.groups('disks').filter(isCard).flatMap(cardsOn), incomplete: null };
  return {
    cards: answer.groups('cim').flatMap(cardByLetter),
    incomplete: answer.has('cim')
      ? 'Windows did not name its disks, so that cards without a drive letter are missing'
      : 'Windows did not name its disks',
  };
}

/** A word or the number of MSFT_Volume.DriveType. */
const isRemovable = (volume: Answer): boolean =>
  volume.text('DriveType') === 'Removable' || volume.number('DriveType') === 2;

/**
 * Removable by its volumes, or by the words of Win32_DiskDrive.MediaType where it has none. Storage that is soldered
 * in speaks the language of cards too, so that the bus says nothing.
 */
const isCard = (disk: Answer): boolean =>
  disk.flag('IsBoot') !== true &&
  disk.flag('IsSystem') !== true &&
  // An empty slot of a card reader has no size.
  (disk.number('Size') ?? 0) > 0 &&
  (disk.groups('Volumes').some(isRemovable) || /^Removable/i.test(disk.text('MediaType') ?? ''));

const letterOf = (volume: Answer): string | null =>
  /^([A-Z]):?$/i.exec(volume.text('DriveLetter') ?? '')?.[1]?.toUpperCase() ?? null;

/** One line for each volume under a letter, or one for the card when it has none. */
function cardsOn(disk: Answer): ListedCard[] {
  const number = disk.number('Number');
  if (number === undefined) return [];
  const volumes = disk.groups('Volumes');
  const mounted = volumes.filter((volume) => letterOf(volume) !== null);
  const shown = mounted.length > 0 ? mounted : [volumes[0] ?? new Answer(null)];
  return shown.map((volume) => {
    const letter = letterOf(volume);
    return {
      target: letter === null ? `\\\\.\\PhysicalDrive${number}` : `${letter}:`,
      device: `PhysicalDrive${number}`,
      title: disk.text('FriendlyName') ?? null,
      bytes: disk.number('Size') ?? null,
      fileSystem: volume.text('FileSystem') ?? null,
      label: volume.text('FileSystemLabel') ?? null,
      mountedAt: letter === null ? null : `${letter}:\\`,
    };
  });
}

/** A drive with removable media by Win32_Volume; nothing for an empty slot. */
function cardByLetter(volume: Answer): ListedCard[] {
  const letter = letterOf(volume);
  const bytes = volume.number('Capacity') ?? 0;
  if (letter === null || bytes === 0) return [];
  return [
    {
      target: `${letter}:`,
      device: `${letter}:`,
      title: null,
      bytes,
      fileSystem: volume.text('FileSystem') ?? null,
      label: volume.text('Label') ?? null,
      mountedAt: `${letter}:\\`,
    },
  ];
}

function deviceDetails(path: string, device: WindowsDevice, answer: Answer | string): DeviceDetails {
  const isDisk = device.kind === 'disk';
  const why = typeof answer === 'string' ? new Unseen('not-visible', answer) : undefined;
  const [partition, disk] =
    typeof answer === 'string' ? [] : [answer.group('partition'), answer.group('disk')];
  return {
    readFrom: path,
    bytes: (isDisk ? disk : partition)?.number('Size') ?? why ?? notSaid('the size of the device'),
    sectorBytes: disk?.number('LogicalSectorSize') ?? why ?? notSaid('the sector size of the device'),
    // A volume that begins where the card does is the whole card.
    isWhole: isDisk || partition?.number('Offset') === 0,
  };
}
