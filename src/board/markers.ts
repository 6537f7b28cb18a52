import { limits } from '../bytes/limits.js';
import type { MemoryMap } from '../firmware/memory-map.js';
import type { Marker, Profile } from './profile.js';

/** Whose marker texts stand in a program. */
export interface MarkersFound {
  /** Ids of builds in the order of the profile. */
  readonly builds: readonly string[];
  /** Other boards, in the order of the profile. */
  readonly siblings: readonly { readonly id: string; readonly title: string }[];
}

interface Searched {
  readonly marker: Marker;
  readonly pattern: Uint8Array;
  readonly places: number[];
}

/**
 * Looks for the markers of the builds and of sibling boards in a program. A marker with `at` must stand at that offset
 * from the start of the program, or from the start of the application area. One that is only found as a part of a longer
 * marker counts for the longer one.
 * @param applicationStart first address of the application area, where it is known
 */
export function findMarkers(
  profile: Profile,
  map: MemoryMap,
  applicationStart: number | undefined,
): MarkersFound {
  const builds = profile.builds === undefined || profile.builds === 'any' ? [] : profile.builds;
  const siblings = profile.siblings === undefined || profile.siblings === 'any' ? [] : profile.siblings;
  const byBuild = builds.map((build) => (build.marker ? searched(build.marker) : null));
  const bySibling = siblings.map((sibling) => searched(sibling.marker));
  const all = [...byBuild, ...bySibling].filter((one) => one !== null);
  search(all, map, applicationStart);
  const isFound = (one: Searched | null): boolean =>
    one?.places.some((place) => !isPartOfLonger(one, place, all)) === true;
  return {
    builds: builds.flatMap((build, index) => (isFound(byBuild[index]!) ? [build.id] : [])),
    siblings: siblings.flatMap(({ id, title }, index) =>
      isFound(bySibling[index]!) ? [{ id, title: title ?? id }] : [],
    ),
  };
}

function searched(marker: Marker): Searched {
  return { marker, pattern: Uint8Array.from(marker.text, (letter) => letter.charCodeAt(0)), places: [] };
}

/** One pass over the program for all markers that may stand anywhere. */
function search(all: readonly Searched[], map: MemoryMap, applicationStart: number | undefined): void {
  const byFirst = new Map<number, Searched[]>();
  for (const one of all) {
    const { at } = one.marker;
    if (at === undefined) {
      const first = one.pattern[0]!;
      byFirst.set(first, [...(byFirst.get(first) ?? []), one]);
      continue;
    }
    for (const start of new Set([map.start, applicationStart]))
      if (typeof start === 'number' && stands(one.pattern, map.read(start + at, one.pattern.length), 0))
        one.places.push(start + at);
  }
  for (const { start, bytes } of map.segments)
    for (const [first, markers] of byFirst)
      for (let at = bytes.indexOf(first); at !== -1; at = bytes.indexOf(first, at + 1))
        for (const one of markers)
          if (one.places.length < limits.markerPlaces && stands(one.pattern, bytes, at))
            one.places.push(start + at);
}

function stands(pattern: Uint8Array, bytes: Uint8Array | null, at: number): boolean {
  if (bytes === null || at + pattern.length > bytes.length) return false;
  // A text outside ASCII has become zeros or other bytes; it is then found nowhere or by accident alone.
  for (let index = 0; index < pattern.length; index++) if (bytes[at + index] !== pattern[index]) return false;
  return true;
}

function isPartOfLonger(one: Searched, place: number, all: readonly Searched[]): boolean {
  const end = place + one.pattern.length;
  return all.some(
    (other) =>
      other.pattern.length > one.pattern.length &&
      other.places.some((start) => start <= place && start + other.pattern.length >= end),
  );
}
