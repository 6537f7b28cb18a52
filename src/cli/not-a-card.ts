import { type ByteSource, ReadProblem } from '../bytes/byte-source.js';
import { hasAscii, isFilledWith, latin1 } from '../bytes/cursor.js';

/** Larger files are never taken for firmware by the mere lack of a card's signatures. */
const mostFirmwareBytes = 1024 * 1024;

/** The smallest sector that a memory card has. */
const leastSectorBytes = 512;

const startsWith =
  (...bytes: number[]) =>
  (head: Uint8Array): boolean =>
    bytes.every((byte, at) => head[at] === byte);
const ascii =
  (text: string) =>
  (head: Uint8Array): boolean =>
    hasAscii(head, 0, text);

/** Files that hold firmware in an encoding that shows at once. */
const firmware: readonly { what: string; is: (head: Uint8Array) => boolean }[] = [
  { what: 'a UF2 firmware file', is: ascii('UF2\n') },
  { what: 'an ELF program', is: startsWith(0x7f, 0x45, 0x4c, 0x46) },
  { what: 'a DfuSe firmware file', is: ascii('DfuSe') },
  {
    what: 'an Intel HEX firmware file',
    is: (head) => /^\s*:[0-9A-Fa-f]{10}/.test(latin1(head.subarray(0, 64))),
  },
  {
    what: 'an S-record firmware file',
    is: (head) => /^\s*S[0-9][0-9A-Fa-f]{6}/.test(latin1(head.subarray(0, 64))),
  },
];

/** Archives and packed disks: what holds the image must be unpacked first. */
const packed: readonly { what: string; is: (head: Uint8Array) => boolean }[] = [
  { what: 'a ZIP archive', is: startsWith(0x50, 0x4b, 0x03, 0x04) },
  { what: 'a 7z archive', is: startsWith(0x37, 0x7a, 0xbc, 0xaf, 0x27, 0x1c) },
  { what: 'a RAR archive', is: ascii('Rar!') },
  { what: 'packed with xz', is: startsWith(0xfd, 0x37, 0x7a, 0x58, 0x5a, 0x00) },
  { what: 'packed with zstd', is: startsWith(0x28, 0xb5, 0x2f, 0xfd) },
  { what: 'packed with bzip2', is: (head) => /^BZh[1-9]1AY/.test(latin1(head.subarray(0, 8))) },
  { what: 'a disk of a virtual machine (VMDK)', is: ascii('KDMV') },
  { what: 'a disk of a virtual machine (qcow2)', is: startsWith(0x51, 0x46, 0x49, 0xfb) },
  { what: 'a disk of a virtual machine (VHDX)', is: ascii('vhdxfile') },
  { what: 'a disk of a virtual machine (VHD)', is: ascii('conectix') },
  { what: 'packed with gzip twice', is: startsWith(0x1f, 0x8b, 0x08) },
];

/**
 * Why a file is no image of a card, in a sentence that says what to do; null when it may be one. A file with the
 * signature of a boot sector or partition table always may be.
 */
export function notACard(source: ByteSource, path: string): string | null {
  if (source.size === 0) return `${path} is empty: there is no card in it`;
  const head = source.read(0, Math.min(4096, source.size));
  // Trouble with reading is a matter for the report.
  if (head instanceof ReadProblem) return null;
  const kind = firmware.find(({ is }) => is(head));
  const archive = packed.find(({ is }) => is(head));
  if (hasCardSignature(head)) return null;
  if (kind) return onto(path, kind.what);
  if (archive)
    return `${path} is ${archive.what}, not the image of a card: unpack it and check what was inside`;
  if (source.size < leastSectorBytes)
    return `${path} holds only ${source.size} bytes, less than one sector of a card (${leastSectorBytes}): it is no image of a card, or one that was cut short. Make the image again, and check that`;
  if (source.size < mostFirmwareBytes && !isBlank(source) && !holdsFileSystem(source))
    return onto(path, 'no image of a card and probably a firmware file');
  return null;
}

const onto = (path: string, what: string): string =>
  `${path} is ${what}: check looks at a card, not at the file alone. What the file is: flashworthy identify ${path.includes(' ') ? `"${path}"` : path}. To check it, put the file on a card under the name that the board looks for and check the card, or put it in a folder with its companion files and say: check --staging FOLDER`;

/** 55 AA at the end of sector 0, or the header of a GUID partition table after sectors of any usual size. */
function hasCardSignature(head: Uint8Array): boolean {
  if (head[510] === 0x55 && head[511] === 0xaa) return true;
  return [512, 1024, 2048].some((at) => hasAscii(head, at, 'EFI PART'));
}

/** An empty card is a card: nothing was written to it yet. */
function isBlank(source: ByteSource): boolean {
  const bytes = source.read(0, source.size);
  return bytes instanceof ReadProblem || isFilledWith(bytes, bytes[0] === 0xff ? 0xff : 0);
}

/** File systems of other kinds, small enough to be here and without a signature in sector 0. */
function holdsFileSystem(source: ByteSource): boolean {
  const ext = source.read(1024 + 56, 2);
  if (!(ext instanceof ReadProblem) && ext[0] === 0x53 && ext[1] === 0xef) return true;
  return [32768, 65536].some((at) => {
    const descriptor = source.read(at + 1, 5);
    return (
      !(descriptor instanceof ReadProblem) &&
      (hasAscii(descriptor, 0, 'CD001') || hasAscii(descriptor, 0, 'BEA01'))
    );
  });
}
