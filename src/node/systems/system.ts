import type { Told, ToldVolume } from '../../facts/told-volume.js';

export type { Told } from '../../facts/told-volume.js';

/** A mounted volume: what any user may ask of the system about it, and where it stands. */
export interface MountedVolume extends ToldVolume {
  /** The folder under which the whole volume stands: mount point or drive root, as the system writes it. */
  readonly root: string;
  /**
   * Set when only a folder of the volume is mounted here: that folder, and a place where the whole volume is mounted,
   * if there is one.
   */
  readonly part?: { readonly folder: string; readonly wholeAt: string | null };
  /** The device that is mounted there, as it can be opened for reading; null when the system names none. */
  readonly device: string | null;
  /** The whole card that holds it, as it can be opened for reading; null or left out when the system names none. */
  readonly card?: string | null;
  /** Name of the driver (`vfat`, `fuseblk`, `msdos`, `FAT32`), as the system says it. */
  readonly driver: string;
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
  /** The whole card, of a partition; null or left out when the system does not tell. */
  readonly card?: string | null;
  /** Folders under which it, or a partition of it, is mounted so that somebody may write to it. */
  readonly writableAt?: readonly string[];
  /** A mark that differs after the system wrote to the device; left out where the system counts no writes. */
  writeMark?(): string;
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
