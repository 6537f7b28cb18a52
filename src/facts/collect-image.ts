import type { Profile, ResolvedProfile } from '../board/profile.js';
import type { Digests } from '../bytes/digests.js';
import { checksumBytes, checksumOf, isChecksumKind } from '../firmware/checksums.js';
import type { Decoded, DecodeHint } from '../firmware/encodings/encoding.js';
import { espChips } from '../firmware/encodings/esp-image.js';
import { entropyOf, raw, scrambled } from '../firmware/encodings/raw.js';
import { detectEncodings, encodingsByName } from '../firmware/encodings/registry.js';
import { uf2FamilyNames } from '../firmware/encodings/uf2-families.js';
import { lookAlike } from '../firmware/look-alike.js';
import type { AddressRange } from '../firmware/memory-map.js';
import { hex } from '../firmware/problem.js';
import type { Processor, ProcessorTable } from '../firmware/processors.js';
import { looksLikeVectorTable } from '../firmware/vector-table.js';
import { areaFact, collectProgram, espFileBytes, processorFact } from './collect-program.js';
import type { UpdateFile } from './collect-update-file.js';
import { Absent, FactList, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';

/** The board that the image is for. */
export interface ImageBoard {
  /** The profile as written; null: none was given. */
  readonly profile: Profile | null;
  /** The same for this machine. */
  readonly resolved: ResolvedProfile | null;
  /** Processors that a profile may name. */
  readonly processors?: ProcessorTable;
}

const derived = { origin: 'derived' } as const;
const isMarker = (value: unknown): value is Unseen | Absent =>
  value instanceof Unseen || value instanceof Absent;

/**
 * Sets `image.*` from the bytes of the update file, but not which build it is. Content decides the encoding, never the
 * name. Without an update file all of it is unseen, for the reason for which the file is.
 */
export function collectImage(
  store: FactStore,
  file: UpdateFile | null,
  { profile, resolved, processors = new Map() }: ImageBoard,
  digests: Digests,
): Decoded | null {
  const bytes = file?.bytes ?? null;
  if (file === null || bytes === null) {
    store.setGroup('image', whyNoBytes(store, file));
    return null;
  }
  const look = lookAlike(bytes, bytes.length);
  store.set(
    'image.looksLike',
    look?.what ?? new Absent('nothing in it says that it is something else than firmware'),
  );
  store.set('image.entropy', entropyOf(bytes), derived);
  store.set('image.encodingsByName', new FactList(encodingsByName(file.entry.name)), derived);
  const header = headerFits(bytes, resolved);
  store.set('image.scrambledHeaderFits', header, derived);

  const processor = processorFact(resolved, processors);
  const area = areaFact(resolved, 'application');
  const sha256 = (content: Uint8Array): string => {
    const digest = digests.sha256();
    digest.update(content);
    return digest.hex();
  };
  const decoded = decodeFor(bytes, { resolved, header, area, processor, sha256 });
  if (decoded === null) {
    const blank = look?.code;
    store.set('image.blank', blank === 'all-zero' || blank === 'all-ones' ? blank : 'no');
    const none = new Absent(
      look ? `the update file is ${look.what}, not firmware` : 'the update file is no firmware',
    );
    store.setGroup('image', none);
    store.set('image.inApplicationArea', none);
    return null;
  }
  store.set('image.blank', blankOf(decoded));
  const how = { ...derived, where: { path: file.entry.path } };
  store.set('image.encoding', decoded.encoding, how);
  store.set('image.whole', decoded.whole, how);
  store.set(
    'image.problems',
    new FactList(decoded.problems.map(({ code, text, at }) => ({ code, text, at }))),
    how,
  );
  setPlace(store, decoded, resolved, area, how);
  collectProgram(store, { decoded, profile, resolved, processor, area });
  setFormat(store, decoded, processor);
  setChecksum(store, bytes, decoded, resolved);
  return decoded;
}

/** True when nobody else explains a wrong place in memory: set once the build is known, if it ever is. */
export function collectPlaceExplained(store: FactStore): void {
  store.set('image.madeForOthers', store.text('image.wrongBecause') !== undefined, derived);
}

const noProgram = new Absent('the update file holds no bytes of program');

function whyNoBytes(store: FactStore, file: UpdateFile | null): Unseen | Absent {
  const whole = store.value('updateFile.whole');
  if (whole instanceof Unseen || whole instanceof Absent) return whole;
  return file === null
    ? new Absent('there is no update file')
    : new Unseen(
        'over-limit',
        'the update file is larger than flashworthy reads, or was not read to its end',
      );
}

/** What the profile says about scrambled files of this board. */
function scramblingOf(resolved: ResolvedProfile | null) {
  const said = resolved?.update.scrambling;
  return typeof said === 'object' ? said : undefined;
}

/** Whether the file has the header by which the profile tells scrambled files. */
function headerFits(bytes: Uint8Array, resolved: ResolvedProfile | null): FactValue {
  const header = scramblingOf(resolved)?.header;
  if (header === undefined) return new Absent('the profile names no header of scrambled files');
  const digits = header.bytes.match(/[0-9a-f]{2}/gi) ?? [];
  return digits.every((pair, index) => bytes[header.at + index] === Number.parseInt(pair, 16));
}

interface DecodeFor {
  readonly resolved: ResolvedProfile | null;
  readonly header: FactValue;
  readonly area: AddressRange | Unseen | Absent;
  readonly processor: Processor | Unseen | Absent;
  readonly sha256: (content: Uint8Array) => string;
}

/** Decodes the file as what it is, placed in memory as this board's loader does; null when it is no firmware. */
function decodeFor(
  bytes: Uint8Array,
  { resolved, header, area, processor, sha256 }: DecodeFor,
): Decoded | null {
  const hint: DecodeHint = {
    sha256,
    ...(isMarker(area) ? {} : { loadAddress: area.start }),
    ...(isMarker(processor) || processor.uf2Family === null ? {} : { uf2Family: processor.uf2Family }),
  };
  if (isScrambled(bytes, resolved, header)) return scrambled.decode(bytes, hint);
  const encoding = detectEncodings(bytes)[0]?.encoding;
  if (encoding === undefined) return null;
  const skip = resolved?.update.skipBytes;
  // What this loader passes over never gets into the memory.
  if (encoding.id === 'raw' && typeof skip === 'number' && skip > 0)
    return raw.decode(bytes.subarray(skip), hint);
  return encoding.decode(bytes, hint);
}

/** Scrambled as the profile describes it: by its header, else by being noise where a scrambled file is wanted. */
function isScrambled(bytes: Uint8Array, resolved: ResolvedProfile | null, header: FactValue): boolean {
  const said = scramblingOf(resolved);
  const isNoise = entropyOf(bytes) >= (said?.minEntropy ?? 0);
  if (header === true) return isNoise;
  if (header === false || resolved?.update.encoding !== 'scrambled' || said?.minEntropy === undefined)
    return false;
  return isNoise && !looksLikeVectorTable(bytes) && detectEncodings(bytes)[0]?.encoding.id === 'raw';
}

const blankHead = 64;

/** Whether the program is blank flash, or begins like it. */
function blankOf({ map }: Decoded): string {
  const first = map.segments[0]?.bytes;
  const fill = first?.[0];
  if (first === undefined || (fill !== 0 && fill !== 0xff)) return 'no';
  if (map.segments.every((segment) => segment.bytes.every((byte) => byte === fill)))
    return fill === 0 ? 'all-zero' : 'all-ones';
  const head = first.subarray(0, blankHead);
  return head.length === blankHead && head.every((byte) => byte === fill) ? 'blank-head' : 'no';
}

type How = { readonly origin: 'derived'; readonly where: { readonly path: string } };

/** From where to where the program lies in the flash. */
function setPlace(
  store: FactStore,
  decoded: Decoded,
  resolved: ResolvedProfile | null,
  area: AddressRange | Unseen | Absent,
  how: How,
): void {
  const skip = resolved?.open['update.skipBytes'];
  const skipOpen = skip ? new Unseen('not-told', skip.text, skip.settle) : null;
  const start = area instanceof Absent ? notSaidWhere : area;
  const { map, encoding } = decoded;
  const hidden =
    encoding === 'scrambled' || encoding === 'packed-gzip'
      ? new Unseen('not-visible', 'the program is scrambled or packed, so its addresses cannot be seen')
      : null;
  const esp = espFileBytes(decoded);
  store.set('image.bytes', hidden ?? (encoding === 'esp-image' ? esp : map.byteCount), how);
  const inArea = hidden ?? inApplicationArea(decoded, area);
  if (encoding === 'raw' || encoding === 'esp-image') {
    // The file names no address in the flash: the profile says where the loader puts it.
    const open = skipOpen ?? (isMarker(start) ? start : null);
    const length = encoding === 'raw' ? map.byteCount : esp;
    const from = open ?? (length === 0 ? noProgram : (start as AddressRange).start);
    store.set('image.loadAddress', from, how);
    store.set('image.endAddress', typeof from === 'number' ? from + length : from, how);
    store.set(
      'image.segments',
      typeof from === 'number' ? new FactList([{ start: from, bytes: length }]) : from,
      how,
    );
    store.set('image.inApplicationArea', skipOpen ?? inArea, how);
    return;
  }
  store.set('image.loadAddress', hidden ?? map.start ?? noProgram, how);
  store.set('image.endAddress', hidden ?? map.end ?? noProgram, how);
  const segments = map.segments.map(({ start, bytes }) => ({ start, bytes: bytes.length }));
  store.set('image.segments', hidden ?? (segments.length > 0 ? new FactList(segments) : noProgram), how);
  store.set('image.inApplicationArea', inArea, how);
}

const notSaidWhere = new Unseen(
  'profile-silent',
  'the board profile does not say where in the memory the program goes',
  'ask the author of the profile for memory.application',
);

/** Whether every byte of the program lies inside the application area; true when the author says that any place will do. */
function inApplicationArea(decoded: Decoded, area: AddressRange | Unseen | Absent): FactValue {
  if (area instanceof Unseen) return area;
  if (!decoded.whole)
    return new Unseen('damaged', 'the firmware file is not whole, so not every address was seen');
  if (decoded.map.byteCount === 0) return false;
  if (area instanceof Absent) return true;
  if (decoded.encoding === 'esp-image') return espFileBytes(decoded) <= area.end - area.start;
  return decoded.map.outside(area.start, area.end).length === 0;
}

const familyText = (id: number | null): string =>
  id === null ? 'no family' : `${uf2FamilyNames.get(id) ?? 'a family without a published name'} (${hex(id)})`;
const chipText = (id: number): string => `${espChips.get(id) ?? 'a chip without a published name'} (${id})`;

/** What only one encoding has and the processor must agree with. */
function setFormat(store: FactStore, { details }: Decoded, processor: Processor | Unseen | Absent): void {
  const set = (path: string, value: FactValue): void => store.set(path, value, derived);
  set(
    'image.dfuSuffix',
    'suffix' in details && details.kind !== 'dfuse'
      ? details.suffix !== null
      : new Absent('a file of this form has no such end, or must have it'),
  );

  const notUf2 = new Absent('the update file is no UF2 file');
  const wantedFamily = isMarker(processor)
    ? processor
    : (processor.uf2Family ?? new Absent('this processor has no family of UF2 files'));
  set('image.uf2FamilyWanted', isMarker(wantedFamily) ? wantedFamily : familyText(wantedFamily));
  set(
    'image.uf2Families',
    details.kind === 'uf2' ? new FactList(details.families.map(({ id }) => familyText(id))) : notUf2,
  );
  set(
    'image.uf2FamilyFits',
    details.kind !== 'uf2'
      ? notUf2
      : isMarker(wantedFamily)
        ? wantedFamily
        : // Blocks without a family are for every loader.
          details.families.some(({ id }) => id === wantedFamily || id === null),
  );

  const notEsp = new Absent('the update file is no ESP image that names its chip');
  const wantedChip = isMarker(processor)
    ? processor
    : (processor.espChipId ?? new Absent('this processor takes no ESP images'));
  const chip = details.kind === 'esp-image' ? details.chipId : null;
  set('image.espChipWanted', isMarker(wantedChip) ? wantedChip : chipText(wantedChip));
  set('image.espChip', chip === null ? notEsp : chipText(chip));
  set('image.espChipFits', chip === null ? notEsp : isMarker(wantedChip) ? wantedChip : chip === wantedChip);
}

/** A checksum as the profile describes it. */
interface ChecksumFound {
  readonly holds: FactValue;
  readonly found: FactValue;
  readonly computed: FactValue;
}

function setChecksum(
  store: FactStore,
  bytes: Uint8Array,
  decoded: Decoded,
  resolved: ResolvedProfile | null,
): void {
  const result = checksumIn(bytes, decoded, resolved);
  const { holds, found, computed } = isMarker(result)
    ? { holds: result, found: result, computed: result }
    : result;
  store.set('image.checksumHolds', holds, derived);
  store.set('image.checksumFound', found, derived);
  store.set('image.checksumComputed', computed, derived);
}

/** The checksum that the profile describes, found and computed; the marker says why there is nothing to compare. */
function checksumIn(
  bytes: Uint8Array,
  decoded: Decoded,
  resolved: ResolvedProfile | null,
): ChecksumFound | Unseen | Absent {
  if (resolved === null) return new Unseen('profile-silent', 'no board profile was given');
  const said = resolved.update.checksum;
  if (said === undefined) return new Absent('the profile describes no checksum');
  if (said === 'any') return new Absent('the profile says that the checksum does not matter');
  const { kind, over, at, byteOrder } = said;
  if (!isChecksumKind(kind))
    return new Unseen('not-built-yet', `checksums of the kind ${kind} are not computed by this version`);
  const content = checkedBytes(bytes, decoded);
  if (content instanceof Unseen) return content;
  const size = checksumBytes(kind);
  const place = at < 0 ? content.length + at : at;
  const end = over.to === 'end' ? content.length : over.to < 0 ? content.length + over.to : over.to;
  const short = new Absent('the file is too short to hold it');
  if (place < 0 || place + size > content.length || end > content.length || over.from > end)
    return { holds: false, found: short, computed: short };
  const stored = [...content.subarray(place, place + size)];
  if (byteOrder === 'little') stored.reverse();
  const digits = (value: number): string => value.toString(16).padStart(size * 2, '0');
  const found = stored.reduce((value, byte) => value * 256 + byte, 0);
  const computed = checksumOf(kind, content.subarray(over.from, end));
  return {
    holds: found === computed,
    found: digits(found),
    computed: computed === null ? new Absent('bytes of this number have no such checksum') : digits(computed),
  };
}

/** What a checksum counts its offsets in: the file, or for a file of addressed pieces the program that they make. */
function checkedBytes(bytes: Uint8Array, { encoding, map, whole }: Decoded): Uint8Array | Unseen {
  if (['raw', 'scrambled', 'packed-gzip', 'esp-image'].includes(encoding)) return bytes;
  const [only, ...more] = map.segments;
  if (!whole) return new Unseen('damaged', 'the firmware file is not whole');
  return only !== undefined && more.length === 0
    ? only.bytes
    : new Unseen('not-visible', 'the program lies in several pieces, so its checksum cannot be placed');
}
