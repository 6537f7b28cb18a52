import type { AddressRange, MemoryMap } from '../firmware/memory-map.js';
import { hasVectorTable, isStackInRam, type Processor } from '../firmware/processors.js';
import { codeAddress, looksLikeVectorTable, readVectors } from '../firmware/vector-table.js';

/** Where the processor would take its first instruction from, and what stands there. */
export interface FirstFetch {
  /** Address of the vector table. */
  readonly vectorsAt: number;
  /** First word of it: where the stack begins. */
  readonly initialStack: number;
  /** Second word of it, with bit 0. */
  readonly resetVector: number;
  readonly stackInRam: boolean;
  /** Bit 0 of the reset vector is set, without which a Cortex-M stops at once (ARM DDI 0403, B1.5). */
  readonly thumb: boolean;
  /** Address of the first instruction. */
  readonly address: number;
  /** The first two halfwords there, as numbers of four hexadecimal digits; null when the file fills nothing there. */
  readonly halfwords: readonly string[] | null;
  /** What the reset vector points at. */
  readonly target: 'program' | 'blank' | 'not-written' | 'boot-loader' | 'ram' | 'nowhere';
}

/** The areas of the board's memory that are known. */
export interface KnownAreas {
  readonly application: AddressRange | null;
  readonly loader: AddressRange | null;
}

/**
 * What a Cortex-M does first with this program. Null when no byte of the program lies where it looks for the vector
 * table, or the processor starts in another way.
 */
export function firstFetch(map: MemoryMap, processor: Processor, areas: KnownAreas): FirstFetch | null {
  const start = areas.application?.start ?? map.start;
  if (start === null || !hasVectorTable(processor)) return null;
  const head = map.read(start, 16);
  // Programs for a boot loader may do without the second boot stage of an RP2040.
  const isDirect = processor.vectorOffset === 0 || (head !== null && looksLikeVectorTable(head));
  const vectorsAt = isDirect ? start : start + processor.vectorOffset;
  const table = readVectors(map, vectorsAt);
  if (table === null) return null;
  const address = codeAddress(table.reset);
  const code = map.read(address, 4);
  return {
    vectorsAt,
    initialStack: table.initialStack,
    resetVector: table.reset,
    stackInRam: isStackInRam(processor, table.initialStack),
    thumb: table.reset % 2 === 1,
    address,
    halfwords: code && [halfword(code, 0), halfword(code, 2)],
    target: targetOf(address, code, processor, areas),
  };
}

const halfword = (bytes: Uint8Array, at: number): string =>
  (bytes[at]! + bytes[at + 1]! * 256).toString(16).toUpperCase().padStart(4, '0');

function targetOf(
  address: number,
  code: Uint8Array | null,
  processor: Processor,
  { application, loader }: KnownAreas,
): FirstFetch['target'] {
  const isIn = (areas: readonly AddressRange[]): boolean =>
    areas.some(({ start, end }) => address >= start && address < end);
  if (code !== null)
    return code.every((byte) => byte === code[0]! && (byte === 0 || byte === 0xff)) ? 'blank' : 'program';
  if (loader && isIn([loader])) return 'boot-loader';
  if ((application && isIn([application])) || isIn(processor.flash)) return 'not-written';
  return isIn(processor.ram) ? 'ram' : 'nowhere';
}
