import type { Absent, Unseen } from '../../facts/fact.js';
import type { FileSystemName } from '../../facts/schema.js';

/** A value that a system told, or why it did not. Each query may fail by itself, and says so in its own words. */
export type Told<T> = T | Absent | Unseen;

/** What any user may ask of the system about a mounted volume. Sizes are in bytes. */
export interface MountedVolume {
  /** The folder under which the whole volume stands: mount point or drive root, as the system writes it. */
  readonly root: string;
  /** The device that is mounted there, as it can be opened for reading; null when the system names none. */
  readonly device: string | null;
  /** Name of the driver (`vfat`, `fuseblk`, `msdos`, `FAT32`), as the system says it. */
  readonly driver: string;
  /** True when the volume is mounted so that somebody may write to it. */
  readonly writable: Told<boolean>;
  readonly fileSystem: Told<FileSystemName>;
  readonly clusterBytes: Told<number>;
  readonly clusterCount: Told<number>;
  readonly volumeBytes: Told<number>;
  readonly label: Told<string>;
  /** Kind of the partition table of the medium that holds the volume. */
  readonly scheme: Told<'mbr' | 'gpt' | 'hybrid' | 'none'>;
  /** Number of its partition from 1; absent when the volume fills the whole card. */
  readonly partitionIndex: Told<number>;
  /** Type byte of an MBR entry, GUID of a GPT one, in capitals. */
  readonly partitionType: Told<number | string>;
  readonly partitionStartByte: Told<number>;
  readonly partitionBytes: Told<number>;
  /** Used entries of the table besides this one. */
  readonly otherPartitions: Told<number>;
  /** Size of the whole medium, and of its sectors. */
  readonly mediumBytes: Told<number>;
  readonly sectorBytes: Told<number>;
}

/** One removable card of this computer. */
export interface ListedCard {
  /** What `check` takes: drive letter, mount point or device. */
  readonly target: string;
  /** The whole medium's name, for people: `/dev/sdb`, `disk4`, `PhysicalDrive2`. */
  readonly device: string;
  readonly title: string | null;
  readonly bytes: number | null;
  readonly fileSystem: string | null;
  readonly label: string | null;
  /** Where it is mounted; null when it is not. */
  readonly mountedAt: string | null;
}

/** Removable cards, and in plain words why the list may lack some; null when it does not. */
export interface CardList {
  readonly cards: readonly ListedCard[];
  readonly incomplete: string | null;
}

/** What a system says of a device that is to be read without the system's file systems. Sizes are in bytes. */
export interface DeviceDetails {
  /** The path that is best opened for reading: the same device, unbuffered where there is a choice. */
  readonly readFrom: string;
  readonly bytes: Told<number>;
  /** Reads of an unbuffered device begin and end at multiples of this. */
  readonly sectorBytes: Told<number>;
  /** True for a whole card, false for one of its partitions. */
  readonly isWhole: boolean;
}

/** A system by which cards are found and asked. At most one program is started for each call, for 5 seconds at most. */
export interface CardSystem {
  /** The mounted volume that holds a folder; null when the system does not say which. The folder need not be its root. */
  volumeOf(folder: string): MountedVolume | null;
  /** Cards that are removable, and why the list may lack some. */
  cards(): CardList;
  /** Size and sectors of a device, where opening it does not tell them; null for a path that names no device. */
  deviceOf?(path: string): DeviceDetails | null;
}
