import { closeSync, openSync, readdirSync, readSync, realpathSync, statfsSync, statSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { limits } from '../../bytes/limits.js';
import type { Units } from './allocation-units.js';
import { type Mount, numberText, parseMounts, parseUdev } from './linux-tables.js';

/** Where Linux keeps what any user may read about devices and mounts. Tests put tables of their own in their place. */
export interface LinuxPlaces {
  readonly mountinfo: string;
  readonly sys: string;
  readonly udev: string;
}

/** What is asked of the kernel about a path. */
export interface LinuxCalls {
  realPath(path: string): string;
  /** Number of the device on which a file or folder lies. */
  numberOf(path: string): string;
  /** Number of the device that a path names; null for anything that is no block device. */
  deviceNumber(path: string): string | null;
  unitsOf(mountPoint: string): Units;
}

/** This computer: its tables and its kernel. Every question may fail, and is then answered with null or nothing. */
export class LinuxComputer {
  constructor(
    private readonly places: LinuxPlaces = {
      mountinfo: '/proc/self/mountinfo',
      sys: '/sys',
      udev: '/run/udev/data',
    },
    readonly calls: LinuxCalls = kernel,
  ) {}

  mounts(): Mount[] {
    return parseMounts(textOf(this.places.mountinfo) ?? '');
  }

  /** udev's properties of the device of this number; null when udev does not know it. */
  udev(number: string): ReadonlyMap<string, string> | null {
    const text = textOf(join(this.places.udev, `b${number}`));
    return text === null ? null : parseUdev(text);
  }

  /** The kernel's folder about the device of this number; null when there is none. */
  device(number: string): BlockDevice | null {
    return /^\d+:\d+$/.test(number) ? blockDevice(join(this.places.sys, 'dev/block', number)) : null;
  }

  /** All whole block devices; null when the kernel shows none. */
  wholeDevices(): BlockDevice[] | null {
    const folder = join(this.places.sys, 'block');
    return namesIn(folder)?.flatMap((name) => blockDevice(join(folder, name)) ?? []) ?? null;
  }
}

const kernel: LinuxCalls = {
  realPath: (path) => realpathSync(path),
  numberOf: (path) => numberText(statSync(path, { bigint: true }).dev),
  deviceNumber: (path) => {
    const stats = statSync(path, { bigint: true });
    return stats.isBlockDevice() ? numberText(stats.rdev) : null;
  },
  unitsOf: (mountPoint) => {
    const { bsize, blocks, bfree } = statfsSync(mountPoint);
    return { bytes: bsize, count: blocks, free: bfree };
  },
};

function blockDevice(folder: string): BlockDevice | null {
  try {
    return new BlockDevice(realpathSync(folder));
  } catch {
    return null;
  }
}

/** What the kernel shows about one block device in its folder under /sys (Documentation/ABI/stable/sysfs-block). */
export class BlockDevice {
  constructor(private readonly folder: string) {}

  /** Name of its node under /dev, `sdb1`. A `!` of the kernel's name stands for a `/`. */
  get name(): string {
    return (
      /^DEVNAME=(.+)$/m.exec(this.text('uevent') ?? '')?.[1] ?? basename(this.folder).replaceAll('!', '/')
    );
  }

  /** `8:17`; null when the kernel does not say. */
  get number(): string | null {
    return this.text('dev')?.trim() ?? null;
  }

  /** Number of the partition that it is; null for a whole device. */
  get partition(): number | null {
    return this.count('partition');
  }

  /** First byte and size; the kernel counts in units of 512 bytes whatever the sectors are. */
  get startByte(): number | null {
    return inBytes(this.count('start'));
  }
  get bytes(): number | null {
    return inBytes(this.count('size'));
  }

  /** The whole device that it is a partition of, or itself. */
  get whole(): BlockDevice {
    return this.partition === null ? this : new BlockDevice(dirname(this.folder));
  }

  /** Its partitions, by number. */
  get partitions(): BlockDevice[] {
    return (namesIn(this.folder) ?? [])
      .map((name) => new BlockDevice(join(this.folder, name)))
      .filter(({ partition }) => partition !== null)
      .sort((one, other) => (one.partition as number) - (other.partition as number));
  }

  /** Bytes of a sector, the smallest piece that can be read. */
  get sectorBytes(): number | null {
    return this.count('queue/logical_block_size');
  }

  /** True for a medium by itself; false where a device is made of a part of another one, or of several. */
  get isMedium(): boolean {
    const isWholeFile = this.count('loop/offset') === 0 && (this.count('loop/sizelimit') ?? 0) === 0;
    return isWholeFile || namesIn(join(this.folder, 'device')) !== null;
  }

  get isRemovable(): boolean {
    // The slot of a computer for memory cards does not call them removable.
    return this.count('removable') === 1 || this.text('device/type')?.trim() === 'SD';
  }

  /** Maker and model, or the name of a card, as the device tells them. */
  get title(): string | null {
    const words = ['device/vendor', 'device/model'].map((file) => this.text(file)?.trim() ?? '');
    return words.filter((word) => word !== '').join(' ') || this.text('device/name')?.trim() || null;
  }

  /** Kind of SCSI device (0: disk, 5: optical); null for others. */
  get scsiType(): number | null {
    return this.count('device/type');
  }

  /** Writes and sectors written so far (Documentation/block/stat.rst, fields 5 and 7). */
  get writes(): string | null {
    const fields = this.text('stat')?.trim().split(/\s+/) ?? [];
    return fields.length > 6 ? `${fields[4]} ${fields[6]}` : null;
  }

  private count(file: string): number | null {
    const text = this.text(file)?.trim() ?? '';
    const value = /^\d{1,15}$/.test(text) ? Number(text) : Number.NaN;
    return Number.isSafeInteger(value) ? value : null;
  }

  private text(file: string): string | null {
    return textOf(join(this.folder, file));
  }
}

const inBytes = (units: number | null): number | null => (units === null ? null : units * 512);

/** A table of the kernel or of udev; null when it cannot be read. Such files have no size, and end where reading ends. */
function textOf(path: string): string | null {
  let descriptor: number;
  try {
    descriptor = openSync(path, 'r');
  } catch {
    return null;
  }
  try {
    const pieces: Buffer[] = [];
    for (let length = 0; length <= limits.textFileBytes; ) {
      const piece = Buffer.alloc(64 * 1024);
      const count = readSync(descriptor, piece);
      if (count === 0) return Buffer.concat(pieces).toString('utf8');
      pieces.push(piece.subarray(0, count));
      length += count;
    }
    return null;
  } catch {
    return null;
  } finally {
    closeSync(descriptor);
  }
}

function namesIn(folder: string): string[] | null {
  try {
    return readdirSync(folder);
  } catch {
    return null;
  }
}
