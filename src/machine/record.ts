import { isScalar, LineCounter } from 'yaml';
import { nearest } from '../board/nearest.js';
import type { Profile } from '../board/profile.js';
import { machineSchema } from '../board/schema/validators.js';
import { joined, type Path, shapeProblems } from '../board/validate.js';
import {
  byPlace,
  offsetOf,
  type ProfileProblem,
  parseMap,
  pathText,
  YamlError,
} from '../board/yaml-document.js';
import { limits } from '../bytes/limits.js';
import { visible } from '../rules/visible.js';
import { type Machine, type MachineOptions, machineFromOptions, type UsageProblem } from './machine.js';
import { recordTroubles } from './record-capture.js';

/** One number that the machine keeps, as its settings report named it. */
export interface RecordedSetting {
  /** The command that sets it, such as `M92`. */
  readonly word: string;
  /** The letter in front of the number. */
  readonly letter: string;
  readonly value: number;
  readonly unit?: string;
  /** The whole line in which it stood. */
  readonly line: string;
}

/** A machine record (`flashworthy-machine/1`): what one owner's machine is, in that owner's words. */
export interface MachineRecord {
  readonly board: string;
  /** Revision of the board profile with which the record was made. */
  readonly revision?: number;
  /** What the record answers, as the options of the command line would say it. */
  readonly options: MachineOptions;
  readonly lastFileName?: string;
  /** Pairs of the identity reply of the machine. */
  readonly identity: Readonly<Record<string, string>>;
  readonly settings: readonly RecordedSetting[];
  /** Lines as the machine sent them. */
  readonly capture: readonly string[];
}

/** A machine record that is wrong: every problem found, in the order of the file. */
export class RecordError extends Error {
  override readonly name = 'RecordError';
  constructor(readonly problems: readonly ProfileProblem[]) {
    super(problems.map((one) => `${one.file}:${one.line}:${one.column}: ${one.message}`).join('\n'));
  }
}

/**
 * Reads a machine record (YAML 1.2). Keys that the format does not know are answers to the questions of the profile.
 * Throws `RecordError` with every problem found.
 * @param fileName how messages name the file
 * @param profile whose questions the record answers; a record of another board is an error
 */
export function readRecord(text: string, fileName: string, profile: Profile): MachineRecord {
  const lines = new LineCounter();
  const at = (offset: number, message: string, expected = ''): ProfileProblem => {
    const { line, col } = lines.linePos(offset);
    const place = { line: Math.max(line, 1), column: Math.max(col, 1) };
    return { file: fileName, ...place, message: visible(message), expected };
  };
  if (text.length > limits.textFileBytes)
    throw new RecordError([at(0, `the file is larger than ${limits.textFileBytes} characters`)]);
  const { document, value } = parsed(text, lines, at);
  const problems: ProfileProblem[] = [];
  const complain = (path: Path, message: string, expected = '', key: 'key' | 'value' = 'value'): void => {
    problems.push(at(offsetOf(document, path, key), `${pathText(path)}${message}`, expected));
  };
  const end = (): never => {
    throw new RecordError(problems.sort(byPlace).slice(0, limits.problems));
  };
  const version = schemaVersion(value);
  if (version !== undefined && version > 1) {
    complain(
      ['schema'],
      `this record is flashworthy-machine/${version}; this version of flashworthy reads flashworthy-machine/1. Get a newer flashworthy.`,
      'flashworthy-machine/1',
    );
    end();
  }
  const sourceOf = (path: Path): string | undefined => {
    const node = document.getIn(path, true);
    return isScalar(node) ? node.source : undefined;
  };
  const context = { root: machineSchema, sourceOf };
  for (const problem of shapeProblems(value, machineSchema, context)) {
    // A key that nobody knows is told once, as such, whatever stands behind it.
    const [name] = problem.path;
    if (name === undefined || isKnownKey(String(name)) || profile.axes.some((axis) => axis.id === name))
      complain(problem.path, problem.message, problem.expected, problem.at);
  }
  const written = value as WrittenRecord;
  checkKeys(written, profile, complain);
  if (problems.length > 0) end();
  const record = completed(written);
  checkAnswers(record, written, profile, complain);
  return problems.length > 0 ? end() : record;
}

/**
 * The machine of a record, with what the command line says in place of what the record says. Problems are those of the
 * command line.
 */
export function machineFromRecord(
  record: MachineRecord,
  options: MachineOptions,
  profile: Profile,
): { machine: Machine; problems: UsageProblem[] } {
  const { installed, was, ...rest } = record.options;
  // What ran last belongs to a record in which nothing runs; another word about what runs takes its place.
  const says = options.installed ?? options.sets?.installed;
  const runs = says === undefined ? { installed, was } : {};
  const sets = { ...record.options.sets, ...options.sets };
  const { machine, problems } = machineFromOptions(
    { ...defined(rest), ...defined(runs), ...defined(options), sets },
    profile,
  );
  machine.board = record.board;
  if (record.lastFileName !== undefined) machine.lastFileName = record.lastFileName;
  // A report that was cut off or torn is no list of what has to be entered again.
  machine.settingsNoted = recordTroubles(record).length === 0 ? record.settings.length : 0;
  return { machine, problems };
}

const defined = (options: MachineOptions): MachineOptions =>
  Object.fromEntries(Object.entries(options).filter(([, value]) => value !== undefined));

/** The record as its author wrote it, after the schema check. */
interface WrittenRecord {
  readonly [answer: string]: unknown;
  readonly board: string;
  readonly revision?: number;
  readonly supply?: string;
  readonly unsure?: true;
  readonly installed?: string;
  readonly none?: true;
  readonly was?: string;
  readonly lastFileName?: string;
  readonly identity?: Record<string, string>;
  readonly settings?: RecordedSetting[];
  readonly capture?: string[];
}

const knownKeys = Object.keys(machineSchema.properties as object);
const isKnownKey = (name: string): boolean => knownKeys.includes(name);

function parsed(
  text: string,
  lines: LineCounter,
  at: (offset: number, message: string, expected?: string) => ProfileProblem,
): ReturnType<typeof parseMap> {
  try {
    return parseMap(text, lines, at, recordMap);
  } catch (error) {
    if (error instanceof YamlError) throw new RecordError(error.problems);
    throw error;
  }
}

const recordMap = 'a machine record: a map of keys, the first of them schema: flashworthy-machine/1';

function schemaVersion(value: unknown): number | undefined {
  if (typeof value !== 'object' || value === null || !('schema' in value)) return undefined;
  const version =
    typeof value.schema === 'string' ? /^flashworthy-machine\/([0-9]{1,9})$/.exec(value.schema) : null;
  return version ? Number(version[1]) : undefined;
}

type Complain = (path: Path, message: string, expected?: string, key?: 'key' | 'value') => void;

/** Keys that say one thing twice, and keys that neither the format nor the profile knows. */
function checkKeys(written: WrittenRecord, profile: Profile, complain: Complain): void {
  for (const [one, other] of [
    ['supply', 'unsure'],
    ['installed', 'none'],
  ] as const)
    if (Object.hasOwn(written, one) && Object.hasOwn(written, other))
      complain([other], `${one} stands here already; it is one or the other`, `${one} or ${other}`, 'key');
  const questions = profile.axes.map((axis) => axis.id);
  // The loader is a key of the format that only boards with several generations ask about.
  const known = [...questions, ...knownKeys.filter((name) => name !== 'loader')];
  for (const name of Object.keys(written).filter((one) => !known.includes(one))) {
    const meant = nearest(name, known);
    const expected =
      questions.length === 0 ? '' : `; the questions of this board are ${joined(questions, 'and')}`;
    complain(
      [name],
      `there is no such key, and this board has no such question${meant ? `; did you mean ${meant}?` : expected}`,
      'a key of the format, or a question of the board',
      'key',
    );
  }
  if (typeof written.board === 'string' && written.board !== profile.id)
    complain(
      ['board'],
      `this record is for the board ${written.board}; the profile is for ${profile.id}`,
      profile.id,
    );
}

function completed(written: WrittenRecord): MachineRecord {
  const { board, revision, supply, unsure, installed, none, was, lastFileName } = written;
  const answers = Object.entries(written).filter(([name]) => !isKnownKey(name) || name === 'loader');
  const options: MachineOptions = {
    ...(unsure ? { supply: 'unsure' } : supply === undefined ? {} : { supply }),
    ...(none ? { installed: 'none' } : installed === undefined ? {} : { installed }),
    ...(was === undefined ? {} : { was }),
    sets: Object.fromEntries(answers.map(([name, value]) => [name, String(value)])),
  };
  return {
    board,
    ...(revision === undefined ? {} : { revision }),
    options,
    ...(lastFileName === undefined ? {} : { lastFileName }),
    identity: written.identity ?? {},
    settings: written.settings ?? [],
    capture: written.capture ?? [],
  };
}

/** Answers are held against the questions of the profile, each where it stands. */
function checkAnswers(
  { options }: MachineRecord,
  written: WrittenRecord,
  profile: Profile,
  complain: Complain,
): void {
  const { sets, ...common } = options;
  for (const { option, message } of machineFromOptions(common, profile).problems) {
    const key = option.replace('--', '');
    complain(
      [Object.hasOwn(written, key) ? key : 'schema'],
      message.replace('--installed none', 'none: true'),
    );
  }
  for (const [axis, value] of Object.entries(sets ?? {}))
    for (const { message } of machineFromOptions({ sets: { [axis]: value } }, profile).problems)
      complain([axis], message.replace(`${axis}: `, ''));
}
