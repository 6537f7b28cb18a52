import { accessSync, constants, existsSync, readdirSync, readFileSync } from 'node:fs';
import { delimiter, join } from 'node:path';

/** Independent programs that tests compare with, and the Debian package of each. `.ci/run` installs them all. */
export const toolPackages: Readonly<Record<string, string>> = {
  'mkfs.fat': 'dosfstools',
  'fsck.fat': 'dosfstools',
  mcopy: 'mtools',
  mdir: 'mtools',
  minfo: 'mtools',
  mshowfat: 'mtools',
  'mkfs.exfat': 'exfatprogs',
  'dump.exfat': 'exfatprogs',
  'mkfs.ntfs': 'ntfs-3g',
  sgdisk: 'gdisk',
  sfdisk: 'fdisk',
  fsstat: 'sleuthkit',
  mmls: 'sleuthkit',
  mke2fs: 'e2fsprogs',
  genisoimage: 'genisoimage',
  mkudffs: 'udftools',
  strace: 'strace',
  xmllint: 'libxml2-utils',
  srec_cat: 'srecord',
  srec_info: 'srecord',
  'arm-none-eabi-gcc': 'gcc-arm-none-eabi',
  'arm-none-eabi-readelf': 'binutils-arm-none-eabi',
  'arm-none-eabi-objcopy': 'binutils-arm-none-eabi',
  'dfu-suffix': 'dfu-util',
  'dfuse-pack': 'dfu-util',
  '7z': 'p7zip-full',
  zip: 'zip',
  xz: 'xz-utils',
  bzip2: 'bzip2',
  zstd: 'zstd',
  blkid: 'util-linux',
  findmnt: 'util-linux',
  blockdev: 'util-linux',
  losetup: 'mount',
  fusefat: 'fusefat',
  'mount.exfat-fuse': 'exfat-fuse',
  'ntfs-3g': 'ntfs-3g',
  openssl: 'openssl',
  chromium: 'chromium',
};

const here = import.meta.dirname;
const folders = [...(process.env.PATH ?? '').split(delimiter), '/usr/sbin', '/sbin'];

function isInstalled(tool: string): boolean {
  return folders.some((folder) => {
    try {
      accessSync(join(folder, tool), constants.X_OK);
      return true;
    } catch {
      return false;
    }
  });
}

/** Test files that cannot run here, each with the tools that it wants and that are missing. */
export function testsWithoutTools(): Map<string, string[]> {
  const missing = Object.keys(toolPackages).filter((tool) => !isInstalled(tool));
  const without = new Map<string, string[]>();
  if (missing.length === 0) return without;
  const root = join(here, '..');
  for (const entry of readdirSync(root, { recursive: true, withFileTypes: true })) {
    if (!entry.isFile() || !entry.name.endsWith('.test.ts')) continue;
    const path = join(entry.parentPath, entry.name);
    const wanted = missing.filter((tool) => textsOf(path).some((text) => names(text, tool)));
    if (wanted.length > 0) without.set(path.slice(root.length + 1), wanted);
  }
  return without;
}

/** The text of a test file and of the helpers in test/ that it imports; recipes of cards use `card-tools.sh`. */
function textsOf(path: string, seen = new Set<string>()): string[] {
  if (seen.has(path)) return [];
  seen.add(path);
  const text = readFileSync(path, 'utf8');
  const texts = [text];
  for (const [, from] of text.matchAll(/from '(\.{1,2}\/[^']+)\.js'/g)) {
    const helper = join(path, '..', `${from}.ts`);
    // A text in a test may look like an import, such as an example for a test of imports.
    if (helper.startsWith(join(here, '..')) && helper !== join(here, 'tools.ts') && existsSync(helper))
      texts.push(...textsOf(helper, seen));
    if (helper === join(here, 'cards.ts')) texts.push(readFileSync(join(here, 'card-tools.sh'), 'utf8'));
  }
  return texts;
}

function names(text: string, tool: string): boolean {
  return text.split(/[^A-Za-z0-9._-]+/).includes(tool);
}
