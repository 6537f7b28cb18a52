import type { RemedyText } from './report.js';

/** What the steps have to name. */
export interface ImageOnDisk {
  /** Path of the image, as one types it. */
  readonly path: string;
  /** File system and cluster size for somebody who formats the card instead, in words; null when that is of no use. */
  readonly format: { readonly fileSystem: 'FAT' | 'FAT32'; readonly clusters: string } | null;
  /** The command that copies the files to a folder, with `FOLDER` where the card's own stands. */
  readonly intoFolder: string;
}

/** How an image gets onto a card, by system and rights. All of it erases the card. */
export function putOnCard({ path, format, intoFolder }: ImageOnDisk): RemedyText[] {
  const administrator = (system: RemedyText['system'], lines: readonly string[]): RemedyText => ({
    system,
    rights: 'administrator',
    erases: true,
    do: lines.join('\n'),
  });
  const check =
    'Look at the name twice: whatever disk stands there is overwritten, and a wrong letter erases another disk for good.';
  const steps = [
    administrator('windows', [
      `1. Open a program that writes an image to a card, as an administrator, and choose ${path}.`,
      `2. Choose the card, and know it by its size. ${check}`,
      '3. Write. Windows may then offer to format something: answer no.',
      '4. Eject the card.',
    ]),
    administrator('macos', [
      '1. Type this, and find the card by its size:',
      '     diskutil list external',
      `2. ${check}`,
      "3. Type these lines, with the card's number in place of N:",
      '     diskutil unmountDisk /dev/diskN',
      `     sudo dd if=${path} of=/dev/rdiskN bs=4m`,
      '     diskutil eject /dev/diskN',
    ]),
    administrator('linux', [
      '1. Type this, and find the card by its size:',
      '     lsblk -o NAME,SIZE,RM,MODEL,LABEL',
      `2. ${check}`,
      "3. Type these lines, with the card's name in place of sdX (a built-in slot has names such as mmcblk0). That the first one finds nothing to unmount is no fault:",
      '     sudo umount /dev/sdX?*',
      `     sudo dd if=${path} of=/dev/sdX bs=4M conv=fsync status=progress`,
      '     sudo eject /dev/sdX',
    ]),
  ];
  return format === null ? steps : [...steps, ...withoutRights(format, intoFolder)];
}

/** The way without the image: the system's own program formats the card, and flashworthy copies the files. */
function withoutRights(
  { fileSystem, clusters }: NonNullable<ImageOnDisk['format']>,
  intoFolder: string,
): RemedyText[] {
  const none = (system: RemedyText['system'], format: string, place: string): RemedyText => ({
    system,
    rights: 'none',
    erases: true,
    do: [
      '1. Copy anything that you want to keep from the card to your computer.',
      `2. ${format}`,
      `3. Type this, with ${place} in place of FOLDER:`,
      `     ${intoFolder}`,
      '4. It copies the files, and then says whether the card will do.',
    ].join('\n'),
  });
  return [
    none(
      'windows',
      `In File Explorer, right-click the card's drive and choose Format. File system: ${fileSystem}. Allocation unit size: ${clusters}. Press Start.`,
      "the card's drive, such as E:,",
    ),
    none(
      'macos',
      `In Disk Utility, choose View > Show All Devices, select the card itself (the upper line) and press Erase. Format: MS-DOS (FAT). Scheme: Master Boot Record.`,
      "the card's folder under /Volumes",
    ),
    none(
      'linux',
      `Open Disks, select the card, and choose Format Partition: for use with Windows (FAT). If the volume should be ${fileSystem} with clusters of ${clusters} and is not, take the way with administrator rights.`,
      'the folder where the card is mounted',
    ),
  ];
}
