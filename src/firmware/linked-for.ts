import { type AddressRange, alignUp, type MemoryMap } from './memory-map.js';
import type { Processor } from './processors.js';
import { codeAddress, looksLikeVectorTable, readVectors, type VectorTable } from './vector-table.js';

/** Smallest step between addresses at which a vector table may lie: 32 words. */
const step = 128;

const holds = ({ start, end }: AddressRange, address: number): boolean => address >= start && address < end;
const isOdd = (value: number): boolean => value % 2 === 1;

/** Addresses in flash at which the used vectors of a table point, Thumb bit taken off. */
function flashTargets({ vectors }: VectorTable, { flash }: Processor): number[] {
  return vectors
    .filter(({ value }) => isOdd(value) && flash.some((region) => holds(region, codeAddress(value))))
    .map(({ value }) => codeAddress(value));
}

/** The address between two, both included, that is a multiple of the largest power of two. */
function mostAligned(min: number, max: number): number {
  for (let power = 2 ** 31; power >= step; power /= 2) {
    const candidate = alignUp(min, power);
    if (candidate <= max) return candidate;
  }
  return alignUp(min, step);
}

/** The word as it stands in memory, least significant byte first. */
const bytesOf = (word: number): Uint8Array =>
  Uint8Array.from([0, 8, 16, 24], (shift) => Math.floor(word / 2 ** shift) % 256);

/** Where a program should start, and what is known of other places. */
export interface LinkPlace {
  /** Address at which the processor looks for the vector table. */
  readonly at: number;
  /** The area that is meant for the program. */
  readonly area: AddressRange;
  /** Addresses at which programs for this board may start otherwise: areas of other boot loaders, start of flash. */
  readonly others: readonly number[];
}

/**
 * The address for which a program was linked, when that is not the place where it will lie; null when nothing says so.
 * A file that names addresses says it itself. Of plain bytes the vectors tell: they point into the program as the
 * linker placed it, so that the base lies within one length of them. Of several possible addresses the one that is
 * known for this board is meant, else the roundest.
 */
export function linkedFor(
  map: MemoryMap,
  processor: Processor,
  { at, area, others }: LinkPlace,
): number | null {
  const table = readVectors(map, at);
  const reset = table && codeAddress(table.reset);
  if (table === null || reset === null) return linkedWhereItLies(map, processor, at);
  const segment = map.segmentAt(at)!;
  const length = segment.start + segment.bytes.length - at;
  const targets = flashTargets(table, processor);
  if (!isOdd(table.reset) || targets.length === 0) return null;
  const low = Math.min(...targets);
  const high = Math.max(...targets);
  const fits = (base: number): boolean => low >= base && high < base + length;
  if (map.segmentAt(reset) !== null) {
    // A long program for a place further up may seem to fit here too; it then holds the address of its own table.
    const further = others.find((base) => base > at && fits(base) && map.find(bytesOf(base)) !== null);
    return further !== undefined && map.find(bytesOf(at)) === null ? further : null;
  }
  if (!targets.includes(reset)) return null;
  const known = others.find((base) => base !== at && fits(base));
  if (known !== undefined) return known;
  // All inside the area, though past the end of the file: it is cut short, or for elsewhere. Nobody can tell.
  if (targets.every((target) => holds(area, target))) return null;
  const flash = processor.flash.find((region) => holds(region, low));
  const min = Math.max(flash?.start ?? 0, alignUp(high - length + 1, step));
  const max = low - (low % step);
  return min <= max ? mostAligned(min, max) : null;
}

/** A file that names addresses, none of them the place where the vector table should be: its own start, if that has one. */
function linkedWhereItLies(map: MemoryMap, processor: Processor, at: number): number | null {
  const start = map.start;
  if (start === null) return null;
  for (const place of new Set([start + processor.vectorOffset, start])) {
    const head = map.read(place, 16);
    const table = readVectors(map, place);
    if (
      place !== at &&
      head &&
      looksLikeVectorTable(head) &&
      table &&
      map.segmentAt(codeAddress(table.reset))
    )
      return start;
  }
  return null;
}
