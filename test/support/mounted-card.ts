import { execFileSync } from 'node:child_process';
import { mkdirSync, readFileSync, statSync, symlinkSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Units } from '../../src/node/systems/allocation-units.js';
import { type LinuxCalls, LinuxComputer } from '../../src/node/systems/linux-computer.js';
import { run } from './disk-images.js';

/**
 * A card as a Linux computer with the kernel's own FAT driver shows it, put together without that driver, which not
 * every kernel has: the files come out of the image by mtools, and the tables are written as the kernel and udev
 * document them, with the numbers that sfdisk, blkid and fsstat find in the same image.
 */
export interface Shown {
  /** The folder in which the files lie. */
  readonly root: string;
  readonly computer: LinuxComputer;
  /** The texts of the tables, to be changed before the computer is asked. */
  readonly mountinfo: string;
  readonly udev: string;
}

export interface ShownHow {
  /** First byte of the volume; 1 MiB when left out, 0 for a card without a table. */
  readonly startByte?: number;
  readonly driver?: string;
  readonly options?: string;
  /** Folder of the volume that is mounted. */
  readonly folder?: string;
  /** False for a computer without udev's database. */
  readonly udev?: boolean;
  /** Size of a sector of the card. */
  readonly sectorBytes?: number;
}

/** Puts the volume of an image into `work` as if it were mounted there. */
export function shownByLinux(image: string, work: string, how: ShownHow = {}): Shown {
  const startByte = how.startByte ?? 1024 * 1024;
  const root = join(work, 'media', 'CARD');
  mkdirSync(root, { recursive: true });
  const names = run('mdir', ['-b', '-i', `${image}@@${startByte}`, '::/'])
    .split('\n')
    .filter(Boolean);
  if (names.length > 0) run('mcopy', ['-s', '-m', '-n', '-i', `${image}@@${startByte}`, ...names, root]);
  const sys = join(work, 'sys');
  const put = (path: string, text: string): void => {
    mkdirSync(dirname(join(sys, path)), { recursive: true });
    writeFileSync(join(sys, path), `${text}\n`);
  };
  const bytes = statSync(image).size;
  const disk = 'devices/usb1/block/sdb';
  put(`${disk}/uevent`, 'MAJOR=8\nMINOR=16\nDEVNAME=sdb\nDEVTYPE=disk');
  put(`${disk}/dev`, '8:16');
  put(`${disk}/size`, String(bytes / 512));
  put(`${disk}/removable`, '1');
  put(`${disk}/stat`, '7 0 56 1 0 0 0 0 0 1 1');
  put(`${disk}/queue/logical_block_size`, String(how.sectorBytes ?? 512));
  put(`${disk}/device/vendor`, 'Larkfield');
  put(`${disk}/device/model`, 'Card Reader     ');
  put(`${disk}/device/type`, '0');
  mkdirSync(join(sys, 'dev/block'), { recursive: true });
  mkdirSync(join(sys, 'block'), { recursive: true });
  symlinkSync(`../../${disk}`, join(sys, 'dev/block/8:16'));
  symlinkSync(`../${disk}`, join(sys, 'block/sdb'));
  const entries = partitionsOf(image);
  for (const { index, start, size } of entries) {
    const part = `${disk}/sdb${index}`;
    put(`${part}/uevent`, `MAJOR=8\nMINOR=${16 + index}\nDEVNAME=sdb${index}\nDEVTYPE=partition`);
    put(`${part}/dev`, `8:${16 + index}`);
    put(`${part}/partition`, String(index));
    put(`${part}/start`, String(start));
    put(`${part}/size`, String(size));
    symlinkSync(`../../${part}`, join(sys, `dev/block/8:${16 + index}`));
  }
  const own = entries.find(({ start }) => start * 512 === startByte);
  const number = own ? `8:${16 + own.index}` : '8:16';
  const device = own ? `/dev/sdb${own.index}` : '/dev/sdb';
  const udev = [
    'S:disk/by-id/usb-Larkfield_Card',
    'E:ID_BUS=usb',
    ...(entries.length > 0 ? [`E:ID_PART_TABLE_TYPE=${entries[0]!.scheme}`] : []),
    ...blkid(image, startByte),
    ...(own
      ? [
          `E:ID_PART_ENTRY_SCHEME=${own.scheme}`,
          `E:ID_PART_ENTRY_TYPE=${own.type}`,
          ...(own.bootable ? ['E:ID_PART_ENTRY_FLAGS=0x80'] : []),
          `E:ID_PART_ENTRY_NUMBER=${own.index}`,
          `E:ID_PART_ENTRY_OFFSET=${own.start}`,
          `E:ID_PART_ENTRY_SIZE=${own.size}`,
        ]
      : []),
    '',
  ].join('\n');
  const mountinfo = [
    '21 1 254:0 / / rw,relatime shared:1 - ext4 /dev/root rw',
    '36 21 0:32 / /proc rw,nosuid - proc proc rw',
    `98 21 ${number} ${how.folder ?? '/'} ${escaped(root)} ${how.options ?? 'rw'},nosuid,nodev,relatime shared:55 - ${how.driver ?? 'vfat'} ${device} ${how.options ?? 'rw'},fmask=0022,dmask=0022,codepage=437,shortname=mixed,utf8,errors=remount-ro`,
    '',
  ].join('\n');
  const tables = { mountinfo: join(work, 'mountinfo'), sys, udev: join(work, 'udev') };
  mkdirSync(tables.udev);
  writeFileSync(tables.mountinfo, mountinfo);
  if (how.udev !== false) writeFileSync(join(tables.udev, `b${number}`), udev);
  const calls: LinuxCalls = {
    realPath: (path) => path,
    numberOf: (path) => (path === root || path.startsWith(`${root}/`) ? number : '254:0'),
    deviceNumber: (path) => (path === '/dev/sdb' ? '8:16' : path === device ? number : null),
    unitsOf: () => unitsOf(image, startByte),
  };
  return { root, computer: new LinuxComputer(tables, calls), mountinfo, udev };
}

const escaped = (path: string): string =>
  path.replace(/[ \t\n\\]/g, (character) => `\\${character.charCodeAt(0).toString(8).padStart(3, '0')}`);

interface Entry {
  index: number;
  scheme: string;
  start: number;
  size: number;
  type: string;
  bootable: boolean;
}

/** The partitions of an image, as sfdisk finds them. */
function partitionsOf(image: string): Entry[] {
  let text: string;
  try {
    text = run('sfdisk', ['--json', image]);
  } catch {
    return [];
  }
  const { partitiontable: table } = JSON.parse(text) as {
    partitiontable: {
      label: string;
      partitions?: { node: string; start: number; size: number; type: string; bootable?: boolean }[];
    };
  };
  return (table.partitions ?? []).map(({ node, start, size, type, bootable }) => ({
    index: Number(/(\d+)$/.exec(node)?.[1]),
    scheme: table.label,
    start,
    size,
    type: table.label === 'gpt' ? type.toLowerCase() : `0x${type}`,
    bootable: bootable === true,
  }));
}

/** What libblkid tells udev of a volume. */
function blkid(image: string, startByte: number): string[] {
  const text = execFileSync('blkid', ['-p', '-o', 'udev', '--offset', String(startByte), image], {
    encoding: 'utf8',
    env: { ...process.env, PATH: `${process.env.PATH}:/usr/sbin:/sbin` },
  });
  return text
    .split('\n')
    .filter((line) => line.startsWith('ID_FS_'))
    .map((line) => `E:${line}`);
}

/** Clusters of a FAT volume as fsck.fat counts them; what the kernel answers statfs with (Linux, fat_statfs). */
function unitsOf(image: string, startByte: number): Units {
  const key = `${image} ${startByte} ${statSync(image).mtimeMs}`;
  const known = counted.get(key) ?? countedIn(image, startByte);
  counted.set(key, known);
  return known;
}

/** Counted once for each state of an image. */
const counted = new Map<string, Units>();

function countedIn(image: string, startByte: number): Units {
  const volume = `${image}.volume`;
  writeFileSync(volume, readFileSync(image).subarray(startByte));
  const text = fsck(volume);
  const bytes = Number(/^\s*(\d+) bytes per cluster/m.exec(text)?.[1]);
  const count = Number(/^\s*(\d+) data clusters/m.exec(text)?.[1]);
  const used = Number(/(\d+)\/\d+ clusters/.exec(text)?.[1]);
  return { bytes, count, free: count - used };
}

function fsck(volume: string): string {
  try {
    return run('fsck.fat', ['-n', '-v', volume]);
  } catch (error) {
    // It ends with 1 for anything that it would repair.
    return (error as { stdout?: string }).stdout ?? '';
  }
}
