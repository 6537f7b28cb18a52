import { limits } from '../bytes/limits.js';
import { crcOf } from './checksums.js';
import { type AddressRange, alignUp, type MemoryMap } from './memory-map.js';
import type { Processor } from './processors.js';

/**
 * The vector table of Cortex-M: initial stack pointer, reset vector, exceptions. Source: ARM DDI 0403 (ARMv7-M)
 * B1.5, as the processors' reference manuals repeat it ("Vector Table").
 */
const exceptionNames: Readonly<Record<number, string>> = {
  1: 'Reset',
  2: 'NMI',
  3: 'HardFault',
  4: 'MemManage',
  5: 'BusFault',
  6: 'UsageFault',
  11: 'SVCall',
  12: 'DebugMonitor',
  14: 'PendSV',
  15: 'SysTick',
};

/** Words before the first interrupt of a peripheral. */
const coreWords = 16;
/** Least alignment of a table: 32 words on ARMv7-M, where bits of the offset register begin at 7. */
const tableAlignment = 128;

/** One exception vector as it stands in the image. */
export interface Vector {
  readonly index: number;
  readonly name: string;
  /** The word as written, with bit 0. 0 for an unused one. */
  readonly value: number;
}

/** The first words of a vector table, and their shape. Nothing is judged here. */
export interface VectorTable {
  /** Address of word 0. */
  readonly at: number;
  readonly initialStack: number;
  /** Reset vector as written, with bit 0. */
  readonly reset: number;
  /** Vectors 1 to 15 without the reserved ones, as far as the image goes. */
  readonly vectors: readonly Vector[];
  /** Largest power of two up to 8 of which the stack pointer is a multiple. */
  readonly stackAlignment: 1 | 2 | 4 | 8;
  /** Vectors that are used and have bit 0 clear: the processor takes a fault there instead. */
  readonly withoutThumbBit: readonly Vector[];
  /** Sum of words 0 to 7 modulo 2^32, 0 for a program that the ROM of LPC parts starts; null for a shorter image. */
  readonly wordSum: number | null;
}

const wordAt = (bytes: Uint8Array, at: number): number =>
  bytes[at]! + bytes[at + 1]! * 2 ** 8 + bytes[at + 2]! * 2 ** 16 + bytes[at + 3]! * 2 ** 24;

const isOdd = (value: number): boolean => value % 2 === 1;
/** The address that a vector points at: bit 0 says "Thumb" and is no part of it. */
export const codeAddress = (vector: number): number => vector - (vector % 2);

function tableFrom(bytes: Uint8Array, at: number): VectorTable | null {
  if (bytes.length < 8) return null;
  const initialStack = wordAt(bytes, 0);
  const vectors: Vector[] = [];
  for (const [key, name] of Object.entries(exceptionNames)) {
    const index = Number(key);
    if (index * 4 + 4 <= bytes.length) vectors.push({ index, name, value: wordAt(bytes, index * 4) });
  }
  const stackAlignment = ([8, 4, 2] as const).find((step) => initialStack % step === 0) ?? 1;
  return {
    at,
    initialStack,
    reset: wordAt(bytes, 4),
    vectors,
    stackAlignment,
    withoutThumbBit: vectors.filter(({ value }) => value !== 0 && !isOdd(value)),
    wordSum: bytes.length >= 32 ? wordSum(bytes) : null,
  };
}

function wordSum(bytes: Uint8Array): number {
  let sum = 0;
  for (let at = 0; at < 32; at += 4) sum = (sum + wordAt(bytes, at)) % 2 ** 32;
  return sum;
}

/** The vector table at an address, or null when the first two words are not there. Fewer than 16 words are fine. */
export function readVectors(map: MemoryMap, at: number): VectorTable | null {
  const segment = map.segmentAt(at);
  if (!segment) return null;
  const from = at - segment.start;
  return tableFrom(segment.bytes.subarray(from, from + coreWords * 4), at);
}

/** Vectors that are used and point at none of these stretches of memory. */
export function vectorsOutside(table: VectorTable, ranges: readonly AddressRange[]): Vector[] {
  return table.vectors.filter(({ value }) => {
    const address = codeAddress(value);
    return value !== 0 && !ranges.some(({ start, end }) => address >= start && address < end);
  });
}

/**
 * What word 7 must be for the ROM of LPC parts to start a program: the two's complement of the sum of words 0 to 6.
 * Source: NXP UM10360, 32.3.1.1 "Criterion for Valid User Code".
 */
export function lpcWordSeven(words: readonly number[]): number {
  const sum = words.slice(0, 7).reduce((total, word) => (total + word) % 2 ** 32, 0);
  return (2 ** 32 - sum) % 2 ** 32;
}

/** Checksum of the second boot stage of an RP2040, which its ROM wants right before it leaves the stage to run. */
export interface SecondStage {
  readonly written: number;
  readonly computed: number;
}

/** The first 256 bytes of an RP2040 program: CRC-32/MPEG-2 of 252 bytes behind them. Null when they are not there. */
export function rp2040SecondStage(map: MemoryMap, at: number): SecondStage | null {
  const stage = map.read(at, 256);
  return stage && { written: wordAt(stage, 252), computed: crcOf('crc-32/mpeg-2', stage.subarray(0, 252)) };
}

/** Where stack and code of any Cortex-M may lie; used when the processor is not known. */
const anyRam: readonly AddressRange[] = [{ start: 0x10000000, end: 0x40000000 }];
const anyCode: readonly AddressRange[] = [
  0, 0x00080000, 0x00400000, 0x08000000, 0x10000000, 0x20000000, 0x60000000, 0xa0000000,
].flatMap((start, i, all) => {
  const end = all[i + 1];
  // Cut where the flash of common families begins; between 0x20000000 and 0x60000000 lie RAM and peripherals.
  return end === undefined || start === 0x20000000 ? [] : [{ start, end }];
});

const holds = (ranges: readonly AddressRange[], address: number): boolean =>
  ranges.some(({ start, end }) => address >= start && address < end);
/** A stack that grows downwards may begin at the end of memory, not at its start. */
const stackFits = (ranges: readonly AddressRange[], address: number): boolean =>
  ranges.some(({ start, end }) => address > start && address <= end);

const isTable = (
  bytes: Uint8Array,
  from: number,
  ram: readonly AddressRange[],
  code: readonly AddressRange[],
): boolean => {
  if (from + 16 > bytes.length) return false;
  const stack = wordAt(bytes, from);
  if (stack % 4 !== 0 || !stackFits(ram, stack)) return false;
  const points = (at: number): boolean => {
    const value = wordAt(bytes, at);
    return isOdd(value) && holds(code, codeAddress(value));
  };
  const unused = (at: number): boolean => wordAt(bytes, at) === 0;
  return (
    points(from + 4) && (points(from + 8) || unused(from + 8)) && (points(from + 12) || unused(from + 12))
  );
};

/** True when the first 16 bytes may be the vector table of some Cortex-M: a stack in RAM, odd vectors in code memory. */
export const looksLikeVectorTable = (bytes: Uint8Array): boolean => isTable(bytes, 0, anyRam, anyCode);

/** A place in the image that looks like a vector table. */
export interface VectorTableCandidate {
  readonly table: VectorTable;
  /** Bytes from the lowest address of the program to the table. */
  readonly offset: number;
  /**
   * Addresses at which the table may have been linked, lowest and highest: all used vectors must point into the bytes
   * that follow it. Null when no such address exists in flash.
   */
  readonly linkBase: { readonly min: number; readonly max: number } | null;
  /** Of these, the start of flash and the addresses a power of two behind it. */
  readonly likelyBases: readonly number[];
}

/**
 * Places that look like a vector table, at most `limits.listed`: every 128 bytes, since loaders of 28 KiB are as common
 * as those of 32. The first is the program's own; one more further in means that a boot loader stands before it, or
 * that the file was made for a loader that skips its head. `processor` null: any Cortex-M.
 */
export function findVectorTables(map: MemoryMap, processor: Processor | null): VectorTableCandidate[] {
  const ram = processor ? processor.ram : anyRam;
  const code = processor ? processor.flash : anyCode;
  const found: VectorTableCandidate[] = [];
  const lowest = map.start ?? 0;
  for (const { start, bytes } of map.segments) {
    const firstAligned = alignUp(start, tableAlignment) - start;
    // The first word of a segment counts wherever it lies: the loader may not have been told the right address.
    for (
      let from = 0;
      from + 16 <= bytes.length;
      from = from < firstAligned ? firstAligned : from + tableAlignment
    ) {
      if (!isTable(bytes, from, ram, code)) continue;
      const at = start + from;
      const table = tableFrom(bytes.subarray(from, from + coreWords * 4), at)!;
      // Further in, two vectors of nothing are too little to tell a table from data.
      if (from > 0 && table.vectors.filter(({ index, value }) => index <= 3 && value !== 0).length < 2)
        continue;
      found.push({ table, offset: at - lowest, ...linkBases(table, bytes.length - from, code) });
      if (found.length >= limits.listed) return found;
    }
  }
  return found;
}

function linkBases(
  table: VectorTable,
  length: number,
  code: readonly AddressRange[],
): Pick<VectorTableCandidate, 'linkBase' | 'likelyBases'> {
  const targets = table.vectors.filter(({ value }) => isOdd(value)).map(({ value }) => codeAddress(value));
  const low = Math.min(...targets);
  const high = Math.max(...targets);
  const flash = code.find(({ start, end }) => low >= start && low < end);
  if (!flash) return { linkBase: null, likelyBases: [] };
  const min = Math.max(flash.start, alignUp(high - length + 1, tableAlignment));
  const max = low - (low % tableAlignment);
  if (min > max) return { linkBase: null, likelyBases: [] };
  const likelyBases: number[] = [];
  if (flash.start >= min) likelyBases.push(flash.start);
  for (let step = tableAlignment; flash.start + step <= max; step *= 2)
    if (flash.start + step >= min) likelyBases.push(flash.start + step);
  return { linkBase: { min, max }, likelyBases };
}
