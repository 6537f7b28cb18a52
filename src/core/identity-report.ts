import { machinesText } from '../board/choose.js';
import {
  type Candidate,
  type Identity,
  identify,
  type Manifest,
  nearMiss,
  nearMissText,
} from '../board/manifest.js';
import { findMarkers } from '../board/markers.js';
import type { Build, MemoryArea, Profile } from '../board/profile.js';
import { resolveProfile } from '../board/resolve.js';
import { joined } from '../board/validate.js';
import type { Digests } from '../bytes/digests.js';
import { limits } from '../bytes/limits.js';
import { sizeText } from '../bytes/size-text.js';
import { knownBuild } from '../facts/collect-identity.js';
import type { Decoded } from '../firmware/encodings/encoding.js';
import { detectEncodings, encodingOf, encodingsByName } from '../firmware/encodings/registry.js';
import { type LookAlike, lookAlike } from '../firmware/look-alike.js';
import { hasVectorTable, type Processor } from '../firmware/processors.js';
import { findVectorTables, type VectorTableCandidate } from '../firmware/vector-table.js';
import type {
  IdentityEncoding,
  IdentityMemory,
  IdentityReport,
  IdentityVerdict,
} from '../report/identity.js';
import { hex } from '../rules/functions.js';

/** A file, and what it may be compared with. */
export interface IdentitySubject {
  readonly path: string;
  /** Size of the file in bytes. */
  readonly size: number;
  /** All of its bytes; only the first ones when it is larger than `limits.updateFileBytes`. */
  readonly bytes: Uint8Array;
  readonly profile: Profile | null;
  /** The processor that the profile names, where it is known. */
  readonly processor: Processor | null;
  readonly manifest: Manifest | null;
  readonly candidates: readonly Candidate[];
  readonly digests: Digests;
  readonly version: string;
  readonly inputs: IdentityReport['inputs'];
  /** What was given as `--board`, to be named in advice. */
  readonly board: string | null;
}

/** What a firmware file is, by its bytes alone. Its name only says what it was meant to be. Nothing is judged. */
export function identityReport(subject: IdentitySubject): IdentityReport {
  const { path, size, bytes, profile, manifest } = subject;
  const isWhole = bytes.length === size;
  const look = lookAlike(bytes, size);
  const detected = isWhole ? detectEncodings(bytes)[0] : undefined;
  const file = { path, bytes: size, ...digestsOf(subject, isWhole) };
  const identity =
    manifest !== null && file.sha256 !== null
      ? identify({ sha256: file.sha256, bytes: size }, manifest)
      : null;
  const buildId = knownBuild(identity, profile);
  const build = buildsOf(profile).find((one) => one.id === buildId) ?? null;
  const { decoded, placedBy } =
    detected === undefined
      ? { decoded: null, placedBy: null }
      : decodePlaced(subject, detected.encoding.id, build);
  const tables = decoded === null ? [] : vectorTables(decoded, subject.processor);
  const markers = markersOf(profile, decoded);
  const miss =
    isWhole && identity?.state === 'unknown' && detected !== undefined
      ? nearMiss(bytes, subject.candidates)
      : null;
  const verdict: IdentityVerdict =
    buildId !== null ? 'known' : detected === undefined ? 'not-firmware' : 'unknown';
  const releaseFile = identity?.state === 'known' ? identity.file : null;
  const known: Known = {
    verdict,
    look,
    identity,
    build,
    miss: miss === null ? null : nearMissText(miss),
    markers,
  };
  return {
    schema: 'flashworthy-identity/1',
    tool: { name: 'flashworthy', version: subject.version },
    file,
    board: profile === null ? null : { id: profile.id, title: profile.title, revision: profile.revision },
    inputs: subject.inputs,
    verdict,
    text: verdictText(subject, known),
    looksLike: look === null ? null : { code: look.code, what: look.what },
    encoding:
      decoded === null || detected === undefined || detected.confidence === 'no'
        ? null
        : encodingPart(path, decoded, detected.confidence, detected.because),
    memory: decoded === null ? null : memoryPart(decoded, placedBy),
    vectors:
      tables[0] === undefined || placedBy === null
        ? vectorsWithoutPlace(tables[0])
        : {
            at: tables[0].table.at,
            initialStack: tables[0].table.initialStack,
            resetVector: tables[0].table.reset,
          },
    build:
      build === null || profile === null
        ? null
        : { id: build.id, title: build.title, machines: machinesText(profile, build) },
    release: releaseFile === null ? null : (manifest?.release ?? null),
    releaseFile: releaseFile === null ? null : { path: releaseFile.path, role: releaseFile.role },
    nearMiss: known.miss,
    markers,
    notes: notesOf(subject, file.crc32, decoded, placedBy, tables, known),
    next: nextText(subject, known),
  };
}

interface Known {
  readonly verdict: IdentityVerdict;
  readonly look: LookAlike | null;
  readonly identity: Identity | null;
  readonly build: Build | null;
  readonly miss: string | null;
  readonly markers: IdentityReport['markers'];
}

const buildsOf = (profile: Profile | null): readonly Build[] =>
  profile?.builds === undefined || profile.builds === 'any' ? [] : profile.builds;

function digestsOf(
  { bytes, digests }: IdentitySubject,
  isWhole: boolean,
): { crc32: string | null; sha256: string | null } {
  if (!isWhole) return { crc32: null, sha256: null };
  const [sha256, crc32] = [digests.sha256(), digests.crc32()];
  sha256.update(bytes);
  crc32.update(bytes);
  return { crc32: crc32.hex(), sha256: sha256.hex() };
}

// ---- the program --------------------------------------------------------------------------------------------

/** Decodes the file at the address where it will stand, as far as that can be known. */
function decodePlaced(
  { bytes, profile, digests, processor }: IdentitySubject,
  id: IdentityEncoding['id'],
  build: Build | null,
): { decoded: Decoded; placedBy: IdentityMemory['by'] | null } {
  const sha256 = (content: Uint8Array): string => {
    const digest = digests.sha256();
    digest.update(content);
    return digest.hex();
  };
  const encoding = encodingOf(id);
  const hint = { sha256, ...(processor?.uf2Family == null ? {} : { uf2Family: processor.uf2Family }) };
  const decoded = encoding.decode(bytes, hint);
  if (id !== 'raw') return { decoded, placedBy: 'file' };
  const place = profile === null ? null : placeOf(profile, decoded, build, processor);
  return place === null
    ? { decoded, placedBy: null }
    : { decoded: encoding.decode(bytes, { ...hint, loadAddress: place.start }), placedBy: place.by };
}

/**
 * Where the loader of some machine puts a file that names no address: the only place that there is, that of the machines
 * for which the build is made, or the only one that fits the vectors.
 */
function placeOf(
  profile: Profile,
  decoded: Decoded,
  build: Build | null,
  processor: Processor | null,
): { start: number; by: 'profile' | 'vectors' } | null {
  const answers = Object.fromEntries(
    Object.entries(build?.for ?? {}).flatMap(([axis, range]) =>
      typeof range === 'string' && /^\w+$/.test(range) && axis !== 'installed' ? [[axis, range]] : [],
    ),
  );
  const { application } = resolveProfile(profile, { answers }).memory;
  if (typeof application === 'object') return { start: application.start, by: 'profile' };
  const areas: readonly MemoryArea[] = Array.isArray(profile.memory.application)
    ? profile.memory.application
    : [];
  const base = vectorTables(decoded, processor)[0]?.linkBase;
  const fitting = [...new Set(areas.map(({ start }) => start))].filter(
    (start) => base != null && start >= base.min && start <= base.max,
  );
  return fitting.length === 1 ? { start: fitting[0]!, by: 'vectors' } : null;
}

function vectorTables(decoded: Decoded, processor: Processor | null): VectorTableCandidate[] {
  if (processor !== null && !hasVectorTable(processor)) return [];
  return findVectorTables(decoded.map, processor);
}

/** Of a file that names no address only what stands in the vectors is known, not where they stand. */
const vectorsWithoutPlace = (first: VectorTableCandidate | undefined): IdentityReport['vectors'] =>
  first === undefined
    ? null
    : { at: null, initialStack: first.table.initialStack, resetVector: first.table.reset };

function encodingPart(
  path: string,
  decoded: Decoded,
  confidence: IdentityEncoding['confidence'],
  because: string,
): IdentityEncoding {
  const byName = encodingsByName(path);
  return {
    id: decoded.encoding,
    title: encodingOf(decoded.encoding).title,
    confidence,
    because,
    byName: byName.map((id) => encodingOf(id).title),
    nameDiffers: byName.length > 0 && !byName.includes(decoded.encoding),
    whole: decoded.whole,
    problems: decoded.problems.slice(0, limits.listed).map(({ code, text, at }) => ({ code, text, at })),
    problemsTotal: decoded.problemsTotal,
  };
}

function memoryPart({ map }: Decoded, by: IdentityMemory['by'] | null): IdentityMemory | null {
  if (map.start === null || map.end === null || by === null) return null;
  const ranges = map.ranges;
  return {
    start: map.start,
    end: map.end,
    bytes: map.byteCount,
    segments: ranges.slice(0, limits.listed).map(({ start, end }) => ({ start, end })),
    segmentsTotal: ranges.length,
    by,
  };
}

function markersOf(profile: Profile | null, decoded: Decoded | null): IdentityReport['markers'] {
  const isHidden = decoded?.encoding === 'scrambled' || decoded?.encoding === 'packed-gzip';
  if (profile === null || decoded === null || isHidden) return null;
  const found = findMarkers(profile, decoded.map, undefined);
  const builds = buildsOf(profile);
  return {
    builds: found.builds.map((id) => ({ id, title: builds.find((one) => one.id === id)?.title ?? id })),
    siblings: found.siblings.map(({ id, title }) => ({ id, title })),
  };
}

// ---- words --------------------------------------------------------------------------------------------------

function verdictText(
  { size, manifest, profile, bytes }: IdentitySubject,
  { verdict, look, identity, build, miss }: Known,
): string {
  const file = identity?.state === 'known' ? identity.file : null;
  const release = manifest === null ? '' : ` of release ${manifest.release}`;
  if (verdict === 'known') return `is ${file?.path}${release}${build === null ? '' : `: ${build.title}`}`;
  const published = file === null ? '' : `; it is ${file.path}${release}, published as a ${file.role}`;
  if (verdict === 'not-firmware') {
    if (look !== null) return `is ${look.what}, not firmware${published}`;
    return bytes.length < size
      ? `is larger than ${sizeText(limits.updateFileBytes)}, which no firmware file is`
      : `is no firmware${published}`;
  }
  if (look?.code === 'gzip' && published === '' && miss === null)
    return 'is packed with gzip; what is inside was not looked at';
  if (published !== '') return `may be firmware, but no build for the card${published}`;
  if (miss !== null) return `is no published build: it ${miss}`;
  if (manifest !== null) return `may be firmware, but equals no file${release}`;
  return profile?.builds === 'any'
    ? 'may be firmware; this board takes every build, so there is none to compare it with'
    : 'may be firmware; which build it is cannot be said without a release to compare it with';
}

/** CRC-32 of anything that ends with its own CRC-32 in little-endian order (residue of CRC-32/ISO-HDLC, complemented). */
const ownCrc32 = '2144df1c';

function notesOf(
  { profile }: IdentitySubject,
  crc32: string | null,
  decoded: Decoded | null,
  placedBy: IdentityMemory['by'] | null,
  tables: readonly VectorTableCandidate[],
  { verdict, build, markers }: Known,
): string[] {
  const notes: string[] = [];
  if (crc32 === ownCrc32)
    notes.push(
      'The file ends with its own CRC-32, and every such file has the CRC-32 2144df1c: compare the SHA-256 instead.',
    );
  if (decoded === null) return notes;
  notes.push(...detailNotes(decoded));
  const [first, ...others] = tables;
  if (first !== undefined && placedBy === null && first.linkBase !== null)
    notes.push(
      `The file names no address. By its vectors it was linked for an address from ${hex(first.linkBase.min)} to ${hex(first.linkBase.max)}.`,
    );
  if (others.length > 0)
    notes.push(
      `Another vector table seems to stand ${sizeText(others[0]!.offset - (first?.offset ?? 0))} further in: a boot loader may stand before the program.`,
    );
  if (markers === null || profile === null) return notes;
  const titles = markers.builds.map(({ id, title }) => `${id} (${title})`);
  if (verdict === 'unknown' && titles.length > 0)
    notes.push(`By the marker in it, it seems to be ${joined(titles, 'or')}. A marker proves nothing.`);
  if (build?.marker !== undefined && !markers.builds.some(({ id }) => id === build.id))
    notes.push(
      `The marker of ${build.id} is not in it${titles.length > 0 ? `, but that of ${joined(titles, 'and')}` : ''}.`,
    );
  for (const { title } of markers.siblings) notes.push(`It holds the marker of another board: ${title}.`);
  return notes;
}

/** What only one encoding has to tell. */
function detailNotes({ details }: Decoded): string[] {
  switch (details.kind) {
    case 'uf2': {
      const names = details.families.map(({ id, name, blocks }) =>
        id === null ? `none (${blocks} blocks)` : `${name ?? 'unknown'} ${hex(id)} (${blocks} blocks)`,
      );
      return names.length === 0 ? [] : [`UF2 families: ${names.slice(0, limits.listed).join(', ')}.`];
    }
    case 'elf':
      return [
        `Built for ${details.machine.name ?? `machine number ${details.machine.number}`}, ${details.class} bits. Boot loaders hardly ever take ELF files.`,
      ];
    case 'esp-image':
      return details.chipId === null
        ? []
        : [`Made for the chip ${details.chip ?? `with the id ${details.chipId}`}.`];
    case 'scrambled':
      return ['It looks scrambled or packed: nothing about the program inside can be seen.'];
    case 'intel-hex':
    case 's-record':
      return details.header === null || details.header === '' ? [] : [`Its header says: ${details.header}`];
    case 'raw':
      return details.suffix === null
        ? []
        : [
            'A suffix for USB upgrades (DFU) stands at its end; a loader for cards would write it as program.',
          ];
    default:
      return [];
  }
}

const archives = ['zip', 'gzip', 'xz', '7z', 'rar', 'bzip2', 'zstd', 'tar'];
const pages = ['web-page', 'lfs-pointer'];
const blanks = ['empty', 'all-ones', 'all-zero', 'blank-head'];

function nextText(
  { board, path, manifest, profile }: IdentitySubject,
  { verdict, look, miss, identity }: Known,
): IdentityReport['next'] {
  const say = (text: string, command: string | null = null): IdentityReport['next'] => ({ text, command });
  const code = look?.code ?? '';
  if (verdict === 'known')
    return board === null
      ? null
      : say('Whether it is the one for your machine:', `flashworthy choose ${quoted(board)}`);
  // A companion or a note of the release is what it ought to be.
  if (identity?.state === 'known') return null;
  if (code === 'card-image') return say('To check it as a card:', `flashworthy check ${quoted(path)}`);
  if (code === 'gzip')
    return say('If a card is inside, check it as it is:', `flashworthy check ${quoted(path)}`);
  if (archives.includes(code)) return say('Unpack it and look at what was inside.');
  if (pages.includes(code)) return say('Download the file itself, not the page about it.');
  if (miss !== null || blanks.includes(code)) return say('Download it again and compare the SHA-256.');
  if (verdict === 'unknown' && manifest === null && profile?.builds !== 'any')
    return say('To learn which build it is, name the release folder with --board.');
  return null;
}

const quoted = (word: string): string => (/^[\w./:=@%+,-]+$/.test(word) ? word : `"${word}"`);
