import { proveChoice } from '../board/axes-proof.js';
import { releaseNumbering } from '../board/check.js';
import type { Manifest, ManifestFile } from '../board/manifest.js';
import type { Profile } from '../board/profile.js';
import { compareValues, valueProblem } from '../board/ranges.js';
import { checksumsName, manifestName, readChecksums } from '../board/seal.js';
import { limits } from '../bytes/limits.js';
import { visible } from '../rules/visible.js';
import { Absent, FactList, type FactRecord, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import type { ReleaseFile, ReleaseFiles } from './release-files.js';
import type { ReleaseParts } from './release-parts.js';
import { foldCase } from './update-file-name.js';

/** One fault of a file of a build, as the facts hold it. */
export interface BuildFault {
  readonly path: string;
  readonly build: string;
  readonly found: string;
  readonly needed: string;
  /** Rule of a card that the file fails. */
  readonly rule?: string;
}

/** Lists of faults of builds: the last part of the path of their fact. */
export const faultLists = ['form', 'size', 'place', 'other', 'power', 'marker', 'number'] as const;
export type FaultList = (typeof faultLists)[number];

/** What the builds and companions of a release are when they are looked at one by one. */
export interface BuildFindings {
  readonly faults: Readonly<Record<FaultList, readonly BuildFault[]>>;
  readonly companions: readonly string[];
  /** Why a list may lack something. */
  readonly lost: Readonly<Partial<Record<FaultList | 'companions', Unseen>>>;
  /** Builds whose `for` holds on no machine. */
  readonly nowhere: readonly string[];
}

/** A release folder as it was read. */
export interface ReleaseFolder {
  readonly content: ReleaseFiles;
  /** Links and the like, each in a plain sentence. */
  readonly notFiles: readonly string[];
  readonly parts: ReleaseParts;
  /** What `manifest.json` says; null when there is none, `sealing` while it is being written. */
  readonly manifest: Manifest | null | 'sealing';
  /** The text of `SHA256SUMS`; null when there is none. */
  readonly checksums: string | null;
  /** The release that the folder is to hold, as the maintainer says; null when it was not said. */
  readonly stated: string | null;
}

const derived = { origin: 'derived' } as const;
const sentences = (texts: readonly string[], lost?: Unseen | null): FactList =>
  new FactList([...texts], lost ?? undefined);

/** Sets every `releaseFolder.*` fact. Nothing is judged here. */
export function collectReleaseFolder(
  store: FactStore,
  profile: Profile,
  folder: ReleaseFolder,
  findings: BuildFindings,
): void {
  const set = (name: string, value: FactValue): void => store.set(`releaseFolder.${name}`, value, derived);
  const { content, parts } = folder;
  const { files, lost } = content;
  set('read', lost ?? true);
  set('files', files.length);
  set('notFiles', sentences(folder.notFiles));
  set('names', new FactList(awkwardNames(files), lost ?? undefined));

  const release = folder.stated ?? (folder.manifest === 'sealing' ? null : folder.manifest?.release) ?? null;
  const unnamed = new Unseen(
    'not-told',
    'which release the folder holds was not told',
    'say it: --release RELEASE',
  );
  set('release', release ?? unnamed);
  set(
    'releaseAsNumbered',
    release === null ? unnamed : valueProblem(release, releaseNumbering(profile)) === undefined,
  );

  setBuilds(set, parts, findings, lost);
  setChoice(set, profile, parts);
  set('staleWaivers', sentences(staleWaivers(profile, release)));
  setManifest(set, profile, folder);
}

type Set = (name: string, value: FactValue) => void;

function setBuilds(set: Set, parts: ReleaseParts, findings: BuildFindings, lost: Unseen | null): void {
  const undeclared = parts.builds === null ? new Unseen('profile-silent', parts.whyNone, settleBuilds) : null;
  // Without a list of builds nothing tells a build from what could be taken for one.
  const open = undeclared ?? lost;
  set('declared', undeclared ?? parts.declared.length);
  // A folder that was not read to its end may hold what seems to be missing.
  set(
    'missingBuilds',
    new FactList(
      open === null
        ? parts.missing.map(({ build, path, instead }) => ({
            build: build.id,
            path,
            instead: instead ?? new Absent('no file seems to be it under another name'),
          }))
        : [],
      open ?? undefined,
    ),
  );
  for (const name of faultLists)
    set(`${name}Faults`, new FactList(findings.faults[name].map(faultRecord), findings.lost[name]));
  set('companionFaults', sentences(findings.companions, findings.lost.companions));
  set('nowhere', sentences(findings.nowhere));
  set('twins', sentences(parts.twins, open));
  set(
    'strays',
    new FactList(
      undeclared === null ? parts.strays.map(({ path, what }) => ({ path, what })) : [],
      open ?? undefined,
    ),
  );
  set('litter', sentences(parts.litter));
  set('sharedCrc', new FactList(sharedCrc(parts.declared.flatMap(({ file }) => (file ? [file] : [])))));
}

const settleBuilds = 'list the builds of the release in the profile, under builds';

const faultRecord = ({ path, build, found, needed, rule }: BuildFault): FactRecord => ({
  path,
  build,
  found,
  needed,
  rule: rule ?? new Absent('no rule of a card'),
});

/** Builds that differ and have one CRC-32 all the same, as those do that end with their own. */
function sharedCrc(files: readonly ReleaseFile[]): FactRecord[] {
  const groups = new Map<string, Map<string, string>>();
  for (const { path, crc32, sha256 } of files) {
    const group = groups.get(crc32) ?? new Map<string, string>();
    groups.set(crc32, group.set(sha256, path));
  }
  return [...groups]
    .filter(([, group]) => group.size > 1)
    .map(([crc32, group]) => ({ crc32, paths: [...group.values()].join(', ') }));
}

// ---- names --------------------------------------------------------------------------------------------------

/** Names that Windows gives to devices, whatever follows the dot. Source: Microsoft, "Naming Files, Paths, and Namespaces". */
const deviceName = /^(?:CON|PRN|AUX|NUL|COM[0-9¹²³]|LPT[0-9¹²³])$/i;

function awkwardNames(files: readonly ReleaseFile[]): FactRecord[] {
  const seen = new Map<string, string>();
  return files.flatMap(({ path }): FactRecord[] => {
    const how = awkward(path);
    const twin = seen.get(foldCase(path));
    seen.set(foldCase(path), path);
    if (how !== null) return [{ path, how }];
    return twin === undefined ? [] : [{ path, how: 'case' }];
  });
}

/** The longest path that the schema of manifests takes. */
const mostPathCharacters = 400;

function awkward(path: string): 'manifest' | 'windows' | 'invisible' | null {
  if (/[\\\u0000-\u001F:]/.test(path) || path.length > mostPathCharacters) return 'manifest';
  if (visible(path) !== path) return 'invisible';
  const names = path.split('/');
  const isBad = (name: string): boolean =>
    /[<>"|?*]|[. ]$/.test(name) || deviceName.test(name.split('.')[0]?.trimEnd() ?? '');
  return names.some(isBad) ? 'windows' : null;
}

// ---- the choice of build ------------------------------------------------------------------------------------

const proofLists = { gaps: ['gap'], overlaps: ['overlap'] } as const;
const supplyProblems = ['unsure', 'voltage', 'supplies-not-listed'];

function setChoice(set: Set, profile: Profile, { builds, whyNone }: ReleaseParts): void {
  const proof = proveChoice(profile);
  const lists = [...Object.keys(proofLists), 'supplyFaults', 'neverMeant', 'choiceTried', 'matrix'];
  if (builds === null || proof.state === 'over-limit') {
    const why = new Unseen(
      builds === null ? 'profile-silent' : 'over-limit',
      builds === null ? whyNone : proof.text,
      builds === null ? settleBuilds : undefined,
    );
    for (const name of [...lists, 'matrixTotal']) set(name, why);
    return;
  }
  const textsOf = (kinds: readonly string[]): FactList =>
    sentences(proof.problems.flatMap(({ kind, text }) => (kinds.includes(kind) ? [text] : [])));
  for (const [name, kinds] of Object.entries(proofLists)) set(name, textsOf(kinds));
  set('supplyFaults', textsOf(supplyProblems));
  set('neverMeant', sentences(proof.neverPreferred));
  set('choiceTried', proof.rows.length);
  set('matrixTotal', proof.rows.length);
  set(
    'matrix',
    new FactList(
      proof.rows.slice(0, limits.releaseMachines).map(({ machine, supply, preferred, fits }) => ({
        machine: Object.values(machine).join(', ') || 'every machine',
        supply:
          supply === null ? new Absent('the profile lists no supplies') : `${supply.volts}V/${supply.amps}A`,
        preferred: preferred ?? new Absent('no build is meant'),
        fits: new FactList([...fits]),
      })),
    ),
  );
}

function staleWaivers(profile: Profile, release: string | null): string[] {
  const numbering = releaseNumbering(profile);
  const isNumber = (value: string): boolean => valueProblem(value, numbering) === undefined;
  if (release === null || !isNumber(release)) return [];
  return profile.waive.flatMap(({ rule, until }) =>
    until !== undefined && isNumber(until) && compareValues(release, until, numbering) > 0
      ? [`the waiver of ${rule} was meant until release ${until}`]
      : [],
  );
}

// ---- the manifest -------------------------------------------------------------------------------------------

const manifestFacts = ['sealed', 'unlisted', 'lost', 'changed', 'misdescribed', 'checksumFaults'];

function setManifest(set: Set, profile: Profile, folder: ReleaseFolder): void {
  const { manifest, content, parts, checksums } = folder;
  if (manifest === 'sealing') {
    for (const name of manifestFacts) set(name, new Absent('the manifest is being written'));
    return;
  }
  const byPath = new Map(content.files.map((file) => [file.path, file]));
  // What could not be read may be what the manifest says; that it is open, `read` says.
  const open = content.lost ?? undefined;
  set(
    'checksumFaults',
    checksums === null
      ? new Absent('there is no list of checksums')
      : sentences(checksumFaults(checksums, byPath, content), open),
  );
  set('sealed', manifest !== null);
  if (manifest === null) {
    for (const name of manifestFacts.slice(1, -1)) set(name, new Absent('there is no manifest'));
    return;
  }
  const listed = new Set(manifest.files.map(({ path }) => path));
  const isDescribed = ({ path }: ReleaseFile): boolean => path !== manifestName && path !== checksumsName;
  const present = (path: string): boolean => byPath.has(path) || content.closed.includes(path);
  set(
    'unlisted',
    sentences(
      content.files.filter(isDescribed).flatMap(({ path }) => (listed.has(path) ? [] : [path])),
      open,
    ),
  );
  set(
    'lost',
    sentences(
      content.lost === null || content.closed.length > 0
        ? manifest.files.flatMap(({ path }) => (present(path) ? [] : [path]))
        : [],
      open,
    ),
  );
  const pairs = manifest.files.flatMap((entry) => {
    const file = byPath.get(entry.path);
    return file ? [{ entry, file }] : [];
  });
  set(
    'changed',
    sentences(
      pairs.flatMap(({ entry, file }) => whatChanged(entry, file)),
      open,
    ),
  );
  set('misdescribed', sentences(misdescribed(profile, manifest, folder.stated, parts, present)));
}

function whatChanged(entry: ManifestFile, file: ReleaseFile): string[] {
  const parts = [
    entry.bytes === file.bytes ? null : `size ${entry.bytes} in the manifest, ${file.bytes} in the folder`,
    entry.crc32 === file.crc32 ? null : `CRC-32 ${entry.crc32} in the manifest, ${file.crc32} in the folder`,
    entry.sha256 === file.sha256
      ? null
      : `SHA-256 ${entry.sha256.slice(0, 12)}... in the manifest, ${file.sha256.slice(0, 12)}... in the folder`,
  ].filter((part) => part !== null);
  return parts.length === 0 ? [] : [`${file.path}: ${parts.join('; ')}`];
}

function misdescribed(
  profile: Profile,
  manifest: Manifest,
  stated: string | null,
  { partOf }: ReleaseParts,
  present: (path: string) => boolean,
): string[] {
  const faults: string[] = [];
  if (manifest.board.revision !== profile.revision)
    faults.push(
      `the manifest is for revision ${manifest.board.revision} of the profile; board.yaml is revision ${profile.revision}`,
    );
  if (stated !== null && stated !== manifest.release)
    faults.push(`the manifest is for release ${manifest.release}, not ${stated}`);
  for (const { path, role, build } of manifest.files.filter((entry) => present(entry.path))) {
    const part = partOf(path);
    const said = role === 'build' ? `the build ${build}` : `a ${role}`;
    const is = part.role === 'build' ? `the build ${part.build}` : `a ${part.role}`;
    if (said !== is) faults.push(`${path}: the manifest calls it ${said}; by the profile it is ${is}`);
  }
  return faults;
}

function checksumFaults(
  text: string,
  byPath: ReadonlyMap<string, ReleaseFile>,
  { closed }: ReleaseFiles,
): string[] {
  const faults: string[] = [];
  const named = new Set<string>();
  for (const { line, entry } of readChecksums(text)) {
    if (entry === null) {
      faults.push(`line ${line}: expected a SHA-256, two blanks and the name of a file`);
      continue;
    }
    named.add(entry.path);
    const file = byPath.get(entry.path);
    if (file === undefined) {
      if (!closed.includes(entry.path)) faults.push(`line ${line}: ${entry.path} is not there`);
    } else if (file.sha256 !== entry.sha256) faults.push(`line ${line}: ${entry.path} has another SHA-256`);
  }
  for (const path of byPath.keys())
    if (!named.has(path) && path !== checksumsName) faults.push(`${path} does not stand in it`);
  return faults;
}
