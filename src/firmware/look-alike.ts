import { hasAscii, isFilledWith, latin1, u16At, u32At } from '../bytes/cursor.js';
import { digitRun, firstPrinted } from './encodings/records.js';

/** What a file is when it is no firmware. */
export interface LookAlike {
  /** One hyphenated word. */
  readonly code:
    | 'empty'
    | 'all-ones'
    | 'all-zero'
    | 'blank-head'
    | 'web-page'
    | 'xml'
    | 'zip'
    | 'gzip'
    | 'xz'
    | '7z'
    | 'rar'
    | 'bzip2'
    | 'zstd'
    | 'tar'
    | 'lfs-pointer'
    | 'pdf'
    | 'json'
    | 'script'
    | 'text'
    | 'picture'
    | 'card-image'
    | 'windows-program';
  /** Plain words with their article: `a ZIP archive`. */
  readonly what: string;
}

interface Signature extends LookAlike {
  readonly at?: number;
  readonly bytes: readonly number[] | string;
}

/**
 * Signatures that settle it by themselves. Sources: WHATWG MIME Sniffing (ZIP, gzip, RAR 4, PDF, pictures); the xz and
 * 7z format descriptions; from memory: empty and spanned ZIP (PKWARE APPNOTE 4.3), RAR 5 (rarlab technote), bzip2,
 * zstd (RFC 8878), tar (POSIX ustar), MZ.
 */
const signatures: readonly Signature[] = [
  { code: 'zip', what: 'a ZIP archive', bytes: [0x50, 0x4b, 0x03, 0x04] },
  { code: 'zip', what: 'an empty ZIP archive', bytes: [0x50, 0x4b, 0x05, 0x06] },
  { code: 'zip', what: 'a part of a split ZIP archive', bytes: [0x50, 0x4b, 0x07, 0x08] },
  { code: 'gzip', what: 'a file packed with gzip', bytes: [0x1f, 0x8b, 0x08] },
  { code: 'xz', what: 'a file packed with xz', bytes: [0xfd, 0x37, 0x7a, 0x58, 0x5a, 0x00] },
  { code: '7z', what: 'a 7-Zip archive', bytes: [0x37, 0x7a, 0xbc, 0xaf, 0x27, 0x1c] },
  { code: 'rar', what: 'a RAR archive', bytes: [0x52, 0x61, 0x72, 0x21, 0x1a, 0x07, 0x00] },
  { code: 'rar', what: 'a RAR archive', bytes: [0x52, 0x61, 0x72, 0x21, 0x1a, 0x07, 0x01, 0x00] },
  { code: 'zstd', what: 'a file packed with zstd', bytes: [0x28, 0xb5, 0x2f, 0xfd] },
  { code: 'tar', what: 'a tar archive', at: 257, bytes: 'ustar' },
  { code: 'pdf', what: 'a PDF document', bytes: '%PDF-' },
  { code: 'picture', what: 'a PNG picture', bytes: [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a] },
  { code: 'picture', what: 'a JPEG picture', bytes: [0xff, 0xd8, 0xff] },
  { code: 'picture', what: 'a GIF picture', bytes: 'GIF87a' },
  { code: 'picture', what: 'a GIF picture', bytes: 'GIF89a' },
  { code: 'lfs-pointer', what: 'a Git LFS pointer, not the file itself', bytes: 'version https://git-lfs' },
  { code: 'lfs-pointer', what: 'a Git LFS pointer, not the file itself', bytes: 'version https://hawser' },
  { code: 'script', what: 'a script', bytes: '#!' },
];

const holds = (bytes: Uint8Array, { at = 0, bytes: wanted }: Signature): boolean =>
  typeof wanted === 'string'
    ? hasAscii(bytes, at, wanted)
    : at + wanted.length <= bytes.length && wanted.every((byte, i) => bytes[at + i] === byte);

/** Names of elements with which a web page begins (WHATWG MIME Sniffing, unknown type). */
const pageStarts = [
  '!DOCTYPE HTML',
  'HTML',
  'HEAD',
  'SCRIPT',
  'IFRAME',
  'H1',
  'DIV',
  'FONT',
  'TABLE',
  'A',
  'STYLE',
  'TITLE',
  'B',
  'BODY',
  'BR',
  'P',
];

/** Bytes of a text that are looked at. */
const sample = 4096;
/** A head of one value that is as long as the vectors of the processor itself is no program. */
const blankHead = 64;

/** True when no control characters but those of text are in it, and more than nine of ten bytes are printable ASCII. */
function isText(bytes: Uint8Array): boolean {
  let printable = 0;
  for (const byte of bytes) {
    if (byte === 0x09 || byte === 0x0a || byte === 0x0d || byte === 0x0c || (byte >= 0x20 && byte < 0x7f))
      printable += 1;
    else if (byte < 0x20 || byte === 0x7f) return false;
  }
  return printable > bytes.length * 0.9;
}

/** Intel HEX and S-records are text, too, and are no look-alikes. */
function isRecordText(bytes: Uint8Array): boolean {
  const at = firstPrinted(bytes);
  if (bytes[at] === 0x3a) return digitRun(bytes, at + 1, 8) === 8;
  const type = bytes[at + 1] ?? 0;
  return bytes[at] === 0x53 && type >= 0x30 && type <= 0x39 && digitRun(bytes, at + 2, 8) === 8;
}

/** A boot sector of a FAT, exFAT or NTFS volume, or a partition table: what an image of a whole card begins with. */
function isCardImage(bytes: Uint8Array): boolean {
  if (bytes.length < 512 || bytes[510] !== 0x55 || bytes[511] !== 0xaa) return false;
  const jumps = (bytes[0] === 0xeb && bytes[2] === 0x90) || bytes[0] === 0xe9;
  const sector = u16At(bytes, 11);
  if (jumps && [512, 1024, 2048, 4096].includes(sector)) return true;
  if (hasAscii(bytes, 3, 'EXFAT   ')) return true;
  // A partition table: boot flags of 00 or 80, and at least one entry with type and length.
  let used = 0;
  for (let at = 446; at < 510; at += 16) {
    if (bytes[at] !== 0 && bytes[at] !== 0x80) return false;
    if (bytes[at + 4] !== 0 && u32At(bytes, at + 12) !== 0) used += 1;
  }
  return used > 0;
}

/** BMP: its mark, and the size of the whole file behind it. */
const isBmp = (bytes: Uint8Array, size: number): boolean =>
  hasAscii(bytes, 0, 'BM') && u32At(bytes, 2) === size && u32At(bytes, 6) === 0;

/** MZ, and the offset of the newer header in its place, inside the file. */
const isWindowsProgram = (bytes: Uint8Array, size: number): boolean =>
  hasAscii(bytes, 0, 'MZ') && bytes.length >= 64 && u32At(bytes, 60) >= 64 && u32At(bytes, 60) < size;

function markup(text: string): LookAlike | null {
  const upper = text.toUpperCase();
  for (const name of pageStarts)
    if (upper.startsWith(`<${name}`) && (text[name.length + 1] === ' ' || text[name.length + 1] === '>'))
      return { code: 'web-page', what: 'a web page' };
  if (upper.startsWith('<!--')) return { code: 'web-page', what: 'a web page' };
  return text.startsWith('<?xml') ? { code: 'xml', what: 'an XML document' } : null;
}

/**
 * What a file looks like when it is no firmware, or null when nothing speaks against it. `bytes` are the first bytes of
 * the file, at best all; `size` is that of the whole file. "All ones" and "all zero" are only said of a whole file.
 */
export function lookAlike(bytes: Uint8Array, size: number): LookAlike | null {
  if (size === 0) return { code: 'empty', what: 'an empty file' };
  const first = bytes[0];
  if (first === 0xff || first === 0x00) {
    if (bytes.length === size && isFilledWith(bytes, first))
      return first === 0xff
        ? { code: 'all-ones', what: 'blank flash: every byte is FF' }
        : { code: 'all-zero', what: 'nothing but zeros' };
    if (
      bytes.length >= blankHead &&
      isFilledWith(bytes.subarray(0, blankHead), first) &&
      !isCardImage(bytes) &&
      !holds(bytes, tar)
    )
      return { code: 'blank-head', what: `a file whose first ${blankHead} bytes are blank` };
  }
  for (const signature of signatures)
    if (holds(bytes, signature)) return { code: signature.code, what: signature.what };
  if (hasAscii(bytes, 0, 'BZh') && (bytes[3] ?? 0) >= 0x31 && (bytes[3] ?? 0) <= 0x39)
    return { code: 'bzip2', what: 'a file packed with bzip2' };
  if (isBmp(bytes, size)) return { code: 'picture', what: 'a BMP picture' };
  if (isWindowsProgram(bytes, size)) return { code: 'windows-program', what: 'a Windows program' };
  if (isCardImage(bytes)) return { code: 'card-image', what: 'an image of a whole card or volume' };
  if (isRecordText(bytes)) return null;
  const wide = (bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff);
  const head = bytes.subarray(firstPrinted(bytes), firstPrinted(bytes) + sample);
  const text = latin1(wide ? bytes.subarray(2, sample).filter((byte) => byte !== 0) : head);
  const page = markup(text.trimStart());
  if (page) return page;
  if (
    wide
      ? !isText(bytes.subarray(2, sample).filter((byte) => byte !== 0))
      : !isText(bytes.subarray(0, sample))
  )
    return null;
  if (/^\{\s*["}]|^\[\s*[\]{["\d]/.test(text)) return { code: 'json', what: 'a JSON document' };
  return { code: 'text', what: 'plain text' };
}

const tar: Signature = signatures.find(({ code }) => code === 'tar')!;
