import type { FileSystemName } from '../../facts/schema.js';

/** File systems by the names of their drivers and by those that libblkid gives them. */
const names: Readonly<Record<string, FileSystemName>> = {
  exfat: 'exFAT',
  ntfs: 'NTFS',
  ntfs3: 'NTFS',
  ext2: 'ext2',
  ext3: 'ext3',
  ext4: 'ext4',
  hfs: 'HFS',
  hfsplus: 'HFS+',
  apfs: 'APFS',
  iso9660: 'ISO9660',
  udf: 'UDF',
  f2fs: 'F2FS',
  xfs: 'XFS',
  btrfs: 'Btrfs',
  squashfs: 'squashfs',
  erofs: 'EROFS',
  jfs: 'JFS',
  reiserfs: 'ReiserFS',
  minix: 'Minix',
};

export const fatWidths = ['FAT12', 'FAT16', 'FAT32'] as const;

/** True for what libblkid calls the version of a FAT volume. */
export const isFatName = (version: string | undefined): version is (typeof fatWidths)[number] =>
  fatWidths.some((name) => name === version);

/** A file system by the name of its driver, or by the type and version that libblkid told; null for others. */
export function fileSystemNamed(type: string, version?: string): FileSystemName | null {
  if (type === 'vfat' && isFatName(version)) return version;
  return (Object.hasOwn(names, type) ? names[type] : undefined) ?? null;
}
