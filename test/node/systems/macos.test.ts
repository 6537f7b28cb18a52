import { chmodSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Absent, Unseen } from '../../../src/facts/fact.js';
import { callOut } from '../../../src/node/systems/call-out.js';
import { macosSystem } from '../../../src/node/systems/macos.js';
import { asked, fixture, hostileAnswers } from './asked.js';

/*
 * Nothing here runs on macOS: the property lists were written from documentation (test/fixtures/macos/README.md). What
 * stands between diskutil and its answers, a small shell script, runs for real with a stand-in for diskutil.
 */

const volume = (file: string, mountPoint: string, units: { bytes: number; count: number } | null = null) => {
  const { asking, calls } = asked(fixture(`macos/${file}`), mountPoint, units);
  const told = macosSystem(asking).volumeOf(`${mountPoint}/folder`);
  expect(calls).toHaveLength(1);
  if (told === null) throw new Error('no volume');
  return told;
};
const unseenText = (value: unknown): string =>
  value instanceof Unseen ? value.text : `seen: ${String(value)}`;

describe('a mounted volume on macOS', () => {
  it('FAT32 in an MBR partition, everything told', () => {
    const told = volume('volume-fat32-mbr.plist', '/Volumes/CARD', { bytes: 32768, count: 973_588 });
    expect(told).toMatchObject({
      root: '/Volumes/CARD',
      // Reads of /dev/disk go through the cache; /dev/rdisk is the raw device (hdiutil and dd documentation).
      device: '/dev/rdisk4s1',
      driver: 'msdos',
      writable: true,
      fileSystem: 'FAT32',
      clusterBytes: 32768,
      clusterCount: 973_588,
      label: 'CARD',
      scheme: 'mbr',
      partitionIndex: 1,
      // Windows_FAT_32 is 0x0C (IOFDiskPartitionScheme), FAT32 with LBA in every list of MBR types.
      partitionType: 0x0c,
      partitionStartByte: 4_194_304,
      partitionBytes: 31_910_789_120,
      otherPartitions: 0,
      mediumBytes: 31_914_983_424,
      sectorBytes: 512,
    });
    expect(told.volumeBytes).toBeInstanceOf(Unseen);
  });

  it('exFAT in a GPT behind a system partition', () => {
    const told = volume('volume-exfat-gpt.plist', '/Volumes/FOTO', { bytes: 131_072, count: 485_600 });
    expect(told).toMatchObject({
      fileSystem: 'exFAT',
      clusterBytes: 131_072,
      clusterCount: 485_600,
      scheme: 'gpt',
      partitionIndex: 2,
      // Microsoft basic data partition (UEFI specification 2.10, section 5.3.3, and Microsoft's list of types).
      partitionType: 'EBD0A0A2-B9E5-4433-87C0-68B6B72699C7',
      otherPartitions: 1,
      writable: false,
    });
    // Older versions do not print the key.
    expect(unseenText(told.partitionStartByte)).toContain('where on the card');
  });

  it('a card without a partition table, with a label that may be made up', () => {
    const told = volume('volume-fat16-no-table.plist', '/Volumes/NO NAME', { bytes: 16_384, count: 62_000 });
    expect(told).toMatchObject({
      device: '/dev/rdisk6',
      fileSystem: 'FAT16',
      scheme: 'none',
      otherPartitions: 0,
      mediumBytes: 1_018_167_296,
    });
    for (const value of [
      told.partitionIndex,
      told.partitionType,
      told.partitionStartByte,
      told.partitionBytes,
    ])
      expect(value).toBeInstanceOf(Absent);
    expect(unseenText(told.label)).toContain('NO NAME');
  });

  it('a logical partition leaves open how many there are; an empty name is no label', () => {
    const told = volume('volume-fat16-logical.plist', '/Volumes/Untitled');
    expect(told).toMatchObject({ partitionIndex: 5, partitionType: 6, scheme: 'mbr', fileSystem: 'FAT16' });
    expect(told.otherPartitions).toBeInstanceOf(Unseen);
    expect(told.label).toBeInstanceOf(Absent);
    // The size comes from diskutil, the number only from the system call.
    expect(told).toMatchObject({ clusterBytes: 16_384 });
    expect(told.clusterCount).toBeInstanceOf(Unseen);
  });

  it('what contradicts itself is unseen', () => {
    const two = volume('volume-fat32-mbr.plist', '/Volumes/CARD', { bytes: 4096, count: 973_588 });
    expect(unseenText(two.clusterBytes)).toContain('two cluster sizes, 32768 and 4096');
    expect(two.clusterCount).toBeInstanceOf(Unseen);
    // FAT specification, section 3.5: a volume with 60,000 clusters is FAT16.
    const narrow = volume('volume-fat32-mbr.plist', '/Volumes/CARD', { bytes: 32768, count: 60_000 });
    expect(unseenText(narrow.fileSystem)).toContain('60000 clusters are those of a FAT16 volume');
  });

  it('a volume that is mounted elsewhere answers for none', () => {
    const told = volume('volume-fat32-mbr.plist', '/Volumes/OTHER');
    expect(told.device).toBeNull();
    expect(unseenText(told.scheme)).toBe('diskutil knows of no volume at /Volumes/OTHER');
  });

  it('the reason of a failed call stands in every fact', () => {
    const { asking } = asked({ failure: 'diskutil did not answer within 5 seconds' }, '/Volumes/CARD');
    const told = macosSystem(asking).volumeOf('/Volumes/CARD');
    const facts = Object.entries(told ?? {}).filter(([key]) => !['root', 'device', 'driver'].includes(key));
    expect(facts.length).toBeGreaterThan(10);
    for (const [, value] of facts) expect(unseenText(value)).toBe('diskutil did not answer within 5 seconds');
  });

  it('a folder that cannot be looked at is on no volume, and nothing is started', () => {
    const { asking, calls } = asked(fixture('macos/cards.plist'), null);
    expect(macosSystem(asking).volumeOf('/nowhere')).toBeNull();
    expect(calls).toEqual([]);
  });
});

describe('cards on macOS', () => {
  const { cards, incomplete } = macosSystem(asked(fixture('macos/cards.plist')).asking).cards();

  it('are those with removable media, the one in the slot of a portable computer too', () => {
    expect(incomplete).toBeNull();
    expect(cards.map(({ device, target }) => [device, target])).toEqual([
      ['disk4', '/Volumes/CARD'],
      ['disk5', '/Volumes/FOTO 1'],
      ['disk5', '/Volumes/Ablage & <Rest>'],
      ['disk6', '/dev/rdisk6'],
    ]);
  });

  it('have their size, file system and name', () => {
    expect(cards[0]).toEqual({
      target: '/Volumes/CARD',
      device: 'disk4',
      title: 'Built In SDXC Reader',
      bytes: 31_914_983_424,
      fileSystem: 'FAT32',
      label: 'CARD',
      mountedAt: '/Volumes/CARD',
    });
    expect(cards[1]).toMatchObject({ fileSystem: 'exFAT', label: 'FOTO 1', bytes: 63_864_569_856 });
    expect(cards[3]).toMatchObject({ fileSystem: null, label: null, mountedAt: null });
  });

  it('a failed call says why the list is empty', () => {
    const { asking } = asked({ failure: 'diskutil is not on this computer' });
    expect(macosSystem(asking).cards()).toEqual({
      cards: [],
      incomplete: 'diskutil is not on this computer',
    });
  });
});

describe('devices on macOS', () => {
  const system = macosSystem(asked(fixture('macos/volume-fat32-mbr.plist')).asking);

  it('are read raw, whole or in part', () => {
    expect(system.deviceOf?.('/dev/disk4s1')).toEqual({
      readFrom: '/dev/rdisk4s1',
      bytes: 31_910_789_120,
      sectorBytes: 512,
      isWhole: false,
    });
    expect(system.deviceOf?.('/dev/rdisk4')).toMatchObject({ readFrom: '/dev/rdisk4', isWhole: true });
  });

  it('are asked by the name that diskutil knows, and nothing else is', () => {
    const { asking, calls } = asked(fixture('macos/volume-fat32-mbr.plist'));
    macosSystem(asking).deviceOf?.('/dev/rdisk4');
    expect(calls[0]?.args.slice(2)).toEqual(['sh', '/usr/sbin/diskutil', '/dev/disk4']);
    for (const path of [
      '/dev/null',
      '/dev/disk',
      '/dev/disk4;reboot',
      '/dev/../disk4',
      'disk4',
      '/tmp/disk4',
    ])
      expect(macosSystem(asking).deviceOf?.(path)).toBeNull();
    expect(calls).toHaveLength(1);
  });
});

describe('hostile answers', () => {
  it.each(hostileAnswers)('%s', (_, answer) => {
    const { asking } = asked(answer, '/Volumes/CARD', { bytes: 32768, count: 973_588 });
    const system = macosSystem(asking);
    expect(system.volumeOf('/Volumes/CARD')?.fileSystem).toBeInstanceOf(Unseen);
    expect(system.cards().cards).toEqual([]);
    expect(system.deviceOf?.('/dev/disk4')?.bytes).toBeInstanceOf(Unseen);
  });
});

describe('the shell between', () => {
  let work: string;
  beforeAll(() => {
    work = mkdtempSync(join(tmpdir(), 'flashworthy-macos-'));
    // Names of devices as on a computer with three disks; /dev/disk4 holds the card.
    mkdirSync(join(work, 'dev'));
    for (const name of ['disk0', 'disk0s1', 'disk4', 'disk4s1', 'disk12', 'rdisk4', 'disk'])
      writeFileSync(join(work, 'dev', name), '');
    // Speaks of every device as of a disk with the removable card of the fixture, but not of disk0.
    const removable = (name: string, isWhole: boolean): string =>
      `<plist version="1.0"><dict><key>DeviceIdentifier</key><string>${name}</string><key>ParentWholeDisk</key><string>disk4</string><key>Size</key><integer>1000</integer><key>RemovableMedia</key>\n\t<true/><key>WholeDisk</key><${isWhole}/></dict></plist>`;
    writeFileSync(
      join(work, 'diskutil'),
      `#!/bin/sh
echo "$@" >>'${work}/calls'
case "$*" in
  "info -plist ${work}/dev/disk0") echo '<plist version="1.0"><dict><key>WholeDisk</key><true/><key>RemovableMedia</key><false/></dict></plist>' ;;
  "info -plist ${work}/dev/disk4") echo '${removable('disk4', true)}' ;;
  "info -plist ${work}/dev/disk4s1") echo '${removable('disk4s1', false)}' ;;
  "info -plist /Volumes/it's \\$(a) \\"card\\"") echo '<plist version="1.0"><dict><key>a</key><true/></dict></plist>' ;;
  "list -plist") echo '<plist version="1.0"><dict><key>b</key><true/></dict></plist>' ;;
  *) echo '<plist version="1.0"><dict><key>Error</key><true/></dict></plist>'; exit 1 ;;
esac
`,
    );
    chmodSync(join(work, 'diskutil'), 0o755);
  });
  afterAll(() => rmSync(work, { recursive: true, force: true }));

  /** The system with its shell, but the stand-in for diskutil and other device names. */
  const system = (mountPoint: string | null = null, printed: string[] = []) =>
    macosSystem({
      ...asked({ printed: '' }, mountPoint).asking,
      call: (call) => {
        const args = call.args.map((arg) =>
          arg === '/usr/sbin/diskutil'
            ? join(work, 'diskutil')
            : arg.replace(/^\/dev(?=\/|$)/, join(work, 'dev')),
        );
        const answer = callOut({ ...call, args });
        printed.push('printed' in answer ? answer.printed : answer.failure);
        return answer;
      },
    });

  it('asks each whole disk, and the partitions of cards only', () => {
    const printed: string[] = [];
    const { cards, incomplete } = system(null, printed).cards();
    // A disk that answers with an error does not spoil the rest.
    expect(incomplete).toBeNull();
    expect(cards).toMatchObject([{ device: 'disk4', bytes: 1000 }]);
    expect(printed[0]?.match(/<plist/g)).toHaveLength(3);
    expect(printed[0]).not.toContain('Error');
  });

  it('passes a name on as it is', () => {
    const printed: string[] = [];
    system(`/Volumes/it's $(a) "card"`, printed).volumeOf('/x');
    expect(printed[0]?.replace(/\s/g, '')).toBe(
      '<plistversion="1.0"><dict><key>a</key><true/></dict></plist><plistversion="1.0"><dict><key>b</key><true/></dict></plist>',
    );
  });

  it('says when diskutil knows nothing', () => {
    expect(unseenText(system('/Volumes/GONE').volumeOf('/x')?.label)).toBe('diskutil ended with exit code 1');
    expect(unseenText(system().deviceOf?.('/dev/disk99')?.bytes)).toBe('diskutil ended with exit code 1');
  });
});
