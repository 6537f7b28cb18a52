import { findMarkers } from '../board/markers.js';
import type { Build, Profile, ResolvedProfile } from '../board/profile.js';
import { latin1 } from '../bytes/cursor.js';
import { detectEncodings } from '../firmware/encodings/registry.js';
import { valuesOfKey } from '../firmware/key-values.js';
import { lookAlike } from '../firmware/look-alike.js';
import { looksLikeVectorTable } from '../firmware/vector-table.js';
import type { TreeEntry } from './file-tree.js';
import { isNamed, matchesPattern, splitPath, wantedFile } from './update-file-name.js';

/** A file of a release that is no declared part of it, and that somebody could take for a build. */
export interface Stray {
  /** What it is, in words: `an ELF file`. */
  readonly what: string;
  /** Ids of the builds whose marker stands in it. */
  readonly markers: readonly string[];
}

/** Forms of firmware that are told by a signature, in words with their article. */
const told: Readonly<Record<string, string>> = {
  elf: 'an ELF file, as compilers write it, with or without debug information',
  'intel-hex': 'an Intel HEX file',
  's-record': 'an S-record file',
  uf2: 'a UF2 file',
  dfuse: 'a DfuSe file',
  'esp-image': 'an ESP image',
};

/** Texts by which the lists that linkers and disassemblers write are known (GNU binutils). */
const listings: readonly (readonly [RegExp, string])[] = [
  [/^(?:Archive member included|Memory Configuration|Linker script and memory map)/m, 'the map of a linker'],
  [/^[^\n]*:\s+file format elf(?:32|64)-/m, 'the listing of a disassembler'],
];
/** Characters of a text in which those are looked for. */
const listingCharacters = 64 * 1024;
const arMark = '!<arch>\n';

/**
 * What a file is that belongs to no build and no companion; null when nobody would take it for firmware. Content
 * decides; the name counts only when it is one that the boot loader or an owner looks for.
 * @param boards the profile for every machine that it tells apart
 * @param bytes null: it is too large for firmware, so that only its name is left
 */
export function strayOf(
  entry: TreeEntry,
  bytes: Uint8Array | null,
  profile: Profile,
  boards: readonly ResolvedProfile[],
  builds: readonly Build[],
): Stray | null {
  const name = boards.map((board) => byName(entry, board, builds)).find((one) => one !== null) ?? null;
  const inside = bytes === null ? null : byContent(bytes, profile, builds);
  if (inside !== null) return inside;
  return name === null ? null : { what: name, markers: [] };
}

function byContent(bytes: Uint8Array, profile: Profile, builds: readonly Build[]): Stray | null {
  const look = lookAlike(bytes, bytes.length);
  if (look?.code === 'text') {
    const text = latin1(bytes.subarray(0, listingCharacters));
    const listing = listings.find(([pattern]) => pattern.test(text));
    return listing ? { what: listing[1], markers: [] } : null;
  }
  if (latin1(bytes.subarray(0, arMark.length)) === arMark)
    return { what: 'a library of compiled parts', markers: [] };
  // Pages, archives, pictures: they may quote a marker, and are no programs all the same.
  if (look !== null && look.code !== 'blank-head') return null;
  const surest = detectEncodings(bytes)[0];
  if (surest === undefined || surest.encoding.id === 'packed-gzip') return null;
  const decoded = surest.encoding.decode(bytes);
  const markers = findMarkers(profile, decoded.map, undefined);
  const releases = releasesIn(decoded.map, profile);
  const release = releases.length === 0 ? '' : `, of release ${releases.join(' or ')}`;
  const form = surest.confidence === 'possible' ? undefined : told[surest.encoding.id];
  if (markers.builds.length > 0) {
    const titles = markers.builds.map((id) => builds.find((build) => build.id === id)?.id ?? id);
    return {
      what: `${form ?? 'a program'} with the marker of the build ${titles.join(' or ')}${release}`,
      markers: markers.builds,
    };
  }
  const [sibling] = markers.siblings;
  if (sibling) return { what: `${form ?? 'a program'} for another board (${sibling.title})`, markers: [] };
  if (form !== undefined) return { what: form, markers: [] };
  return looksLikeVectorTable(bytes) || releases.length > 0
    ? { what: `a program for a processor${release}`, markers: [] }
    : null;
}

/** Releases that a program says it belongs to; empty when the profile does not say how it would. */
export function releasesIn(
  map: Parameters<typeof valuesOfKey>[0],
  { identity }: Pick<Profile, 'identity'>,
): string[] {
  const key = identity === undefined || identity === 'any' ? undefined : identity.release?.key;
  return key === undefined ? [] : valuesOfKey(map, key);
}

/** Why an owner could take a file for the update file by its name alone; null when nobody would. */
function byName(entry: TreeEntry, resolved: ResolvedProfile, builds: readonly Build[]): string | null {
  const wanted = wantedFile(resolved);
  const names = wanted?.places.map(({ name }) => name) ?? [];
  if (names.some((name) => isNamed(entry, name, resolved)))
    return 'a file with the very name for which the boot loader looks';
  if (wanted?.pattern && matchesPattern(entry, wanted.pattern, resolved))
    return 'a file with a name that the boot loader takes';
  const ending = endingOf(entry.name);
  const endings = builds.flatMap(({ files }) => files.map((path) => endingOf(splitPath(path).name)));
  return ending !== '' && endings.includes(ending) ? `a file whose name ends like that of a build` : null;
}

function endingOf(name: string): string {
  const at = name.lastIndexOf('.');
  return at < 1 ? '' : name.slice(at).toLowerCase();
}
