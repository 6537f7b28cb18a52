import { Absent, Unseen } from '../../facts/fact.js';
import type { FileSystemName } from '../../facts/schema.js';
import { clusterFacts, type Units } from './allocation-units.js';
import { cardsOfLinux } from './linux-cards.js';
import { type BlockDevice, LinuxComputer } from './linux-computer.js';
import { fatWidths, fileSystemNamed, isFatName } from './linux-names.js';
import { decodedUdev, type Mount, mountOf } from './linux-tables.js';
import { nothingTold } from './nothing-told.js';
import type { CardSystem, DeviceDetails, MountedVolume } from './system.js';

/*
 * What any user of Linux may read: mountinfo, statfs, the kernel's folders about block devices, and what libblkid told
 * udev when the card was put in. No program is started.
 */
export const linuxSystem = (computer: LinuxComputer = new LinuxComputer()): CardSystem => ({
  volumeOf: (folder) => mountedVolume(computer, folder),
  cards: () => cardsOfLinux(computer),
  deviceOf: (path) => deviceDetails(computer, path),
});

const notSaid = (what: string): Unseen => new Unseen('not-visible', `this computer does not tell ${what}`);

/** Properties of a device in udev's database; null when udev does not know it. */
type Udev = ReadonlyMap<string, string> | null;

function mountedVolume(computer: LinuxComputer, folder: string): MountedVolume | null {
  const mounts = computer.mounts();
  let mount: Mount | null;
  try {
    mount = mountOf(mounts, computer.calls.realPath(folder), computer.calls.numberOf(folder));
  } catch {
    return null;
  }
  if (mount === null) return null;
  const { number, mountPoint, driver, options } = mount;
  const device = computer.device(number);
  const udev = computer.udev(number);
  const why =
    device === null
      ? `the volume is reached through the driver ${driver}, and this computer does not tell on which card it lies`
      : 'this computer does not tell this';
  return {
    ...nothingTold(mountPoint, device === null ? null : `/dev/${device.name}`, why),
    ...partOf(mount, mounts),
    driver,
    writable: !options.has('ro'),
    ...fileSystemOf(computer, mount, udev),
    volumeBytes: notSaid('the size that the boot sector gives the volume'),
    label: labelOf(udev),
    // Its first copy, whatever the marks of a FAT32 volume say (Linux, fs/fat/fatent.c and inode.c).
    readsFat: isFatDriver(driver) ? 'first' : notSaid('which copy of the file allocation table it follows'),
    ...(device === null ? {} : placeOf(device, udev)),
  };
}

/** Set for a mount that shows a folder of a file system only. */
function partOf({ folder, number }: Mount, mounts: readonly Mount[]): Pick<MountedVolume, 'part'> {
  if (folder === '/') return {};
  const whole = mounts.findLast((other) => other.number === number && other.folder === '/');
  return { part: { folder, wholeAt: whole?.mountPoint ?? null } };
}

const isFatDriver = (driver: string): boolean => driver === 'vfat' || driver === 'msdos';

type FileSystemFacts = Pick<MountedVolume, 'fileSystem' | 'clusterBytes' | 'clusterCount' | 'freeClusters'>;

/**
 * Only the kernel's own drivers answer statfs with clusters (Linux, fat_statfs and exfat_statfs); what stands behind
 * FUSE or a network has units of its own.
 */
function fileSystemOf(computer: LinuxComputer, mount: Mount, udev: Udev): FileSystemFacts {
  const { driver, options } = mount;
  const version = udev?.get('ID_FS_VERSION') ?? '';
  const isFat = isFatDriver(driver);
  if (!isFat && driver !== 'exfat') {
    const clusters = notSaid(
      `the cluster size: it comes from the card's own drivers only, and this one is ${driver}`,
    );
    return {
      fileSystem: otherFileSystem(driver, udev),
      clusterBytes: clusters,
      clusterCount: clusters,
      freeClusters: clusters,
    };
  }
  const told = clusterFacts({
    system: 'Linux',
    candidates: isFat ? fatNames(version) : ['exFAT'],
    word: version || driver,
    unitBytes: undefined,
    units: unitsOf(computer, mount.mountPoint),
  });
  const facts = options.has('usefree')
    ? { ...told, freeClusters: notSaid('a count of free clusters of its own') }
    : told;
  // The driver takes a volume for FAT32 by the form of its boot sector, whatever the number of clusters. Only a count
  // that no other width has settles that without udev's word.
  if (isFat && !isFatName(version) && facts.fileSystem !== 'FAT32')
    return { ...facts, fileSystem: notSaid('of which width this FAT volume is') };
  return facts;
}

const fatNames = (version: string): readonly FileSystemName[] => (isFatName(version) ? [version] : fatWidths);

function unitsOf(computer: LinuxComputer, mountPoint: string): Units | null {
  try {
    return computer.calls.unitsOf(mountPoint);
  } catch {
    return null;
  }
}

function otherFileSystem(driver: string, udev: Udev): FileSystemName | Unseen {
  const own = fileSystemNamed(driver);
  if (own !== null) return own;
  // Behind FUSE the driver has any name; udev knows what lies on the device itself.
  if (driver !== 'fuseblk') return notSaid(`the file system behind the driver ${driver}`);
  return (
    fileSystemNamed(udev?.get('ID_FS_TYPE') ?? '', udev?.get('ID_FS_VERSION')) ??
    notSaid('the file system behind FUSE')
  );
}

/** The label in the root folder, else that of the boot sector unless it is NO NAME (libblkid, superblocks/vfat.c). */
function labelOf(udev: Udev): MountedVolume['label'] {
  if (!udev?.has('ID_FS_TYPE')) return notSaid('the label of the volume');
  const stored = udev.get('ID_FS_LABEL_ENC');
  if (stored === undefined) return new Absent('the volume has no label');
  return decodedUdev(stored) ?? notSaid('the label of the volume in letters that can be read');
}

type Place = Pick<
  MountedVolume,
  | 'card'
  | 'scheme'
  | 'partitionIndex'
  | 'partitionType'
  | 'bootFlag'
  | 'partitionStartByte'
  | 'partitionBytes'
  | 'otherPartitions'
  | 'mediumBytes'
  | 'sectorBytes'
>;

/** Where on the card a volume lies, by the kernel's folders and udev's properties of the partition. */
function placeOf(device: BlockDevice, udev: Udev): Place {
  const card = device.whole;
  const common = {
    card: `/dev/${card.name}`,
    mediumBytes: card.bytes ?? notSaid('the size of the card'),
    sectorBytes: card.sectorBytes ?? notSaid('the sector size of the card'),
  };
  const index = device.partition;
  if (index === null) return { ...common, ...withoutPartition(device) };
  const table = udev?.get('ID_PART_ENTRY_SCHEME');
  const scheme = table === 'dos' ? 'mbr' : table === 'gpt' ? 'gpt' : null;
  const isSame = scheme !== null && udev?.get('ID_PART_ENTRY_NUMBER') === String(index);
  return {
    ...common,
    scheme:
      scheme ??
      notSaid(`of which kind the partition table is${table ? ` (its word for it is ${table})` : ''}`),
    partitionIndex: scheme === null || isSame ? index : notSaid('which entry of the partition table this is'),
    partitionType: (isSame ? typeOf(scheme, udev) : null) ?? notSaid('the type of the partition'),
    // Written down only when it is not 0 (libblkid, partitions/partitions.c).
    bootFlag:
      scheme === 'gpt'
        ? new Absent('a GPT has no boot flags')
        : isSame
          ? Number.parseInt(udev?.get('ID_PART_ENTRY_FLAGS') ?? '0', 16) % 256
          : notSaid('the boot flag of the partition'),
    partitionStartByte: device.startByte ?? notSaid('where on the card the partition begins'),
    partitionBytes: device.bytes ?? notSaid('the size of the partition'),
    otherPartitions: othersOf(card, index, scheme),
  };
}

/** `0xc` of an MBR, a GUID in small letters of a GPT. */
function typeOf(scheme: 'mbr' | 'gpt', udev: Udev): number | string | null {
  const type = udev?.get('ID_PART_ENTRY_TYPE') ?? '';
  if (scheme === 'gpt')
    return /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i.test(type) ? type.toUpperCase() : null;
  return /^0x[0-9a-f]{1,2}$/i.test(type) ? Number(type) : null;
}

/** The kernel lists the entry that holds logical partitions (numbers from 5) beside them, which leaves the number open. */
function othersOf(card: BlockDevice, index: number, scheme: 'mbr' | 'gpt' | null): number | Unseen {
  const numbers = card.partitions.map(({ partition }) => partition as number);
  if (!numbers.includes(index) || (scheme !== 'gpt' && numbers.some((each) => each > 4)))
    return notSaid('how many partitions there are');
  return numbers.length - 1;
}

/** A volume that fills the whole device. */
function withoutPartition(device: BlockDevice): Omit<Place, 'card' | 'mediumBytes' | 'sectorBytes'> {
  const isAll = device.isMedium && device.partitions.length === 0;
  const unclear = notSaid('whether this device is a whole card or a piece of one');
  const none = isAll ? new Absent('the volume fills the whole card') : unclear;
  return {
    scheme: isAll ? 'none' : unclear,
    partitionIndex: none,
    partitionType: none,
    bootFlag: none,
    partitionStartByte: none,
    partitionBytes: none,
    otherPartitions: isAll ? 0 : unclear,
  };
}

function deviceDetails(computer: LinuxComputer, path: string): DeviceDetails | null {
  let number: string | null;
  try {
    number = computer.calls.deviceNumber(path);
  } catch {
    return null;
  }
  if (number === null) return null;
  const device = computer.device(number);
  if (device === null) {
    const why = notSaid('the size of this device');
    return { readFrom: path, bytes: why, sectorBytes: why, isWhole: true };
  }
  const card = device.whole;
  const numbers = new Set([card, ...card.partitions].map((each) => each.number));
  return {
    readFrom: path,
    bytes: device.bytes ?? notSaid('the size of this device'),
    sectorBytes: card.sectorBytes ?? notSaid('the sector size of this device'),
    isWhole: device.partition === null,
    card: `/dev/${card.name}`,
    writableAt: computer
      .mounts()
      .filter((mount) => numbers.has(mount.number) && !mount.options.has('ro'))
      .map(({ mountPoint }) => mountPoint),
    writeMark: () => card.writes ?? '',
  };
}
