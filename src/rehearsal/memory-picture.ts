import type { AddressRange, MemoryMap } from '../firmware/memory-map.js';

/** What a stretch of the board's memory holds after the flash. */
export type RegionKind =
  | 'boot-loader'
  /** Bytes of the update file. */
  | 'program'
  /** Part of the program's place that the file does not fill: erased, or left over from before. */
  | 'rest'
  | 'settings'
  /** The profile says nothing about it. */
  | 'other';

/** One stretch of memory. Stretches ascend and do not overlap. */
export interface Region {
  readonly kind: RegionKind;
  readonly start: number;
  readonly end: number;
  /** What the new program was written over, where it has no business. */
  readonly over: 'boot-loader' | 'settings' | null;
  /** Separate pieces of the program, when they are too many to be shown one by one; else 1. */
  readonly pieces: number;
}

/** The areas of the memory as the profile and the processor name them. */
export interface Areas {
  readonly loader: AddressRange | null;
  readonly application: AddressRange | null;
  readonly settings: readonly AddressRange[];
}

/** Pieces of a program that are shown one by one. */
export const mostPieces = 12;

/** The memory of the board after the flash, as far as it is known, from the lowest address to the highest. */
export function memoryPicture(map: MemoryMap, { loader, application, settings }: Areas): Region[] {
  const isMany = map.ranges.length > mostPieces;
  const program: readonly AddressRange[] =
    isMany && map.start !== null && map.end !== null ? [{ start: map.start, end: map.end }] : map.ranges;
  const named = [...(loader ? [loader] : []), ...(application ? [application] : []), ...settings];
  const cuts = [...new Set([...program, ...named].flatMap(({ start, end }) => [start, end]))].sort(
    (a, b) => a - b,
  );
  const holds = (areas: readonly AddressRange[], start: number): boolean =>
    areas.some((area) => start >= area.start && start < area.end);
  const regions: Region[] = [];
  for (const [at, start] of cuts.slice(0, -1).entries()) {
    const end = cuts[at + 1]!;
    const isLoader = loader !== null && holds([loader], start);
    const isSettings = holds(settings, start);
    const isProgram = holds(program, start);
    const kind: RegionKind = isProgram
      ? 'program'
      : isSettings
        ? 'settings'
        : isLoader
          ? 'boot-loader'
          : application !== null && holds([application], start)
            ? 'rest'
            : 'other';
    const over = !isProgram ? null : isLoader ? 'boot-loader' : isSettings ? 'settings' : null;
    const last = regions.at(-1);
    if (last && last.kind === kind && last.over === over && kind !== 'settings')
      regions[regions.length - 1] = { ...last, end };
    else regions.push({ kind, start, end, over, pieces: isProgram && isMany ? map.ranges.length : 1 });
  }
  return regions;
}
