import type { MemoryArea, Profile, ResolvedProfile } from '../board/profile.js';
import { conditionText } from '../board/range-text.js';
import type { Decoded } from '../firmware/encodings/encoding.js';
import { linkedFor } from '../firmware/linked-for.js';
import type { AddressRange, MemoryMap } from '../firmware/memory-map.js';
import { hex } from '../firmware/problem.js';
import {
  hasVectorTable,
  isStackInRam,
  type MemoryRegion,
  type Processor,
  type ProcessorTable,
  processorOf,
} from '../firmware/processors.js';
import {
  codeAddress,
  findVectorTables,
  looksLikeVectorTable,
  readVectors,
  type VectorTable,
  vectorsOutside,
} from '../firmware/vector-table.js';
import { Absent, FactList, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';

/** What the facts about a program in memory are taken from. */
export interface ProgramSubject {
  readonly decoded: Decoded;
  /** The profile as written; null: none was given. */
  readonly profile: Profile | null;
  readonly resolved: ResolvedProfile | null;
  /** What the profile says about the processor. */
  readonly processor: Processor | Unseen | Absent;
  /** The area into which the program is written; the marker says why it is not known. */
  readonly area: AddressRange | Unseen | Absent;
}

const derived = { origin: 'derived' } as const;

const vectorFacts = [
  'image.vectorsAt',
  'image.initialStack',
  'image.resetVector',
  'image.stackInRam',
  'image.stackAlignment',
  'image.stackPlaces',
  'image.resetIsThumb',
  'image.resetInProgram',
  'image.resetAtBlank',
  'image.vectorFaults',
  'image.programMovedBy',
  'image.linkedFor',
  'image.linkedForWhat',
  'image.wordSum',
  'image.wordSumHolds',
] as const;

/** The processor that the profile names or describes. */
export function processorFact(
  resolved: ResolvedProfile | null,
  processors: ProcessorTable,
): Processor | Unseen | Absent {
  if (resolved === null)
    return new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE');
  const said = resolved.processor;
  if (said === 'any') return new Absent('the profile says that the processor does not matter');
  if (said === undefined) return new Absent('the profile does not say which processor the board has');
  const processor = processorOf(said, processors);
  if (processor) return processor;
  return new Unseen(
    'profile-silent',
    typeof said === 'string'
      ? `this version of flashworthy does not know the memory of a ${said}`
      : 'the profile describes a processor that flashworthy does not know',
    'ask the author of the profile to describe the processor with its core, flash and RAM',
  );
}

/** An area of the profile as addresses; the marker says why it is not known. */
export function areaFact(
  resolved: ResolvedProfile | null,
  which: 'loader' | 'application',
): AddressRange | Unseen | Absent {
  if (resolved === null)
    return new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE');
  const open = resolved.open[`memory.${which}`];
  if (open) return new Unseen('not-told', open.text, open.settle);
  const said = resolved.memory[which];
  if (said === 'any') return new Absent('the profile says that the place does not matter');
  if (said !== undefined) return rangeOf(said);
  if (which === 'loader') return new Absent('the profile does not say where the boot loader lies');
  return new Unseen(
    'profile-silent',
    'the board profile does not say where in the memory the program goes',
    'ask the author of the profile for memory.application',
  );
}

const rangeOf = ({ start, bytes }: MemoryArea): AddressRange => ({ start, end: start + bytes });
const isMarker = (value: unknown): value is Unseen | Absent =>
  value instanceof Unseen || value instanceof Absent;
const isOdd = (value: number): boolean => value % 2 === 1;

/**
 * Sets the facts `image.*` about the program as it will lie in memory: vector table, place for which it was linked,
 * what it would overwrite, sums that the processor wants. Nothing is judged.
 */
export function collectProgram(store: FactStore, subject: ProgramSubject): void {
  const { decoded, processor } = subject;
  const hidden =
    decoded.encoding === 'scrambled' || decoded.encoding === 'packed-gzip'
      ? new Unseen('not-visible', 'the program is scrambled or packed, so it cannot be looked into')
      : null;
  setPlaces(store, subject, hidden);
  const none = hidden ?? whyNoVectors(subject);
  if (none || isMarker(processor)) {
    const why = none ?? (processor as Unseen | Absent);
    for (const path of vectorFacts) store.set(path, why, derived);
    setBootLoader(store, subject, hidden, null);
    return;
  }
  const place = vectorPlace(subject, processor);
  if (isMarker(place)) {
    for (const path of vectorFacts) store.set(path, place, derived);
    setBootLoader(store, subject, null, null);
    return;
  }
  setVectors(store, subject, processor, place);
  setBootLoader(store, subject, null, processor);
}

/** Why no vector table is to be looked for; null when one is. */
function whyNoVectors({ decoded, processor }: ProgramSubject): Unseen | Absent | null {
  if (isMarker(processor)) return processor;
  if (!hasVectorTable(processor)) return new Absent('this processor starts without a vector table');
  if (decoded.encoding === 'esp-image') return new Absent('an ESP image has no vector table');
  return null;
}

interface VectorPlace {
  /** Address of the vector table. */
  readonly at: number;
  readonly area: AddressRange;
}

/** Where the processor looks for the vectors: at the start of the application, on an RP2040 behind its second stage. */
function vectorPlace({ decoded, area }: ProgramSubject, processor: Processor): VectorPlace | Unseen | Absent {
  if (area instanceof Unseen) return area;
  const { map } = decoded;
  if (map.start === null || map.end === null) return new Absent('the update file holds no bytes of program');
  // Where any place will do, the program says itself where it starts; plain bytes do not.
  if (area instanceof Absent && decoded.encoding === 'raw')
    return new Unseen(
      'profile-silent',
      'plain bytes do not say where in the memory they go, nor does the profile',
    );
  const whole = area instanceof Absent ? { start: map.start, end: map.end } : area;
  const head = map.read(whole.start, 16);
  // Programs for a boot loader may do without the second stage.
  const direct = processor.vectorOffset === 0 || (head !== null && looksLikeVectorTable(head));
  return { at: direct ? whole.start : whole.start + processor.vectorOffset, area: whole };
}

function setVectors(
  store: FactStore,
  subject: ProgramSubject,
  processor: Processor,
  place: VectorPlace,
): void {
  const { map, whole } = subject.decoded;
  const table = readVectors(map, place.at);
  const set = (path: (typeof vectorFacts)[number], value: FactValue): void => store.set(path, value, derived);
  const lacks: Unseen | Absent = whole
    ? new Absent('no byte of the program lies where the processor looks for it')
    : new Unseen('damaged', 'the firmware file is not whole, so the vector table was not seen');
  const missing = whole ? false : lacks;
  set('image.vectorsAt', place.at);
  set('image.stackPlaces', placesText(processor.ram));
  set('image.initialStack', table?.initialStack ?? lacks);
  set('image.resetVector', table?.reset ?? lacks);
  set('image.stackInRam', table ? isStackInRam(processor, table.initialStack) : missing);
  set('image.stackAlignment', table?.stackAlignment ?? lacks);
  set('image.resetIsThumb', table ? isOdd(table.reset) : missing);
  const target = table && map.read(codeAddress(table.reset), 2);
  set('image.resetInProgram', table ? target !== null : missing);
  set('image.resetAtBlank', table ? target !== null && isBlank(map, codeAddress(table.reset)) : missing);
  set('image.vectorFaults', table ? faultsOf(table, map, processor, place.area) : lacks);
  const moved = movedBy(map, table, processor, place.at);
  set('image.programMovedBy', moved ?? new Absent('no vector table stands anywhere else in the file'));
  setLink(store, subject, processor, place, moved);
  setWordSum(store, subject, processor, place, table, lacks);
}

/** Four bytes that no program begins with. */
function isBlank(map: MemoryMap, at: number): boolean {
  const head = map.read(at, 4);
  return head !== null && (head.every((byte) => byte === 0) || head.every((byte) => byte === 0xff));
}

/** Vectors behind the reset vector that the processor cannot use. 0 and all ones stand for unused ones. */
function faultsOf(table: VectorTable, map: MemoryMap, processor: Processor, area: AddressRange): FactList {
  const unused = (value: number): boolean => value === 0 || value === 0xffffffff;
  const outside = new Set(vectorsOutside(table, [...map.ranges, area, ...processor.ram]));
  return new FactList(
    table.vectors
      .filter(({ index, value }) => index > 1 && !unused(value))
      .flatMap((vector) => {
        const how = !isOdd(vector.value) ? 'bit-0' : outside.has(vector) ? 'outside' : null;
        return how === null ? [] : [{ name: vector.name, value: vector.value, how }];
      }),
  );
}

/** Bytes from where the vector table should be to where one was found, when the right place holds none at all. */
function movedBy(map: MemoryMap, table: VectorTable | null, processor: Processor, at: number): number | null {
  if (table === null || map.segments.length !== 1) return null;
  if (isOdd(table.reset) && map.segmentAt(codeAddress(table.reset)) !== null) return null;
  const [first] = findVectorTables(map, processor);
  return first !== undefined && first.table.at > at ? first.table.at - at : null;
}

function setLink(
  store: FactStore,
  { decoded, profile }: ProgramSubject,
  processor: Processor,
  place: VectorPlace,
  moved: number | null,
): void {
  const known = knownStarts(profile, processor);
  const others = [...known.keys()].map((start) => start + processor.vectorOffset);
  const link = moved === null ? linkedFor(decoded.map, processor, { ...place, others }) : null;
  const itsPlace = new Absent('nothing says that the program was linked for another place');
  store.set('image.linkedFor', link ?? itsPlace, derived);
  store.set(
    'image.linkedForWhat',
    link === null
      ? itsPlace
      : (known.get(link - processor.vectorOffset) ??
          known.get(link) ??
          new Absent('the profile knows no board whose programs start there')),
    derived,
  );
}

/** Addresses at which programs for this board may start, with what for. */
function knownStarts(profile: Profile | null, processor: Processor): Map<number, string> {
  const starts = new Map<number, string>();
  const application = profile?.memory.application;
  if (profile && Array.isArray(application))
    for (const { start, for: condition } of application) {
      const parts = Object.entries(condition ?? {}).map(([axis, range]) =>
        conditionText(profile, axis, range),
      );
      if (parts.length > 0) starts.set(start, `machines with ${parts.join(' and ')}`);
    }
  for (const { start } of processor.flash)
    if (!starts.has(start)) starts.set(start, 'a board without a boot loader in that place');
  return starts;
}

function setWordSum(
  store: FactStore,
  { decoded, resolved }: ProgramSubject,
  processor: Processor,
  { at }: VectorPlace,
  table: VectorTable | null,
  lacks: Unseen | Absent,
): void {
  const sum = table?.wordSum ?? null;
  store.set('image.wordSum', sum ?? lacks, derived);
  store.set('image.wordSumHolds', holds(), derived);

  function holds(): FactValue {
    const checks = resolved?.update.checks;
    const asked = Array.isArray(checks) && checks.includes('word-sum');
    const atStart = processor.wordSum && processor.flash.some(({ start }) => start === at);
    if (!asked && !atStart)
      return checks === undefined && processor.wordSum
        ? new Unseen(
            'profile-silent',
            'the board profile does not say whether the boot loader wants the sum that this processor knows',
            'ask the author of the profile for update.checks',
          )
        : new Absent('neither the processor nor the boot loader looks at this sum');
    if (sum !== null) return sum === 0;
    return decoded.whole ? false : lacks;
  }
}

/** What the bytes would lie on: the boot loader, the settings, what is no flash. */
function setPlaces(store: FactStore, subject: ProgramSubject, hidden: Unseen | null): void {
  const { decoded, resolved, processor } = subject;
  const ranges = occupied(subject);
  const over = (areas: readonly AddressRange[] | Unseen | Absent): FactValue => {
    if (isMarker(areas)) return areas;
    if (isMarker(ranges)) return ranges;
    if (areas.some((area) => ranges.some((range) => range.start < area.end && range.end > area.start)))
      return true;
    return decoded.whole ? false : notWhole;
  };
  const loader = areaFact(resolved, 'loader');
  store.set('image.overlapsLoader', hidden ?? over(isMarker(loader) ? loader : [loader]), derived);
  store.set('image.overlapsSettings', hidden ?? over(settingsAreas(resolved)), derived);
  store.set('image.flashPlaces', isMarker(processor) ? processor : placesText(processor.flash), derived);
  store.set(
    'image.flashAreas',
    isMarker(processor)
      ? processor
      : new FactList(joinedRegions(processor.flash).map(({ start, end }) => ({ start, bytes: end - start }))),
    derived,
  );
  store.set('image.inProcessorFlash', hidden ?? inFlash(), derived);

  function inFlash(): FactValue {
    if (isMarker(processor)) return processor;
    if (isMarker(ranges)) return ranges;
    const flash = joinedRegions(processor.flash);
    const inside = ranges.every(({ start, end }) =>
      flash.some((region) => start >= region.start && end <= region.end),
    );
    return inside && !decoded.whole ? notWhole : inside;
  }
}

const notWhole = new Unseen('damaged', 'the firmware file is not whole, so not every address was seen');

function settingsAreas(resolved: ResolvedProfile | null): AddressRange[] | Unseen | Absent {
  if (resolved === null) return new Unseen('profile-silent', 'no board profile was given');
  const open = resolved.open['memory.settings'];
  if (open) return new Unseen('not-told', open.text, open.settle);
  const said = resolved.memory.settings;
  if (said === undefined) return new Absent('the profile does not say where the settings lie');
  return said === 'any' ? new Absent('the profile says that this does not matter') : said.map(rangeOf);
}

/** Addresses in flash that the file fills. An ESP image lies there as it is, whatever addresses its segments name. */
function occupied({ decoded, area }: ProgramSubject): readonly AddressRange[] | Unseen | Absent {
  if (decoded.encoding !== 'raw' && decoded.encoding !== 'esp-image') return decoded.map.ranges;
  if (isMarker(area)) return area;
  if (decoded.encoding === 'raw') return decoded.map.ranges;
  return [{ start: area.start, end: area.start + espFileBytes(decoded) }];
}

/** Bytes of the whole file of an ESP image, or 0 for another one. */
export function espFileBytes({ details }: Decoded): number {
  return details.kind === 'esp-image' ? details.imageBytes + details.trailingBytes : 0;
}

/** Regions that touch count as one. */
function joinedRegions(regions: readonly AddressRange[]): AddressRange[] {
  const joined: AddressRange[] = [];
  for (const { start, end } of regions) {
    const last = joined.at(-1);
    if (last && last.end === start) joined[joined.length - 1] = { start: last.start, end };
    else joined.push({ start, end });
  }
  return joined;
}

const placesText = (regions: readonly MemoryRegion[]): string =>
  joinedRegions(regions)
    .map(({ start, end }) => `${hex(start)} to ${hex(end)}`)
    .join(' or ');

/** Whether the file holds a boot loader too, as files for flashing by other ways do. */
function setBootLoader(
  store: FactStore,
  subject: ProgramSubject,
  hidden: Unseen | null,
  processor: Processor | null,
): void {
  const because = hidden ?? bootLoaderBecause(subject, processor);
  store.set('image.bootLoaderIncluded', isMarker(because) ? because : because !== null, derived);
  store.set(
    'image.bootLoaderBecause',
    because ?? new Absent('nothing in the file says that it holds a boot loader'),
    derived,
  );
}

function bootLoaderBecause(
  { decoded, resolved, area, processor: said }: ProgramSubject,
  processor: Processor | null,
): string | null | Unseen | Absent {
  const { details, map } = decoded;
  if (details.kind === 'esp-image')
    return details.partitionTableAt === null
      ? null
      : `a partition table stands at byte ${details.partitionTableAt} of the file`;
  const loader = areaFact(resolved, 'loader');
  if (isMarker(loader)) return loader;
  if (isMarker(area)) return area;
  if (decoded.encoding !== 'raw')
    return map.inside(loader.start, loader.end).length > 0 && map.inside(area.start, area.end).length > 0
      ? `it has bytes for the place of the boot loader (${hex(loader.start)} to ${hex(loader.end)}) as well as for the program`
      : null;
  if (processor === null) return isMarker(said) ? said : null;
  const inLoader = ({ reset }: VectorTable): boolean =>
    codeAddress(reset) >= loader.start && codeAddress(reset) < loader.end;
  const [first, ...rest] = findVectorTables(map, processor);
  const second = rest.find(
    ({ table: { reset } }) => codeAddress(reset) >= area.start && codeAddress(reset) < area.end,
  );
  return first !== undefined && first.offset <= processor.vectorOffset && inLoader(first.table) && second
    ? `its first vector table points into the boot loader's place, and a second one stands ${hex(second.offset)} bytes further in`
    : null;
}
