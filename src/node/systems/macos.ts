import { Absent, Unseen } from '../../facts/fact.js';
import { clusterFacts } from './allocation-units.js';
import type { Answer } from './answer.js';
import { type Asking, askComputer } from './asking.js';
import type { CallAnswer } from './call-out.js';
import { gptTypeOf, macFileSystems, mbrTypeOf } from './macos-words.js';
import { nothingTold } from './nothing-told.js';
import { propertyLists } from './property-lists.js';
import type { CardList, CardSystem, DeviceDetails, ListedCard, MountedVolume, Told } from './system.js';

/*
 * What is asked of macOS: the property lists of diskutil (its manual page, section 8). Written from documentation and
 * tried with property lists written from it; not yet run on macOS.
 *
 * A small shell in between makes one call of the several questions, and can be ended at once even while diskutil
 * itself hangs in the system, where nothing ends it.
 */
const diskutil = '/usr/sbin/diskutil';

/** $1: diskutil. $2: a mount point. The volume, then all disks with their partitions. */
const volumeScript = '"$1" info -plist "$2" || exit; "$1" list -plist; exit 0';

/** $1: diskutil. $2: a device. */
const deviceScript = 'exec "$1" info -plist "$2"';

/**
 * $1: diskutil. $2: the folder of devices. Each whole disk, and each partition of those with removable media. All
 * disks are asked, since a card in the slot of a portable computer counts as internal. Names are escaped in a
 * property list, so that no name can look like the key.
 */
export const cardsScript = `
for disk in "$2"/disk[0-9] "$2"/disk[0-9][0-9]; do
  [ -e "$disk" ] || continue
  info=$("$1" info -plist "$disk") || continue
  printf '%s\\n' "$info"
  case $(printf %s "$info" | tr -d '[:space:]') in
    *'<key>RemovableMedia</key><true/>'*)
      for part in "$disk"s[0-9] "$disk"s[0-9][0-9]; do
        if [ -e "$part" ]; then "$1" info -plist "$part"; fi
      done ;;
  esac
done
exit 0
`;

export function macosSystem(asking: Asking = askComputer): CardSystem {
  const ask = (script: string, argument: string): CallAnswer =>
    asking.call({
      name: 'diskutil',
      program: '/bin/sh',
      args: ['-c', script, 'sh', diskutil, argument],
    });
  return {
    volumeOf: (folder) => {
      const root = asking.mountPointOf(folder);
      return root === null ? null : volumeAt(root, ask(volumeScript, root), asking);
    },
    cards: () => cardList(ask(cardsScript, '/dev')),
    deviceOf: (path) => {
      const name = deviceName(path);
      return name === null ? null : deviceDetails(name, ask(deviceScript, `/dev/${name}`));
    },
  };
}

/** `disk4s1` of `/dev/disk4s1` and of `/dev/rdisk4s1`; null for any other path. */
const deviceName = (path: string): string | null =>
  /^\/dev\/r?(disk\d{1,4}(?:s\d{1,4})*)$/.exec(path)?.[1] ?? null;

/** The raw device: it does not go through the system's cache, which may hold what is not on the card yet. */
const rawDevice = (name: string): string => `/dev/r${name}`;

/** What was printed, or in plain words why it cannot be used. */
function listsOf(answer: CallAnswer): readonly Answer[] | string {
  if ('failure' in answer) return answer.failure;
  return propertyLists(answer.printed) ?? 'diskutil printed what is no property list';
}

const notSaid = (what: string): Unseen => new Unseen('not-visible', `macOS does not tell ${what}`);

function volumeAt(root: string, answer: CallAnswer, asking: Asking): MountedVolume {
  const lists = listsOf(answer);
  if (typeof lists === 'string') return nothingTold(root, null, lists);
  const [volume, all] = lists;
  const name = deviceName(`/dev/${volume?.text('DeviceIdentifier') ?? ''}`);
  // Names are composed differently by file systems; a volume of another name answers for none.
  if (!volume || name === null || volume.text('MountPoint')?.normalize() !== root.normalize())
    return nothingTold(root, null, `diskutil knows of no volume at ${root}`);
  const wholeName = /^disk\d+/.exec(name)![0];
  const disk = all
    ?.groups('AllDisksAndPartitions')
    .find((each) => each.text('DeviceIdentifier') === wholeName);
  const driver = volume.text('FilesystemType') ?? '';
  const word = volume.text('FilesystemName') ?? driver;
  return {
    ...nothingTold(root, rawDevice(name), 'macOS does not tell this'),
    driver,
    writable: volume.flag('WritableVolume') ?? notSaid('whether the volume can be written'),
    ...clusterFacts({
      system: 'macOS',
      candidates: macFileSystems(driver, word),
      word,
      unitBytes: volume.number('VolumeAllocationBlockSize'),
      units: asking.unitsOf(root),
    }),
    volumeBytes: notSaid('the size that the boot sector gives the volume'),
    label: labelOf(volume),
    mediumBytes: disk?.number('Size') ?? notSaid('the size of the card'),
    sectorBytes: volume.number('DeviceBlockSize') ?? notSaid('the sector size of the card'),
    ...placeOf(volume, name, disk),
  };
}

/** The name that macOS shows. It makes one up for a volume without a label. */
function labelOf(volume: Answer): Told<string> {
  const shown = volume.text('VolumeName');
  if (shown === undefined)
    return volume.has('VolumeName') ? new Absent('macOS shows no name of the volume') : notSaid('the label');
  return /^(?:untitled(?: \d+)?|no name)$/i.test(shown)
    ? new Unseen(
        'not-visible',
        `macOS shows the name ${shown}, which it also gives to a volume without a label`,
      )
    : shown;
}

type Place = Pick<
  MountedVolume,
  'scheme' | 'partitionIndex' | 'partitionType' | 'partitionStartByte' | 'partitionBytes' | 'otherPartitions'
>;

/** Where on the card the volume lies, by the description of its whole disk. */
function placeOf(volume: Answer, name: string, disk: Answer | undefined): Place {
  const own = /^disk\d+s(\d+)$/.exec(name);
  if (/^disk\d+$/.test(name)) return noTable(volume, disk);
  const content = disk?.text('Content') ?? '';
  const scheme =
    content === 'FDisk_partition_scheme' ? 'mbr' : content === 'GUID_partition_scheme' ? 'gpt' : null;
  const type = volume.text('Content') ?? '';
  const known = scheme !== null && own !== null;
  return {
    scheme: scheme ?? notSaid(`of which kind the partition table is (${content || 'no word for it'})`),
    // The number in the device's name is that of the entry in the table (IOFDiskPartitionScheme, IOGUIDPartitionScheme).
    partitionIndex: known ? Number(own[1]) : notSaid('which entry of the partition table this is'),
    partitionType:
      (scheme === 'mbr' ? mbrTypeOf(type) : scheme === 'gpt' ? gptTypeOf(type) : undefined) ??
      notSaid(`the type of the partition (${type || 'no word for it'})`),
    partitionStartByte:
      volume.number('PartitionMapPartitionOffset') ?? notSaid('where on the card the partition begins'),
    partitionBytes: volume.number('Size') ?? notSaid('the size of the partition'),
    otherPartitions: othersOf(scheme, disk?.groups('Partitions') ?? [], name),
  };
}

/** A volume that fills the whole card. An empty table beside it would have been shown as one. */
function noTable(volume: Answer, disk: Answer | undefined): Place {
  const content = disk?.text('Content') ?? '';
  const none = new Absent('the volume fills the whole card');
  const hasTable = /partition_scheme$/.test(content);
  return {
    scheme: disk === undefined || hasTable ? notSaid('whether the card has a partition table') : 'none',
    partitionIndex: none,
    partitionType: none,
    partitionStartByte: none,
    partitionBytes: none,
    otherPartitions:
      (volume.flag('WholeDisk') ?? true) && !hasTable ? 0 : notSaid('how many partitions there are'),
  };
}

/** Entries that hold logical partitions are not listed, so that the logical ones (from number 5) leave it open. */
function othersOf(scheme: 'mbr' | 'gpt' | null, listed: readonly Answer[], name: string): Told<number> {
  const names = listed.map((each) => each.text('DeviceIdentifier') ?? '');
  const logical = scheme === 'mbr' && names.some((each) => Number(/s(\d+)$/.exec(each)?.[1]) > 4);
  if (scheme === null || logical || !names.includes(name)) return notSaid('how many partitions there are');
  return names.length - 1;
}

function cardList(answer: CallAnswer): CardList {
  const lists = listsOf(answer);
  if (typeof lists === 'string') return { cards: [], incomplete: lists };
  const disks = lists.filter((each) => each.flag('WholeDisk') === true && isCard(each));
  return { cards: disks.flatMap((disk) => cardsOn(disk, lists)), incomplete: null };
}

/** Removable media that are no disk images and no discs. A drive that is only connected from outside is none. */
const isCard = (disk: Answer): boolean =>
  disk.flag('RemovableMedia') === true &&
  disk.text('VirtualOrPhysical') !== 'Virtual' &&
  disk.text('BusProtocol') !== 'Disk Image' &&
  disk.text('OpticalMediaType') === undefined &&
  // An empty slot of a card reader has no size.
  (disk.number('Size') ?? 0) > 0;

/** One line for each mounted volume of a card, or one for the card when none is mounted. */
function cardsOn(disk: Answer, lists: readonly Answer[]): ListedCard[] {
  const name = deviceName(`/dev/${disk.text('DeviceIdentifier') ?? ''}`);
  if (name === null) return [];
  const volumes = lists.filter((each) => each === disk || each.text('ParentWholeDisk') === name);
  const mounted = volumes.filter((each) => each.text('MountPoint') !== undefined);
  const best = volumes.find((each) => each.text('FilesystemType') !== undefined) ?? disk;
  return (mounted.length > 0 ? mounted : [best]).map((volume) => {
    const mountedAt = volume.text('MountPoint') ?? null;
    const driver = volume.text('FilesystemType') ?? '';
    const word = volume.text('FilesystemName') ?? driver;
    const candidates = macFileSystems(driver, word);
    return {
      target: mountedAt ?? rawDevice(name),
      device: name,
      title: disk.text('MediaName') ?? null,
      bytes: disk.number('Size') ?? null,
      fileSystem: (candidates.length === 1 ? candidates[0] : word) || null,
      label: volume.text('VolumeName') ?? null,
      mountedAt,
    };
  });
}

function deviceDetails(name: string, answer: CallAnswer): DeviceDetails {
  const lists = listsOf(answer);
  const why = typeof lists === 'string' ? new Unseen('not-visible', lists) : undefined;
  const device = typeof lists === 'string' ? undefined : lists[0];
  return {
    readFrom: rawDevice(name),
    bytes: device?.number('Size') ?? why ?? notSaid('the size of the device'),
    sectorBytes: device?.number('DeviceBlockSize') ?? why ?? notSaid('the sector size of the device'),
    isWhole: /^disk\d+$/.test(name),
  };
}
