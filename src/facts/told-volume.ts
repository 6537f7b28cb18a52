import type { Absent, Unseen } from './fact.js';
import type { FileSystemName } from './schema.js';

/** A value that a system told, or why it did not. Each query may fail by itself, and says so in its own words. */
export type Told<T> = T | Absent | Unseen;

/** What any user may ask of the system about a mounted volume, as facts take it. Sizes are in bytes. */
export interface ToldVolume {
  /** True when the volume is mounted so that somebody may write to it. */
  readonly writable: Told<boolean>;
  /** By the system's own word for it, which follows the form of the boot sector; the number of clusters agrees. */
  readonly fileSystem: Told<FileSystemName>;
  readonly clusterBytes: Told<number>;
  readonly clusterCount: Told<number>;
  /** Free ones, as the driver counted them in the FAT. */
  readonly freeClusters: Told<number>;
  readonly volumeBytes: Told<number>;
  readonly label: Told<string>;
  /** The copy of the FAT along which the driver of this system reads files, where its source says so. */
  readonly readsFat: Told<'first'>;
  /** Kind of the partition table of the medium that holds the volume. A `gpt` may be a hybrid table. */
  readonly scheme: Told<'mbr' | 'gpt' | 'hybrid' | 'none'>;
  /** Number of its partition from 1; absent when the volume fills the whole card. */
  readonly partitionIndex: Told<number>;
  /** Type byte of an MBR entry, GUID of a GPT one, in capitals. */
  readonly partitionType: Told<number | string>;
  /** Boot flag byte of an MBR entry. */
  readonly bootFlag: Told<number>;
  readonly partitionStartByte: Told<number>;
  readonly partitionBytes: Told<number>;
  /** Used entries of the table besides this one. */
  readonly otherPartitions: Told<number>;
  /** Size of the whole medium, and of its sectors. */
  readonly mediumBytes: Told<number>;
  readonly sectorBytes: Told<number>;
}
