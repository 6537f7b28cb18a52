/** GUID partition tables: UEFI specification 2.10, chapter 5. */
import crc32 from 'crc-32';
import { type ByteSource, isInside, ReadProblem } from '../../bytes/byte-source.js';
import { Cursor, hasAscii, isFilledWith, utf16Text } from '../../bytes/cursor.js';
import { limits } from '../../bytes/limits.js';
import { Unseen } from '../../facts/fact.js';
import { unseenFrom } from '../../facts/unseen-from.js';
import type { ProblemList, RawEntry } from './partition-table.js';

/** Block sizes to try, the likeliest first. */
export const gptBlockSizes = [512, 4096, 2048, 1024] as const;

/** First eight bytes of a GPT header (UEFI specification 5.3.2). */
export const GPT_SIGNATURE = 'EFI PART';
/** Bytes of the header that the specification defines, and of its smallest entry. */
const HEADER_BYTES = 92;
const SMALLEST_ENTRY = 128;
const LARGEST_ENTRY = 4096;

/** Type GUIDs that cards carry (upper case); any other is `unknown`. */
const typeNames: Readonly<Record<string, string>> = {
  'EBD0A0A2-B9E5-4433-87C0-68B6B72699C7': 'Microsoft basic data',
  'C12A7328-F81F-11D2-BA4B-00A0C93EC93B': 'EFI system',
  'E3C9E316-0B5C-4DB8-817D-F92DF00215AE': 'Microsoft reserved',
  '0FC63DAF-8483-4772-8E79-3D69D8477DE4': 'Linux file system',
  '0657FD6D-A4AB-43C4-84E5-0933C84B4F4F': 'Linux swap',
  '48465300-0000-11AA-AA11-00306543ECAC': 'HFS+',
};

/** What a type GUID (upper case) means; `unknown` for one that is in no list here. */
export const gptTypeName = (guid: string): string => typeNames[guid] ?? 'unknown';

/** A GUID as text, upper case: its first three fields are little-endian on the medium (UEFI appendix A). */
export function guidText(bytes: Uint8Array): string {
  const order = [3, 2, 1, 0, 5, 4, 7, 6, 8, 9, 10, 11, 12, 13, 14, 15];
  const hex = order.map((i) => (bytes[i] ?? 0).toString(16).padStart(2, '0').toUpperCase());
  const part = (from: number, to: number): string => hex.slice(from, to).join('');
  return `${part(0, 4)}-${part(4, 6)}-${part(6, 8)}-${part(8, 10)}-${part(10, 16)}`;
}

/** CRC-32 as the UEFI specification uses it (CRC-32/ISO-HDLC), unsigned. */
export const gptCrc32 = (bytes: Uint8Array): number => crc32.buf(bytes) >>> 0;

/** Fields of one GPT header, as stored; block addresses above 2^53 are not exact and are refused as impossible. */
export interface GptHeader {
  /** Byte offset of the header on the medium. */
  readonly at: number;
  readonly headerBytes: number;
  readonly storedCrc: number;
  readonly computedCrc: number;
  readonly ownBlock: number;
  readonly otherBlock: number;
  readonly firstUsable: number;
  readonly lastUsable: number;
  readonly diskGuid: string;
  readonly arrayBlock: number;
  readonly entryCount: number;
  readonly entryBytes: number;
  readonly arrayCrc: number;
}

/** What was read of a GPT. */
export interface Gpt {
  /** Bytes in a logical block; null when no header was found. */
  readonly sectorBytes: number | null;
  readonly entries: RawEntry[];
  readonly incomplete: Unseen | null;
}

/** The header in this block, null when the block does not start with the signature, or the problem. */
export function readGptHeader(
  source: ByteSource,
  at: number,
  blockBytes: number,
): GptHeader | ReadProblem | null {
  if (!isInside(at, blockBytes, source.size)) return null;
  const block = source.read(at, blockBytes);
  if (block instanceof ReadProblem) return block;
  if (!hasAscii(block, 0, GPT_SIGNATURE)) return null;
  const field = new Cursor(block, 8);
  field.skip(4);
  const headerBytes = field.u32();
  const storedCrc = field.u32();
  field.skip(4);
  const ownBlock = field.u64();
  const otherBlock = field.u64();
  const firstUsable = field.u64();
  const lastUsable = field.u64();
  const diskGuid = guidText(field.raw(16));
  const arrayBlock = field.u64();
  const entryCount = field.u32();
  const entryBytes = field.u32();
  const arrayCrc = field.u32();
  let computedCrc = -1;
  if (headerBytes >= HEADER_BYTES && headerBytes <= blockBytes) {
    const header = block.slice(0, headerBytes);
    header.fill(0, 16, 20); // the CRC is computed with its own field zero
    computedCrc = gptCrc32(header);
  }
  return {
    at,
    headerBytes,
    storedCrc,
    computedCrc,
    ownBlock,
    otherBlock,
    firstUsable,
    lastUsable,
    diskGuid,
    arrayBlock,
    entryCount,
    entryBytes,
    arrayCrc,
  };
}

/** One of the two copies of the table, as far as it could be read. */
interface GptCopy {
  readonly header: GptHeader;
  readonly sectorBytes: number;
  readonly entries: RawEntry[];
  readonly incomplete: Unseen | null;
  /** True when header and array are whole, by their checksums. */
  readonly sound: boolean;
}

/**
 * Reads the GPT of a medium whose sector 0 has a protective entry: the first header in block 1 (for each block
 * size), and the backup where the first one says, else in the last block. When the first one is broken the backup
 * is used, and a problem says so; when both are, there are no entries and the list is incomplete.
 */
export function readGpt(source: ByteSource, problems: ProblemList): Gpt {
  let unread: ReadProblem | undefined;
  let primary: GptCopy | undefined;
  for (const sectorBytes of gptBlockSizes) {
    const header = readGptHeader(source, sectorBytes, sectorBytes);
    if (header instanceof ReadProblem) unread ??= header;
    if (header === null || header instanceof ReadProblem) continue;
    primary = readCopy(source, header, sectorBytes, 'first', problems);
    break;
  }
  if (unread && !primary)
    problems.add('gpt-header-unread', unread.at, 'the first GPT header could not be read');
  const backup = findBackup(source, primary, problems);
  if (primary && backup) comparePair(primary, backup, problems);

  const used = primary?.sound ? primary : backup?.sound ? backup : undefined;
  if (!used) {
    if (!primary && !backup) {
      if (!unread)
        problems.add(
          'gpt-header-missing',
          512,
          'sector 0 announces a GPT, but neither its header nor a backup of it is there',
        );
      return { sectorBytes: null, entries: [], incomplete: unread ? unseenFrom(unread) : null };
    }
    const read = primary ?? backup;
    problems.add('gpt-unusable', read?.header.at ?? 512, 'neither copy of the GPT is whole');
    return {
      sectorBytes: read?.sectorBytes ?? null,
      entries: [],
      incomplete:
        primary?.incomplete ??
        backup?.incomplete ??
        new Unseen('damaged', 'neither copy of the GPT is whole'),
    };
  }
  if (used === backup)
    problems.add(
      'gpt-backup-used',
      used.header.at,
      'the first copy of the GPT is broken; its backup was read',
    );
  return { sectorBytes: used.sectorBytes, entries: used.entries, incomplete: used.incomplete };
}

function findBackup(
  source: ByteSource,
  primary: GptCopy | undefined,
  problems: ProblemList,
): GptCopy | undefined {
  const sizes = primary ? [primary.sectorBytes] : gptBlockSizes;
  let missingAt = 512;
  for (const sectorBytes of sizes) {
    const lastBlock = Math.floor(source.size / sectorBytes) - 1;
    const claimed = primary && isHeaderSound(primary.header) ? primary.header.otherBlock : lastBlock;
    if (primary) missingAt = primary.header.at + 32;
    for (const block of claimed === lastBlock ? [lastBlock] : [claimed, lastBlock]) {
      if (block <= 1) continue;
      const header = readGptHeader(source, block * sectorBytes, sectorBytes);
      if (header instanceof ReadProblem) {
        problems.add('gpt-backup-unread', header.at, 'the backup GPT header could not be read');
        continue;
      }
      if (header === null) continue;
      if (block !== lastBlock)
        problems.add(
          'gpt-backup-not-last',
          header.at,
          'the backup GPT header is not in the last sector: the table was made for a smaller medium',
        );
      return readCopy(source, header, sectorBytes, 'backup', problems);
    }
  }
  problems.add('gpt-backup-missing', missingAt, 'the backup of the GPT is missing');
  return undefined;
}

const isHeaderSound = (header: GptHeader): boolean =>
  header.computedCrc === header.storedCrc &&
  header.entryBytes >= SMALLEST_ENTRY &&
  header.entryBytes <= LARGEST_ENTRY &&
  header.entryBytes % 8 === 0 &&
  header.entryCount > 0;

function comparePair(primary: GptCopy, backup: GptCopy, problems: ProblemList): void {
  if (!isHeaderSound(primary.header) || !isHeaderSound(backup.header)) return;
  const differs =
    primary.header.diskGuid !== backup.header.diskGuid ||
    primary.header.arrayCrc !== backup.header.arrayCrc ||
    primary.header.entryCount !== backup.header.entryCount ||
    primary.header.entryBytes !== backup.header.entryBytes ||
    primary.header.firstUsable !== backup.header.firstUsable ||
    primary.header.lastUsable !== backup.header.lastUsable;
  if (differs)
    problems.add('gpt-backup-differs', backup.header.at, 'the backup of the GPT differs from the first copy');
}

function readCopy(
  source: ByteSource,
  header: GptHeader,
  sectorBytes: number,
  which: 'first' | 'backup',
  problems: ProblemList,
): GptCopy {
  const copy = (sound: boolean, entries: RawEntry[] = [], incomplete: Unseen | null = null): GptCopy => ({
    header,
    sectorBytes,
    entries,
    incomplete,
    sound,
  });
  if (header.computedCrc === -1) {
    problems.add(
      'gpt-header-size',
      header.at + 12,
      `the ${which} GPT header says that it has ${header.headerBytes} bytes`,
    );
    return copy(false);
  }
  if (header.computedCrc !== header.storedCrc) {
    problems.add('gpt-header-crc', header.at + 16, `the checksum of the ${which} GPT header is wrong`);
    return copy(false);
  }
  if (header.ownBlock * sectorBytes !== header.at) {
    problems.add('gpt-own-block', header.at + 24, `the ${which} GPT header says that it stands elsewhere`);
    return copy(false);
  }
  if (!isHeaderSound(header)) {
    problems.add(
      'gpt-entry-size',
      header.at + 80,
      `the ${which} GPT header announces ${header.entryCount} entries of ${header.entryBytes} bytes`,
    );
    return copy(false);
  }
  const arrayAt = header.arrayBlock * sectorBytes;
  const arrayBytes = header.entryCount * header.entryBytes;
  if (arrayBytes > limits.gptArrayBytes) {
    problems.add(
      'gpt-array-too-long',
      header.at + 80,
      `the ${which} GPT announces ${header.entryCount} entries`,
    );
    return copy(
      false,
      [],
      new Unseen('over-limit', `${header.entryCount} partition entries are more than are read`),
    );
  }
  if (!isInside(arrayAt, arrayBytes, source.size)) {
    problems.add('gpt-array-past-end', header.at + 72, `the entries of the ${which} GPT lie past the end`);
    return copy(false);
  }
  const array = source.read(arrayAt, arrayBytes);
  if (array instanceof ReadProblem) {
    problems.add('gpt-array-unread', arrayAt, `the entries of the ${which} GPT could not be read`);
    return copy(false, [], unseenFrom(array));
  }
  if (gptCrc32(array) !== header.arrayCrc) {
    problems.add(
      'gpt-array-crc',
      header.at + 88,
      `the checksum over the entries of the ${which} GPT is wrong`,
    );
    return copy(false);
  }
  const entries: RawEntry[] = [];
  let incomplete: Unseen | null = null;
  for (let i = 0; i < header.entryCount; i++) {
    const bytes = array.subarray(i * header.entryBytes, i * header.entryBytes + SMALLEST_ENTRY);
    if (isFilledWith(bytes.subarray(0, 16), 0)) continue; // a zero type GUID means unused
    if (entries.length >= limits.partitionEntries) {
      incomplete = new Unseen(
        'over-limit',
        `only the first ${limits.partitionEntries} used entries were read`,
      );
      break;
    }
    entries.push(
      readEntry(bytes, i + 1, arrayAt + i * header.entryBytes, header, sectorBytes, which, problems),
    );
  }
  return copy(true, entries, incomplete);
}

function readEntry(
  bytes: Uint8Array,
  index: number,
  at: number,
  header: GptHeader,
  sectorBytes: number,
  which: 'first' | 'backup',
  problems: ProblemList,
): RawEntry {
  const field = new Cursor(bytes);
  const type = guidText(field.raw(16));
  field.skip(16);
  const first = field.u64();
  const last = field.u64();
  field.skip(8);
  // The two copies hold the same entries, so what is wrong with one is said once.
  if (which === 'first') {
    if (last < first)
      problems.add('gpt-entry-backwards', at + 32, `GPT entry ${index} ends before it starts`);
    else if (first < header.firstUsable || last > header.lastUsable)
      problems.add('gpt-entry-outside', at + 32, `GPT entry ${index} leaves the part meant for partitions`);
  }
  return {
    index,
    kind: 'gpt',
    type,
    typeName: gptTypeName(type),
    bootFlag: null,
    name: utf16Text(field.raw(72)),
    startByte: clamp(first * sectorBytes),
    bytes: last < first ? 0 : clamp((last - first + 1) * sectorBytes),
    container: null,
    at,
    entryBytes: header.entryBytes,
  };
}

/** Keeps an impossible address a whole number: it lies past the end of any medium all the same. */
const clamp = (bytes: number): number => Math.min(bytes, Number.MAX_SAFE_INTEGER);
