import { describe, expect, it } from 'vitest';
import { Absent, Unseen } from '../../../src/facts/fact.js';
import { windowsSystem } from '../../../src/node/systems/windows.js';
import { windowsDevice } from '../../../src/node/systems/windows-device.js';
import { cardsScript, deviceScript, volumeScript } from '../../../src/node/systems/windows-scripts.js';
import { cardPath, targetKind } from '../../../src/node/target-kind.js';
import { asked, fixture, hostileAnswers } from './asked.js';

/*
 * Nothing here runs on Windows, and no PowerShell is started: the answers were written from documentation
 * (test/fixtures/windows/README.md).
 */

const volume = (file: string, units: { bytes: number; count: number } | null = null, root = 'E:\\') => {
  const { asking, calls } = asked(fixture(`windows/${file}`), root, units);
  const told = windowsSystem(asking, 'C:\\Windows').volumeOf('e:\\folder');
  expect(calls.length).toBeLessThanOrEqual(1);
  if (told === null) throw new Error('no volume');
  return told;
};
const unseenText = (value: unknown): string =>
  value instanceof Unseen ? value.text : `seen: ${String(value)}`;

describe('a mounted volume on Windows', () => {
  it('FAT32 in an MBR partition', () => {
    const told = volume('volume-fat32-mbr.json', { bytes: 32768, count: 973_588 });
    expect(told).toMatchObject({
      root: 'E:\\',
      device: '\\\\.\\E:',
      driver: 'FAT32',
      writable: true,
      fileSystem: 'FAT32',
      clusterBytes: 32768,
      clusterCount: 973_588,
      label: 'CARD',
      scheme: 'mbr',
      partitionType: 12,
      partitionStartByte: 4_194_304,
      partitionBytes: 31_910_789_120,
      otherPartitions: 0,
      mediumBytes: 31_914_983_424,
      sectorBytes: 512,
    });
    // Number 1 of Windows may stand in any of the four entries of the table.
    expect(unseenText(told.partitionIndex)).toContain('numbers partitions by itself');
    expect(told.volumeBytes).toBeInstanceOf(Unseen);
  });

  it('exFAT in a GPT, with numbers in the place of words', () => {
    expect(volume('volume-exfat-gpt.json', { bytes: 131_072, count: 485_600 })).toMatchObject({
      fileSystem: 'exFAT',
      clusterBytes: 131_072,
      label: expect.any(Absent),
      writable: false,
      scheme: 'gpt',
      partitionType: 'EBD0A0A2-B9E5-4433-87C0-68B6B72699C7',
      otherPartitions: 1,
    });
  });

  it('FAT is FAT12 or FAT16 by the number of clusters (FAT specification, section 3.5)', () => {
    const file = 'volume-fat-no-table.json';
    expect(volume(file, { bytes: 16_384, count: 62_000 }).fileSystem).toBe('FAT16');
    expect(volume(file, { bytes: 16_384, count: 4085 }).fileSystem).toBe('FAT16');
    expect(volume(file, { bytes: 16_384, count: 4084 }).fileSystem).toBe('FAT12');
    expect(unseenText(volume(file, { bytes: 16_384, count: 65_525 }).fileSystem)).toContain(
      'of a FAT32 volume',
    );
    expect(unseenText(volume(file).fileSystem)).toBe('Windows says FAT, which may be FAT12 or FAT16');
  });

  it('what begins at the first byte of the card has no partition table', () => {
    const told = volume('volume-fat-no-table.json');
    expect(told).toMatchObject({ scheme: 'none', otherPartitions: 0, mediumBytes: 1_018_167_296 });
    for (const value of [told.partitionIndex, told.partitionType, told.partitionStartByte])
      expect(value).toBeInstanceOf(Absent);
  });

  it('the older class tells of the volume alone', () => {
    const told = volume('volume-by-the-older-class.json', { bytes: 32768, count: 973_588 });
    expect(told).toMatchObject({
      fileSystem: 'FAT32',
      clusterBytes: 32768,
      clusterCount: 973_588,
      label: 'CARD',
    });
    for (const value of [told.scheme, told.partitionType, told.mediumBytes, told.sectorBytes, told.writable])
      expect(value).toBeInstanceOf(Unseen);
  });

  it('a volume in a folder of another drive is not asked for', () => {
    const { asking, calls } = asked(fixture('windows/volume-fat32-mbr.json'), 'C:\\cards\\one');
    const told = windowsSystem(asking).volumeOf('C:\\cards\\one\\x');
    expect(told?.root).toBe('C:\\cards\\one');
    expect(unseenText(told?.fileSystem)).toContain('not under a drive letter');
    expect(calls).toEqual([]);
  });

  it('the reason of a failed call stands in every fact', () => {
    const { asking } = asked({ failure: 'PowerShell did not answer within 5 seconds' }, 'E:\\');
    const facts = Object.entries(windowsSystem(asking).volumeOf('E:\\') ?? {}).filter(
      ([key]) => !['root', 'device', 'driver'].includes(key),
    );
    expect(facts.length).toBeGreaterThan(10);
    for (const [, value] of facts)
      expect(unseenText(value)).toBe('PowerShell did not answer within 5 seconds');
  });
});

describe('cards on Windows', () => {
  it('are those with removable media, never what Windows runs from', () => {
    const { cards, incomplete } = windowsSystem(asked(fixture('windows/cards.json')).asking).cards();
    expect(incomplete).toBeNull();
    expect(cards.map(({ device, target, fileSystem }) => [device, target, fileSystem])).toEqual([
      ['PhysicalDrive2', 'E:', 'FAT32'],
      ['PhysicalDrive3', 'F:', 'exFAT'],
      ['PhysicalDrive3', 'G:', 'NTFS'],
      ['PhysicalDrive4', '\\\\.\\PhysicalDrive4', null],
    ]);
    expect(cards[0]).toEqual({
      target: 'E:',
      device: 'PhysicalDrive2',
      title: 'Card Reader',
      bytes: 31_914_983_424,
      fileSystem: 'FAT32',
      label: 'CARD',
      mountedAt: 'E:\\',
    });
  });

  it('come from the older class where the storage cmdlets fail, and the list says what it lacks', () => {
    const { cards, incomplete } = windowsSystem(
      asked(fixture('windows/cards-by-the-older-class.json')).asking,
    ).cards();
    expect(cards).toMatchObject([{ target: 'E:', label: 'CARD', mountedAt: 'E:\\' }]);
    expect(incomplete).toContain('cards without a drive letter are missing');
  });
});

describe('devices on Windows', () => {
  it('are told by their names alone', () => {
    const disk = { kind: 'disk', disk: 2 };
    const partition = { kind: 'partition', disk: 2, partition: 1 };
    const volumeId = '12345678-90ab-cdef-1234-567890abcdef';
    const names: [string, unknown][] = [
      ['\\\\.\\PhysicalDrive2', disk],
      ['\\\\.\\physicaldrive2', disk],
      ['//./PhysicalDrive2', disk],
      ['\\\\?\\GLOBALROOT\\Device\\Harddisk2\\Partition0', disk],
      ['\\\\?\\GLOBALROOT\\Device\\Harddisk2\\Partition1', partition],
      ['\\\\.\\Harddisk2Partition1', partition],
      ['\\\\.\\e:', { kind: 'letter', letter: 'E' }],
      [`\\\\?\\Volume{${volumeId.toUpperCase()}}`, { kind: 'volume', guid: volumeId }],
      // With a backslash at the end: the root folder.
      [`\\\\?\\Volume{${volumeId}}\\`, null],
      ['\\\\.\\E:\\', null],
      ['\\\\?\\C:\\image.img', null],
      ['\\\\server\\share', null],
      ['\\\\.\\PhysicalDrive', null],
      ['\\\\.\\PhysicalDrive2;reboot', null],
      ["\\\\.\\PhysicalDrive2'", null],
      ['\\\\.\\PhysicalDrive2\n', null],
      ['E:', null],
    ];
    for (const [path, device] of names) expect([path, windowsDevice(path)]).toEqual([path, device]);
  });

  it('are targets of their kind on Windows only, before the system is asked', () => {
    expect(targetKind('\\\\.\\PhysicalDrive2', 'win32')).toBe('device');
    expect(() => targetKind('\\\\.\\PhysicalDrive2', 'linux')).toThrow('ENOENT');
    for (const word of ['E', 'e:', 'E:\\', 'E:/', 'E:"', 'E:\\"'])
      expect(cardPath(word, 'win32')).toBe('E:\\');
    for (const path of ['E:\\x', 'EE', '\\\\.\\PhysicalDrive2']) expect(cardPath(path, 'win32')).toBe(path);
  });

  it('have a size and a sector size', () => {
    const disk = windowsSystem(asked(fixture('windows/device-disk.json')).asking);
    expect(disk.deviceOf?.('\\\\.\\PhysicalDrive2')).toEqual({
      readFrom: '\\\\.\\PhysicalDrive2',
      bytes: 31_914_983_424,
      sectorBytes: 512,
      isWhole: true,
    });
    const part = windowsSystem(asked(fixture('windows/device-partition.json')).asking);
    expect(part.deviceOf?.('\\\\.\\E:')).toMatchObject({
      bytes: 31_910_789_120,
      sectorBytes: 512,
      isWhole: false,
    });
    expect(part.deviceOf?.('C:\\card.img')).toBeNull();
  });
});

describe('the scripts', () => {
  const devices = ['\\\\.\\PhysicalDrive2', '\\\\.\\Harddisk2Partition1', '\\\\.\\E:'].map(
    (path) => windowsDevice(path)!,
  );
  const volumeDevice = windowsDevice('\\\\?\\Volume{12345678-90ab-cdef-1234-567890abcdef}')!;
  const all = [volumeScript('E'), cardsScript, ...[...devices, volumeDevice].map(deviceScript)];

  it('pass through a command line whole', () => {
    for (const script of all) {
      expect(script).not.toMatch(/["\n`%^]/);
      // The longest command line of cmd has 8191 characters; that of CreateProcess 32767.
      expect(script.length).toBeLessThan(4000);
      const count = (character: string): number => script.split(character).length - 1;
      expect([count('{'), count('('), count("'") % 2]).toEqual([count('}'), count(')'), 0]);
    }
  });

  it('only look: every cmdlet gets, chooses or prints', () => {
    const verbs = new Set(all.join(' ').match(/\b[A-Z][A-Za-z]+-[A-Z][A-Za-z]+/g));
    expect([...verbs].sort()).toEqual([
      'ConvertTo-Json',
      'ForEach-Object',
      'Get-CimInstance',
      'Get-Disk',
      'Get-Partition',
      'Get-Volume',
      'New-Object',
      'Select-Object',
      'Where-Object',
    ]);
  });

  it('take nothing in but a letter, a number or a GUID', () => {
    expect(volumeScript('E')).toContain("-DriveLetter 'E'");
    for (const letter of ["E'", 'EE', 'é', '', "';reboot;'", 'e'])
      expect(() => volumeScript(letter)).toThrow();
    expect(() => deviceScript({ kind: 'volume', guid: "x'" })).toThrow();
    expect(() => deviceScript({ kind: 'disk', disk: 1.5 })).toThrow();
    expect(deviceScript(volumeDevice)).toContain("'\\\\?\\Volume{12345678-90ab-cdef-1234-567890abcdef}\\'");
  });

  it('are given to the PowerShell of the system, not to one in the folder where the program stands', () => {
    const { asking, calls } = asked(fixture('windows/cards.json'));
    windowsSystem(asking, 'D:\\Windows').cards();
    expect(calls).toEqual([
      {
        name: 'PowerShell',
        program: 'D:\\Windows\\System32\\WindowsPowerShell\\v1.0\\powershell.exe',
        args: ['-NoProfile', '-NonInteractive', '-Command', cardsScript],
      },
    ]);
  });
});

describe('hostile answers', () => {
  it.each(hostileAnswers)('%s', (_, answer) => {
    const { asking } = asked(answer, 'E:\\', { bytes: 32768, count: 973_588 });
    const system = windowsSystem(asking);
    expect(system.volumeOf('E:\\')?.fileSystem).toBeInstanceOf(Unseen);
    expect(system.cards().cards).toEqual([]);
    expect(system.deviceOf?.('\\\\.\\PhysicalDrive2')?.bytes).toBeInstanceOf(Unseen);
  });
});
