import { type Document, isMap, isNode, isScalar, isSeq, LineCounter, parseDocument, visit } from 'yaml';
import { isFilledWith } from '../bytes/cursor.js';
import { limits } from '../bytes/limits.js';
import { visible } from '../rules/visible.js';
import type { Profile } from './profile.js';
import type { ProfileProblem } from './read.js';
import { manifestSchema } from './schema/validators.js';
import { type Path, shapeProblems } from './validate.js';

/** What a file of a release is for. */
export type FileRole = 'build' | 'companion' | 'profile' | 'document';

/** One file of a release, as its manifest describes it. */
export interface ManifestFile {
  /** Path inside the release folder, with `/` between names. */
  readonly path: string;
  readonly role: FileRole;
  /** Id of the build that the file belongs to; always there when the role is `build`. */
  readonly build?: string;
  readonly bytes: number;
  /** 8 lower-case hexadecimal digits, for people to read out. */
  readonly crc32: string;
  /** 64 lower-case hexadecimal digits. */
  readonly sha256: string;
}

/** A release manifest (`flashworthy-manifest/1`). */
export interface Manifest {
  readonly schema: 'flashworthy-manifest/1';
  readonly board: { readonly id: string; readonly revision: number };
  readonly release: string;
  readonly files: readonly ManifestFile[];
}

/** A manifest that is wrong: every problem found, in the order of the file. */
export class ManifestError extends Error {
  override readonly name = 'ManifestError';
  constructor(readonly problems: readonly ProfileProblem[]) {
    super(problems.map((one) => `${one.file}:${one.line}:${one.column}: ${one.message}`).join('\n'));
  }
}

/**
 * Reads a release manifest. JSON is what it must be; the parser of YAML 1.2, of which JSON is a part, says where a
 * problem stands. Throws `ManifestError` with every problem found.
 * @param fileName how messages name the file
 * @param profile the profile that the manifest is used with: a manifest of another board is an error
 */
export function readManifest(text: string, fileName: string, profile: Profile | null = null): Manifest {
  const lines = new LineCounter();
  const problems: ProfileProblem[] = [];
  const complain = (offset: number, message: string, expected = ''): void => {
    const { line, col } = lines.linePos(offset);
    problems.push({
      file: fileName,
      line: Math.max(line, 1),
      column: Math.max(col, 1),
      message: visible(message),
      expected,
    });
  };
  const fail = (): never => {
    problems.sort((a, b) => a.line - b.line || a.column - b.column);
    throw new ManifestError(problems.slice(0, limits.problems));
  };
  if (text.length > limits.textFileBytes) {
    complain(0, `the file is larger than ${limits.textFileBytes} characters`);
    return fail();
  }
  // Some editors put a byte-order mark in front; it means nothing in UTF-8.
  const json = text.replace(/^\uFEFF/, '');
  const document = parse(json, lines, complain);
  if (document === null) return fail();
  const value = jsonValue(json, document, complain);
  if (problems.length > 0) return fail();

  const version = schemaVersion(value);
  if (version !== undefined && version > 1) {
    complain(
      offsetOf(document, ['schema'], 'value'),
      `schema: this manifest is flashworthy-manifest/${version}; this version of flashworthy reads flashworthy-manifest/1. Get a newer flashworthy.`,
      'flashworthy-manifest/1',
    );
    return fail();
  }
  const sourceOf = (path: Path): string | undefined => {
    const node = document.getIn(path, true);
    return isScalar(node) ? node.source : undefined;
  };
  for (const one of shapeProblems(value, manifestSchema, { root: manifestSchema, sourceOf }))
    complain(offsetOf(document, one.path, one.at), `${pathText(one.path)}${one.message}`, one.expected);
  if (problems.length > 0) return fail();
  const manifest = value as Manifest;
  for (const [path, message, expected] of manifestProblems(manifest, profile))
    complain(offsetOf(document, path, 'value'), `${pathText(path)}${message}`, expected);
  return problems.length > 0 ? fail() : manifest;
}

/** What no schema can say: paths stay in the folder, each stands once, builds are named, the board is the right one. */
function* manifestProblems(
  manifest: Manifest,
  profile: Profile | null,
): Iterable<readonly [Path, string, string]> {
  if (profile !== null && manifest.board.id !== profile.id)
    yield [
      ['board', 'id'],
      `this manifest is for the board ${manifest.board.id}; the profile is for ${profile.id}`,
      profile.id,
    ];
  const seen = new Set<string>();
  const builds = new Map<string, string | undefined>();
  for (const [index, file] of manifest.files.entries()) {
    const at = ['files', index];
    const isPlain =
      !/[\\\u0000-\u001F:]/.test(file.path) &&
      file.path.split('/').every((name) => name !== '' && name !== '.' && name !== '..');
    if (!isPlain)
      yield [
        [...at, 'path'],
        `'${file.path}' is no path inside the folder`,
        'a path such as builds/NAME.EXT',
      ];
    if (file.path === 'manifest.json')
      yield [[...at, 'path'], 'the manifest does not describe itself', 'another file'];
    if (seen.has(file.path)) yield [[...at, 'path'], `'${file.path}' stands here twice`, 'each file once'];
    seen.add(file.path);
    if (file.role === 'build' && file.build === undefined)
      yield [at, 'build is missing: the id of the build that this file belongs to', 'build'];
    if (file.role !== 'build') continue;
    if (builds.has(file.sha256) && builds.get(file.sha256) !== file.build)
      yield [
        [...at, 'sha256'],
        `these bytes stand here as the build ${builds.get(file.sha256)} too: nobody could tell the two apart`,
        'other bytes',
      ];
    builds.set(file.sha256, file.build);
  }
}

function parse(
  text: string,
  lines: LineCounter,
  complain: (offset: number, message: string, expected?: string) => void,
): Document | null {
  try {
    const document: Document = parseDocument(text, {
      version: '1.2',
      schema: 'core',
      lineCounter: lines,
      prettyErrors: false,
      logLevel: 'silent',
    });
    for (const problem of [...document.errors, ...document.warnings])
      complain(
        problem.pos[0],
        /call stack/i.test(problem.message) ? tooDeep : (problem.message.split('\n')[0] ?? notJson),
        'JSON',
      );
    if (document.errors.length + document.warnings.length > 0) return null;
    if (isMap(document.contents)) return document;
    complain(0, 'expected a release manifest: a JSON object with schema, board, release and files', '{ … }');
    return null;
  } catch (error) {
    // The parser calls itself for each level.
    if (!(error instanceof RangeError)) throw error;
    complain(0, tooDeep, 'JSON');
    return null;
  }
}

const tooDeep = 'the file nests lists or objects too deeply';
const notJson = 'this is no JSON';

/** The value as JSON; what only YAML allows, such as a text without quotes, is a problem. */
function jsonValue(
  text: string,
  document: Document,
  complain: (offset: number, message: string, expected?: string) => void,
): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch (error) {
    // The engine does not always say where; then it is mostly a text without double quotes.
    let place = error instanceof Error ? /at position (\d+)/.exec(error.message)?.[1] : undefined;
    if (place === undefined)
      visit(document, {
        Scalar: (_, node) => {
          const isText =
            node.type === 'QUOTE_DOUBLE' || node.value === null || typeof node.value !== 'string';
          if (isText) return undefined;
          place = String(node.range?.[0] ?? 0);
          return visit.BREAK;
        },
      });
    complain(Number(place ?? 0), notJson, 'JSON');
    return undefined;
  }
}

function schemaVersion(value: unknown): number | undefined {
  if (typeof value !== 'object' || value === null || !('schema' in value)) return undefined;
  const version =
    typeof value.schema === 'string' ? /^flashworthy-manifest\/([0-9]{1,9})$/.exec(value.schema) : null;
  return version ? Number(version[1]) : undefined;
}

/** `files[0].path: `, nothing for the whole file. */
function pathText(path: Path): string {
  const text = path.map((step) => (typeof step === 'number' ? `[${step}]` : `.${step}`)).join('');
  return text === '' ? '' : `${text.replace(/^\./, '')}: `;
}

/** Offset of the key or the value at a path; of the closest thing around it when it is not in the file. */
function offsetOf(document: Document, path: Path, which: 'key' | 'value'): number {
  let node: unknown = document.contents;
  let offset = startOf(node, 0);
  for (const [depth, step] of path.entries()) {
    if (isMap(node)) {
      const pair = node.items.find((one) => isScalar(one.key) && one.key.value === step);
      if (!pair) return offset;
      const key = startOf(pair.key, offset);
      node = pair.value;
      offset = depth === path.length - 1 && which === 'key' ? key : startOf(node, key);
    } else if (isSeq(node) && typeof step === 'number') {
      node = node.items[step];
      offset = startOf(node, offset);
    } else return offset;
  }
  return offset;
}

const startOf = (node: unknown, otherwise: number): number =>
  isNode(node) ? (node.range?.[0] ?? otherwise) : otherwise;

// ---- which file is it ---------------------------------------------------------------------------------------

/** What a manifest knows about a file by its bytes. */
export type Identity =
  | {
      readonly state: 'known';
      /** The entry with these bytes; a build before others. */
      readonly file: ManifestFile;
      readonly release: string;
    }
  /** `sameSize`: builds that have exactly this size, though other bytes. */
  | { readonly state: 'unknown'; readonly sameSize: readonly ManifestFile[] };

/** Looks a file up by its SHA-256, which alone decides; its name means nothing. */
export function identify(
  file: { readonly sha256: string; readonly bytes: number },
  manifest: Manifest,
): Identity {
  const equal = manifest.files.filter((one) => one.sha256 === file.sha256 && one.bytes === file.bytes);
  const found = equal.find((one) => one.role === 'build') ?? equal[0];
  if (found) return { state: 'known', file: found, release: manifest.release };
  return {
    state: 'unknown',
    sameSize: manifest.files.filter((one) => one.role === 'build' && one.bytes === file.bytes),
  };
}

/** A published file to compare with, read only when it is looked at. */
export interface Candidate {
  readonly path: string;
  readonly build?: string;
  /** Size in bytes. */
  readonly bytes: number;
  /** All of its bytes, or null when they cannot be had. */
  read(): Uint8Array | null;
}

/**
 * How a file nearly equals a published one. `changed`: same size, `differing` bytes differ. `blank-from`: from `at` on it
 * holds nothing but 00 or FF, as after a copy that broke off. `truncated`: it ends at `at`, and all before is equal.
 * `extended`: the published file ends at `at`, and more follows.
 */
export interface NearMiss {
  readonly kind: 'changed' | 'blank-from' | 'truncated' | 'extended';
  readonly candidate: Candidate;
  /** First byte that differs, is missing or is too many. */
  readonly at: number;
  /** Bytes that differ, are missing or are too many. */
  readonly differing: number;
}

/** Above one byte in eight, blank filling not counted, a file is another one rather than a damaged one. */
const mostDiffering = 1 / 8;
/** A common start shorter than this says nothing. */
const leastCommonBytes = 64;

/**
 * The published file that a file which equals none of them was probably meant to be: the one from which the fewest
 * bytes differ. Null when it is near none. At most `limits.nearMissFiles` files, and bytes for `limits.updateFileBytes`, are
 * read.
 */
export function nearMiss(bytes: Uint8Array, candidates: readonly Candidate[]): NearMiss | null {
  let best: NearMiss | null = null;
  let budget: number = limits.updateFileBytes;
  for (const candidate of candidates.slice(0, limits.nearMissFiles)) {
    if (candidate.bytes > budget) continue;
    budget -= candidate.bytes;
    const published = candidate.read();
    const found = published === null ? null : compare(bytes, published, candidate);
    if (found !== null && (best === null || found.differing < best.differing)) best = found;
  }
  return best;
}

function compare(bytes: Uint8Array, published: Uint8Array, candidate: Candidate): NearMiss | null {
  const common = Math.min(bytes.length, published.length);
  let at = 0;
  while (at < common && bytes[at] === published[at]) at++;
  if (bytes.length !== published.length) {
    if (at < common || at < leastCommonBytes) return null;
    const differing = Math.abs(bytes.length - published.length);
    return { kind: bytes.length < published.length ? 'truncated' : 'extended', candidate, at, differing };
  }
  if (at === common) return null;
  let differing = 0;
  // Programs are filled up to a size; what both leave blank says nothing about how near they are.
  let filled = 0;
  for (let index = 0; index < common; index++) {
    const value = published[index];
    if (bytes[index] !== value) differing++;
    else if (value === 0x00 || value === 0xff) filled++;
  }
  const fill = bytes[at]!;
  if (
    at >= leastCommonBytes &&
    (fill === 0x00 || fill === 0xff) &&
    differing > 1 &&
    isFilledWith(bytes.subarray(at), fill)
  )
    return { kind: 'blank-from', candidate, at, differing };
  return differing <= Math.max(1, (common - filled) * mostDiffering)
    ? { kind: 'changed', candidate, at, differing }
    : null;
}

/** A near miss in one plain sentence with the file as its subject. */
export function nearMissText(miss: NearMiss): string {
  const name = miss.candidate.path;
  const count = miss.differing === 1 ? 'one byte' : `${miss.differing} bytes`;
  switch (miss.kind) {
    case 'changed':
      return `is ${name}, damaged: ${count} of it ${miss.differing === 1 ? 'differs' : 'differ'}, the first at offset ${miss.at}`;
    case 'blank-from':
      return `is ${name} up to offset ${miss.at}; from there on it is blank`;
    case 'truncated':
      return `is ${name}, cut short: it ends at offset ${miss.at}, and ${count} ${miss.differing === 1 ? 'is' : 'are'} missing`;
    default:
      return `is ${name} with ${count} too many at its end, from offset ${miss.at} on`;
  }
}
