import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { LinuxComputer } from '../../../src/node/systems/linux-computer.js';
import {
  decodedUdev,
  mountOf,
  numberText,
  parseMounts,
  parseUdev,
} from '../../../src/node/systems/linux-tables.js';
import { run } from '../../support/disk-images.js';
import { mayMount } from '../../support/loop-device.js';

describe('mountinfo', () => {
  // The example line of proc_pid_mountinfo(5), with its optional field.
  it('is read as its manual page describes it', () => {
    expect(
      parseMounts('36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue\n'),
    ).toEqual([
      {
        number: '98:0',
        folder: '/mnt1',
        mountPoint: '/mnt2',
        driver: 'ext3',
        source: '/dev/root',
        options: new Set(['rw', 'noatime', 'errors=continue']),
      },
    ]);
  });

  it('has blanks, tabs, line ends, backslashes and number signs as octal digits', () => {
    const [mount] = parseMounts(
      '9 1 8:17 / /media/a\\040card\\011with\\012odd\\134letters rw - vfat /dev/by\\043id rw\n',
    );
    expect(mount?.mountPoint).toBe('/media/a card\twith\nodd\\letters');
    expect(mount?.source).toBe('/dev/by#id');
  });

  it('of any other form is passed over', () => {
    for (const text of [
      '',
      '\n\n',
      'x',
      '1 2 3 4 5 6',
      '1 2 8:1 / /a rw - vfat',
      '1 2 a:b / /a rw - vfat /dev/x rw',
      ' - ',
    ])
      expect(parseMounts(text)).toEqual([]);
    expect(parseMounts(`${'9 '.repeat(100_000)}\n1 2 8:1 / /a rw - vfat /dev/x rw`)).toHaveLength(1);
  });

  it('gives the mount that is seen: the longest path, the later of two, and the right device', () => {
    const mounts = parseMounts(
      [
        '1 0 254:0 / / rw - ext4 /dev/root rw',
        '2 1 8:17 / /media/a rw - vfat /dev/sdb1 rw',
        '3 1 8:33 / /media/a rw - vfat /dev/sdc1 rw',
        '4 1 8:49 / /media/a/b rw - vfat /dev/sdd1 rw',
        // This one hides the one before it: nothing under /media/a/b can be reached any more.
        '5 1 8:65 / /media/a rw - vfat /dev/sde1 rw',
      ].join('\n'),
    );
    const at = (folder: string, number: string): string | undefined =>
      mountOf(mounts, folder, number)?.source;
    expect(at('/media/a', '8:65')).toBe('/dev/sde1');
    expect(at('/media/a/b/c', '8:65')).toBe('/dev/sde1');
    expect(at('/media/a/b/c', '8:49')).toBe('/dev/sdd1');
    expect(at('/media/ab', '254:0')).toBe('/dev/root');
    expect(at('/media/a', '8:99')).toBeUndefined();
  });

  it('of this computer says what findmnt says', () => {
    const own = (): string => {
      const mounts = new LinuxComputer().mounts();
      return JSON.stringify(
        mounts.map(({ mountPoint, driver, folder, number }) => [mountPoint, driver, folder, number]),
      );
    };
    const byFindmnt = (): string => {
      const text = run('findmnt', ['--kernel', '--list', '--json', '-o', 'TARGET,FSTYPE,FSROOT,MAJ:MIN']);
      const { filesystems } = JSON.parse(text) as { filesystems: Record<string, string>[] };
      return JSON.stringify(
        filesystems.map((each) => [each.target, each.fstype, each.fsroot, each['maj:min']]),
      );
    };
    // Other tests mount and unmount meanwhile.
    const isSame = (): boolean => {
      const before = own();
      return before === byFindmnt() && before === own();
    };
    expect(Array.from({ length: 20 }).some(isSame)).toBe(true);
  });
});

describe('device numbers', () => {
  it('are taken apart as the C library puts them together', () => {
    expect(numberText(0x811n)).toBe('8:17');
    expect(numberText(statSync('/', { bigint: true }).dev)).toBe(
      run('findmnt', ['-n', '-o', 'MAJ:MIN', '/']).trim(),
    );
  });

  it.runIf(mayMount)('are those that mknod was given', () => {
    const folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
    try {
      for (const [major, minor] of [
        [8, 17],
        [259, 3],
        [4095, 1_048_575],
        [7, 65_536],
      ] as const) {
        const path = join(folder, `${major}-${minor}`);
        run('mknod', [path, 'b', String(major), String(minor)]);
        expect(numberText(statSync(path, { bigint: true }).rdev)).toBe(`${major}:${minor}`);
      }
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });
});

describe("udev's database", () => {
  it('is read line by line', () => {
    const properties = parseUdev(
      'S:disk/x\nI:12\nE:ID_FS_TYPE=vfat\nE:A=b=c\nE:lower=no\nG:systemd\nE:ID_FS_LABEL_ENC=MY\\x20CARD\n',
    );
    expect([...properties]).toEqual([
      ['ID_FS_TYPE', 'vfat'],
      ['A', 'b=c'],
      ['ID_FS_LABEL_ENC', 'MY\\x20CARD'],
    ]);
  });

  it('has bytes of names as hexadecimal digits', () => {
    expect(decodedUdev('MY\\x20CARD')).toBe('MY CARD');
    expect(decodedUdev('K\\xc3\\x84SE')).toBe('KÄSE');
    expect(decodedUdev('KÄSE \\x5cx41 \\x')).toBe('KÄSE \\x41 \\x');
    expect(decodedUdev('\\xff')).toBeNull();
  });
});
