import {
  appendFileSync,
  mkdirSync,
  mkdtempSync,
  rmSync,
  statfsSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Absent, Unseen } from '../../../src/facts/fact.js';
import { linuxSystem } from '../../../src/node/systems/linux.js';
import { LinuxComputer } from '../../../src/node/systems/linux-computer.js';
import type { MountedVolume } from '../../../src/node/systems/system.js';
import { run, sfdisk } from '../../support/disk-images.js';
import { mayMount, withLoop, withMount } from '../../support/loop-device.js';
import { type ShownHow, shownByLinux } from '../../support/mounted-card.js';

let work: string;
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

const empty = (name: string, bytes: number): string => {
  const path = join(work, name);
  writeFileSync(path, '');
  truncateSync(path, bytes);
  return path;
};

/** A card with one FAT volume from 1 MiB on, made by sfdisk and mkfs.fat. */
function card(name: string, lines: string[], fat: string[], startSector = 2048): string {
  // FAT32 has 65,525 clusters at least.
  const bytes = fat.includes('32') && fat.includes('1') ? 48 * 1024 * 1024 : 16 * 1024 * 1024;
  const image = empty(`${name}.img`, bytes);
  if (lines.length > 0) sfdisk(image, lines);
  const blocks = (bytes - startSector * 512) / 1024;
  run('mkfs.fat', [...fat, '--offset', String(startSector), '-n', 'MY CARD', image, String(blocks)]);
  return image;
}

let count = 0;
function shown(image: string, how: ShownHow = {}) {
  const folder = join(work, `shown ${count++}`);
  mkdirSync(folder);
  const made = shownByLinux(image, folder, how);
  return { ...made, folder, volume: linuxSystem(made.computer).volumeOf(made.root) as MountedVolume };
}

const unseenKeys = (volume: MountedVolume): string[] =>
  Object.entries(volume).flatMap(([key, value]) => (value instanceof Unseen ? [key] : []));

describe('a volume that the kernel mounted with its own FAT driver', () => {
  it('is told with its clusters, its table and its place', () => {
    const image = card('mbr', ['start=2048, type=c, bootable'], ['-F', '32', '-s', '1']);
    const { volume, root } = shown(image);
    expect(volume).toMatchObject({
      root,
      device: '/dev/sdb1',
      card: '/dev/sdb',
      driver: 'vfat',
      writable: true,
      fileSystem: 'FAT32',
      clusterBytes: 512,
      label: 'MY CARD',
      readsFat: 'first',
      scheme: 'mbr',
      partitionIndex: 1,
      partitionType: 0x0c,
      bootFlag: 0x80,
      partitionStartByte: 1024 * 1024,
      partitionBytes: 47 * 1024 * 1024,
      otherPartitions: 0,
      mediumBytes: 48 * 1024 * 1024,
      sectorBytes: 512,
    });
    const fsck = run('fsck.fat', ['-n', '-v', `${image}.volume`]);
    expect(fsck).toContain(`${volume.clusterCount} data clusters`);
    expect(fsck).toContain(`${(volume.clusterCount as number) - (volume.freeClusters as number)}/`);
    expect(unseenKeys(volume)).toEqual(['volumeBytes']);
  });

  it('of a GPT has a GUID and no boot flag', () => {
    const image = empty('gpt.img', 48 * 1024 * 1024);
    run('sgdisk', ['-n', '1:2048:0', '-t', '1:0700', image]);
    run('mkfs.fat', ['-F', '16', '--offset', '2048', image, String(46 * 1024)]);
    const { volume } = shown(image);
    expect(volume.scheme).toBe('gpt');
    expect(volume.partitionType).toBe('EBD0A0A2-B9E5-4433-87C0-68B6B72699C7');
    expect(volume.bootFlag).toBeInstanceOf(Absent);
  });

  it('fills the whole card when the kernel found no partitions', () => {
    const { volume } = shown(card('whole', [], ['-F', '16', '-s', '4'], 0), { startByte: 0 });
    expect(volume.scheme).toBe('none');
    expect(volume.partitionIndex).toBeInstanceOf(Absent);
    expect(volume.otherPartitions).toBe(0);
    expect(volume.fileSystem).toBe('FAT16');
  });

  it('beside logical partitions has an open number of others', () => {
    const image = card(
      'logical',
      ['start=2048, size=24576, type=6', 'start=28672, type=5', 'start=30720, size=1024, type=6'],
      ['-F', '16', '-s', '4'],
    );
    expect(shown(image).volume.otherPartitions).toBeInstanceOf(Unseen);
    const two = card(
      'two',
      ['start=2048, size=24576, type=6', 'start=28672, type=6'],
      ['-F', '16', '-s', '4'],
    );
    expect(shown(two).volume.otherPartitions).toBe(1);
  });

  it("is told without udev's database as far as the kernel alone goes", () => {
    const image = card('no-udev', ['start=2048, type=6'], ['-F', '16', '-s', '4']);
    const { volume } = shown(image, { udev: false });
    expect(volume).toMatchObject({
      clusterBytes: 2048,
      partitionIndex: 1,
      otherPartitions: 0,
      partitionStartByte: 1048576,
    });
    // The kernel takes a volume for FAT32 by the form of its boot sector, which only udev tells.
    expect(unseenKeys(volume).sort()).toEqual(
      ['bootFlag', 'fileSystem', 'label', 'partitionType', 'scheme', 'volumeBytes'].sort(),
    );
    const large = card('no-udev-32', ['start=2048, type=c'], ['-F', '32', '-s', '1']);
    expect(shown(large, { udev: false }).volume.fileSystem).toBe('FAT32');
  });

  it('of FAT32 with the clusters of FAT16 has no file system that all would agree on', () => {
    const image = card('small-32', ['start=2048, type=c'], ['-F', '32', '-s', '8']);
    const { volume } = shown(image);
    expect(volume.clusterCount).toBeLessThan(65525);
    expect(volume.fileSystem).toBeInstanceOf(Unseen);
  });

  it('of which udev tells another partition than the kernel is told less of', () => {
    const image = card('stale', ['start=2048, type=6'], ['-F', '16', '-s', '4']);
    const { computer, root, folder, udev } = shown(image);
    writeFileSync(join(folder, 'udev', 'b8:17'), udev.replace('ENTRY_NUMBER=1', 'ENTRY_NUMBER=2'));
    const volume = linuxSystem(computer).volumeOf(root) as MountedVolume;
    for (const value of [volume.partitionIndex, volume.partitionType, volume.bootFlag])
      expect(value).toBeInstanceOf(Unseen);
  });

  it('has options that count', () => {
    const image = card('options', ['start=2048, type=6'], ['-F', '16', '-s', '4']);
    expect(shown(image, { options: 'ro' }).volume.writable).toBe(false);
    expect(shown(image, { options: 'rw,usefree' }).volume.freeClusters).toBeInstanceOf(Unseen);
  });

  it('of which a folder is mounted is not the whole volume, and the whole one is named', () => {
    const image = card('bind', ['start=2048, type=6'], ['-F', '16', '-s', '4']);
    const { volume, computer, folder, mountinfo, root } = shown(image, { folder: '/UPDATE' });
    expect(volume.part).toEqual({ folder: '/UPDATE', wholeAt: null });
    appendFileSync(
      join(folder, 'mountinfo'),
      mountinfo.split('\n')[2]!.replace('/UPDATE', '/').replace('CARD', 'WHOLE'),
    );
    expect(linuxSystem(computer).volumeOf(root)?.part?.wholeAt).toBe(root.replace('CARD', 'WHOLE'));
  });

  it('under another driver tells no clusters, and nothing at all where it names no device', () => {
    const image = card('fuse', ['start=2048, type=6'], ['-F', '16', '-s', '4']);
    const block = shown(image, { driver: 'fuseblk' }).volume;
    for (const value of [block.clusterBytes, block.clusterCount, block.freeClusters, block.readsFat])
      expect(value).toBeInstanceOf(Unseen);
    expect(block.fileSystem).toBe('FAT16');
    const network = shown(image, { driver: '9p' });
    rmSync(join(network.folder, 'sys'), { recursive: true });
    const volume = linuxSystem(network.computer).volumeOf(network.root) as MountedVolume;
    expect(volume.device).toBeNull();
    expect(unseenKeys(volume)).toEqual(
      expect.arrayContaining(['fileSystem', 'clusterBytes', 'scheme', 'mediumBytes']),
    );
  });

  it('has a reason in every fact that is not told', () => {
    const image = card('reasons', ['start=2048, type=6'], ['-F', '16', '-s', '4']);
    for (const how of [{}, { udev: false }, { driver: 'fuseblk' }, { driver: '9p' }] as ShownHow[])
      for (const value of Object.values(shown(image, how).volume))
        if (value instanceof Unseen) expect(value.text.length).toBeGreaterThan(20);
  });

  it('is not found where the tables are not there or name other devices', () => {
    const image = card('broken', ['start=2048, type=6'], ['-F', '16', '-s', '4']);
    const { computer, folder, root } = shown(image);
    writeFileSync(join(folder, 'mountinfo'), '1 2 8:99 / /elsewhere rw - vfat /dev/x rw\n');
    expect(linuxSystem(computer).volumeOf(root)).toBeNull();
    rmSync(join(folder, 'mountinfo'));
    expect(linuxSystem(computer).volumeOf(root)).toBeNull();
  });
});

describe('the list of cards', () => {
  it('has removable devices with something in them', () => {
    const { computer, root, folder } = shown(card('list', ['start=2048, type=6'], ['-F', '16', '-s', '4']));
    const cards = () => linuxSystem(computer).cards();
    expect(cards()).toEqual({
      cards: [
        {
          target: root,
          device: '/dev/sdb',
          title: 'Larkfield Card Reader',
          bytes: 16 * 1024 * 1024,
          fileSystem: 'FAT16',
          label: 'MY CARD',
          mountedAt: root,
        },
      ],
      incomplete: null,
    });
    const disk = join(folder, 'sys/devices/usb1/block/sdb');
    for (const [file, text] of [
      ['removable', '0'],
      ['size', '0'],
      ['device/type', '5'],
    ] as const) {
      const path = join(disk, file);
      const before = run('cat', [path]);
      writeFileSync(path, text);
      expect(cards().cards).toEqual([]);
      writeFileSync(path, before);
    }
    // A slot for memory cards in the computer itself does not call them removable.
    writeFileSync(join(disk, 'removable'), '0');
    writeFileSync(join(disk, 'device/type'), 'SD\n');
    expect(cards().cards).toHaveLength(1);
    // The computer itself may run from a card.
    writeFileSync(join(folder, 'mountinfo'), '1 0 8:17 / / rw - vfat /dev/sdb1 rw\n');
    expect(cards().cards).toEqual([]);
    // One that is not mounted is named by its device.
    writeFileSync(join(folder, 'mountinfo'), '1 0 254:0 / / rw - ext4 /dev/root rw\n');
    expect(cards().cards[0]).toMatchObject({ target: '/dev/sdb', mountedAt: null });
    rmSync(join(folder, 'mountinfo'));
    expect(cards().incomplete).toMatch(/mounted/);
    rmSync(join(folder, 'sys/block'), { recursive: true });
    expect(cards()).toMatchObject({ cards: [], incomplete: expect.stringContaining('/sys/block') });
  });

  it('of this computer can be asked for', () => {
    expect(linuxSystem().cards().incomplete).toBeNull();
  });
});

describe.runIf(mayMount)('real devices and mounts', () => {
  const system = linuxSystem();

  it.each([512, 1024, 2048, 4096])(
    'a device with sectors of %i bytes has the size that blockdev says',
    async (sector) => {
      const image = empty(`loop-${sector}.img`, 8 * 1024 * 1024 + 3 * 4096);
      await withLoop(
        image,
        (device) => {
          expect(system.deviceOf?.(device)).toMatchObject({
            readFrom: device,
            bytes: Number(run('blockdev', ['--getsize64', device])),
            sectorBytes: Number(run('blockdev', ['--getss', device])),
            isWhole: true,
            card: device,
            writableAt: [],
          });
          expect(Number(run('blockdev', ['--getss', device]))).toBe(sector);
        },
        ['-r', '--sector-size', String(sector)],
      );
      expect(system.deviceOf?.('/dev/null')).toBeNull();
      expect(system.deviceOf?.(join(work, 'nothing'))).toBeNull();
    },
  );

  it('ext4 on a device', async () => {
    const image = empty('ext4.img', 16 * 1024 * 1024);
    run('mke2fs', ['-q', '-F', '-t', 'ext4', image]);
    await withLoop(
      image,
      async (device) => {
        const folder = join(work, 'ext 4');
        await withMount(['mount', device], folder, () => {
          mkdirSync(join(folder, 'inside'), { recursive: true });
          const volume = system.volumeOf(join(folder, 'inside')) as MountedVolume;
          expect(volume).toMatchObject({
            root: folder,
            device,
            card: device,
            driver: 'ext4',
            fileSystem: 'ext4',
            writable: true,
            scheme: 'none',
          });
          expect(volume.clusterBytes).toBeInstanceOf(Unseen);
          expect(volume.part).toBeUndefined();
          expect(system.deviceOf?.(device)?.writableAt).toEqual([folder]);
          const mark = system.deviceOf?.(device)?.writeMark;
          const before = mark?.();
          writeFileSync(join(folder, 'written'), 'x');
          run('sync', ['-f', folder]);
          expect(mark?.()).not.toBe(before);
        });
        const bound = join(work, 'bound');
        await withMount(['mount', device], folder, () =>
          withMount(['mount', '--bind', join(folder, 'inside')], bound, () => {
            expect(system.volumeOf(bound)).toMatchObject({
              root: bound,
              part: { folder: '/inside', wholeAt: folder },
            });
          }),
        );
      },
      [],
    );
  });

  it('a piece of a file that looks like a whole device is not taken for a card', async () => {
    const image = empty('piece.img', 24 * 1024 * 1024);
    run('mke2fs', ['-q', '-F', '-t', 'ext4', '-E', 'offset=1048576', image, '20m']);
    await withLoop(
      image,
      async (device) => {
        const folder = join(work, 'piece');
        await withMount(['mount', '-o', 'ro', device], folder, () => {
          const volume = system.volumeOf(folder) as MountedVolume;
          expect(volume.scheme).toBeInstanceOf(Unseen);
          expect(volume.partitionIndex).toBeInstanceOf(Unseen);
        });
      },
      ['-r', '-o', '1048576'],
    );
  });

  it('FAT behind FUSE, whose clusters come out unseen although statfs tells some', async () => {
    const image = card('fusefat', [], ['-F', '32', '-s', '8'], 0);
    const folder = join(work, 'fusefat');
    await withMount(['fusefat', '-o', 'ro', image], folder, () => {
      const volume = system.volumeOf(folder) as MountedVolume;
      expect(statfsSync(folder).bsize).toBe(1024);
      expect(volume).toMatchObject({
        root: folder,
        device: null,
        driver: expect.stringContaining('fusefat'),
      });
      for (const value of [volume.clusterBytes, volume.clusterCount, volume.freeClusters, volume.fileSystem])
        expect(value).toBeInstanceOf(Unseen);
    });
  });

  it.each([
    ['exFAT', 'mkfs.exfat', 'mount.exfat-fuse'],
    ['NTFS', 'mkfs.ntfs', 'ntfs-3g'],
  ] as const)('%s behind FUSE', async (_name, make, mount) => {
    const image = empty(`${mount}.img`, 16 * 1024 * 1024);
    run(make, [...(make === 'mkfs.ntfs' ? ['-q', '-F', '-f'] : []), image]);
    await withLoop(
      image,
      async (device) => {
        const folder = join(work, mount);
        await withMount([mount, '-o', 'ro', device], folder, () => {
          const volume = system.volumeOf(folder) as MountedVolume;
          expect(volume).toMatchObject({ root: folder, driver: 'fuseblk', device });
          // udev knows of no device here, so that nobody tells what lies behind FUSE.
          expect(volume.fileSystem).toBeInstanceOf(Unseen);
          expect(volume.clusterBytes).toBeInstanceOf(Unseen);
        });
      },
      mount === 'ntfs-3g' ? [] : ['-r'],
    );
  });
});

describe('this computer', () => {
  it('tells the volume under any folder, or nothing', () => {
    const system = linuxSystem(new LinuxComputer());
    const volume = system.volumeOf(import.meta.dirname) as MountedVolume;
    expect(statSync(volume.root).dev).toBe(statSync(import.meta.dirname).dev);
    expect(system.volumeOf(join(work, 'nothing'))).toBeNull();
    expect(system.volumeOf('/proc')).toMatchObject({ root: '/proc', driver: 'proc', device: null });
  });
});
