import type { ByteSource } from '../bytes/byte-source.js';
import { ReadProblem } from '../bytes/byte-source.js';
import { u16At } from '../bytes/cursor.js';
import type { Digests } from '../bytes/digests.js';
import { limits } from '../bytes/limits.js';
import type { TreeEntry } from '../facts/file-tree.js';
import type { DriverAnswer, DriverResult } from '../rehearsal/driver.js';

type FatFs = typeof import('js-fatfs');

/** The driver, or in words why it is not at hand: it is optional. */
export async function loadFatFs(): Promise<FatFs | string> {
  try {
    return await import('js-fatfs');
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? error.code : null;
    if (code === 'ERR_MODULE_NOT_FOUND' || code === 'MODULE_NOT_FOUND')
      return 'the optional package js-fatfs is not installed (npm install js-fatfs)';
    if (code === 'ERR_REQUIRE_ESM') return 'this version of Node cannot load the package js-fatfs';
    throw error;
  }
}

/** Names of the driver's result codes, in their order (FRESULT of ff.h). */
const resultNames = [
  'FR_OK',
  'FR_DISK_ERR',
  'FR_INT_ERR',
  'FR_NOT_READY',
  'FR_NO_FILE',
  'FR_NO_PATH',
  'FR_INVALID_NAME',
  'FR_DENIED',
  'FR_EXIST',
  'FR_INVALID_OBJECT',
  'FR_WRITE_PROTECTED',
  'FR_INVALID_DRIVE',
  'FR_NOT_ENABLED',
  'FR_NO_FILESYSTEM',
  'FR_MKFS_ABORTED',
  'FR_TIMEOUT',
  'FR_LOCKED',
  'FR_NOT_ENOUGH_CORE',
  'FR_TOO_MANY_OPEN_FILES',
  'FR_INVALID_PARAMETER',
];
const resultOf = (code: number): DriverResult => ({ code, name: resultNames[code] ?? 'unknown' });

const pieceBytes = 64 * 1024;
/** Sectors that the driver may ask for: enough for the largest update file and every table on the way. */
const mostSectors = (4 * limits.updateFileBytes) / 512;

/**
 * Lets the driver mount a medium and read one file of it, in sectors of the size that the volume has. It is given no
 * way to write.
 * @param sectorBytes 512 unless the volume says something else
 * @param path of the file, with `/` between names; null: only mount
 */
export async function askFatFs(
  fatFs: FatFs,
  source: ByteSource,
  sectorBytes: number,
  path: string | null,
  digests: Digests,
): Promise<DriverAnswer> {
  let sectors = 0;
  const driver = await fatFs.create({
    diskio: {
      initialize: () => 0,
      status: () => 0,
      write: () => fatFs.RES_WRPRT,
      read: (ff, _drive, buffer, sector, count) => {
        sectors += count;
        const got = sectors > mostSectors ? null : source.read(sector * sectorBytes, count * sectorBytes);
        if (got === null || got instanceof ReadProblem) return fatFs.RES_ERROR;
        ff.HEAPU8.set(got, buffer);
        return fatFs.RES_OK;
      },
      ioctl: (ff, _drive, command, buffer) => {
        if (command === fatFs.GET_SECTOR_COUNT)
          ff.setValue(buffer, Math.floor(source.size / sectorBytes), 'i32');
        if (command === fatFs.GET_SECTOR_SIZE) ff.setValue(buffer, sectorBytes, 'i16');
        return fatFs.RES_OK;
      },
    },
  });
  const mount = resultOf(driver.f_mount(driver.malloc(fatFs.sizeof_FATFS), '', 1));
  if (mount.code !== 0 || path === null) return { mount, open: null, file: null };
  const file = driver.malloc(fatFs.sizeof_FIL);
  const open = resultOf(driver.f_open(file, `/${path}`, fatFs.FA_READ));
  if (open.code !== 0) return { mount, open, file: null };
  const buffer = driver.malloc(pieceBytes);
  const readBytes = driver.malloc(4);
  const sha256 = digests.sha256();
  let bytes = 0;
  for (;;) {
    if (driver.f_read(file, buffer, pieceBytes, readBytes) !== 0) return { mount, open, file: null };
    const length = driver.getValue(readBytes, 'i32');
    if (length === 0) return { mount, open, file: { bytes, sha256: sha256.hex() } };
    bytes += length;
    if (bytes > limits.updateFileBytes) return { mount, open, file: null };
    sha256.update(driver.HEAPU8.slice(buffer, buffer + length));
  }
}

/** The size of a sector that a boot sector names, where the driver can use it; else 512. */
export function sectorBytesOf(source: ByteSource): number {
  const first = source.read(0, 512);
  const claimed = first instanceof ReadProblem ? 0 : u16At(first, 11);
  return [512, 1024, 2048, 4096].includes(claimed) ? claimed : 512;
}

/**
 * The path by which the driver finds a file: short names, which it compares byte by byte, else long ones. Null when
 * one of them has letters that depend on the code page for which the driver was built.
 */
export function pathForDriver({ above = [], name, shortName, folder }: TreeEntry): string | null {
  const folders = above.length > 0 || folder === '' ? above : [{ name: folder, shortName: folder }];
  const names = [...folders, { name, shortName }].map((one) =>
    [one.shortName, one.name].find((text) => typeof text === 'string' && /^[\x20-\x7e]+$/.test(text)),
  );
  return names.every((one) => typeof one === 'string') ? names.join('/') : null;
}
