import type { FileSystemName } from '../../facts/schema.js';

/**
 * Names that macOS gives to the types of an MBR entry (IOStorageFamily, content table of IOFDiskPartitionScheme). A
 * type without a name is printed as `0xEF`.
 */
const mbrTypes: Readonly<Record<string, number>> = {
  DOS_FAT_12: 0x01,
  DOS_FAT_16_S: 0x04,
  DOS_Extended: 0x05,
  DOS_FAT_16: 0x06,
  Windows_NTFS: 0x07,
  Boot_Manager: 0x0a,
  DOS_FAT_32: 0x0b,
  Windows_FAT_32: 0x0c,
  Windows_FAT_16: 0x0e,
  Windows_Extended: 0x0f,
  DOS_FAT_12_Hidden: 0x11,
  DOS_FAT_16_S_Hidden: 0x14,
  DOS_FAT_16_Hidden: 0x16,
  Windows_NTFS_Hidden: 0x17,
  DOS_FAT_32_Hidden: 0x1b,
  Windows_FAT_32_Hidden: 0x1c,
  Windows_FAT_16_Hidden: 0x1e,
  Linux_Swap: 0x82,
};

/** Names that macOS gives to the types of a GPT entry; one without a name is printed as its GUID. */
const gptTypes: Readonly<Record<string, string>> = {
  EFI: 'C12A7328-F81F-11D2-BA4B-00A0C93EC93B',
  'Microsoft Basic Data': 'EBD0A0A2-B9E5-4433-87C0-68B6B72699C7',
};

/** Type of an MBR entry by the name that macOS prints; undefined for any other name. */
export function mbrTypeOf(content: string): number | undefined {
  if (/^0x[0-9A-F]{2}$/i.test(content)) return Number.parseInt(content.slice(2), 16);
  return Object.hasOwn(mbrTypes, content) ? mbrTypes[content] : undefined;
}

/** Type of a GPT entry in capitals by the name that macOS prints; undefined for any other name. */
export function gptTypeOf(content: string): string | undefined {
  if (/^[0-9A-F]{8}(?:-[0-9A-F]{4}){3}-[0-9A-F]{12}$/i.test(content)) return content.toUpperCase();
  return Object.hasOwn(gptTypes, content) ? gptTypes[content] : undefined;
}

const drivers: Readonly<Record<string, FileSystemName>> = {
  exfat: 'exFAT',
  ntfs: 'NTFS',
  hfs: 'HFS+',
  apfs: 'APFS',
  udf: 'UDF',
  cd9660: 'ISO9660',
};

/**
 * What the driver's name (`msdos`) and the name of the file system (`MS-DOS FAT32`) can mean together: all three
 * widths of FAT when the name tells none, nothing for a driver that is not known.
 */
export function macFileSystems(driver: string, name: string): readonly FileSystemName[] {
  if (driver !== 'msdos') return Object.hasOwn(drivers, driver) ? [drivers[driver]!] : [];
  const width = /\bFAT(12|16|32)\b/.exec(name)?.[1];
  return width === undefined ? ['FAT12', 'FAT16', 'FAT32'] : [`FAT${width}` as FileSystemName];
}
