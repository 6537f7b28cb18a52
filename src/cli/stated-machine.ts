import type { Machine, MachineOptions, UsageProblem } from '../machine/machine.js';
import { usageProblem } from './exit.js';
import type { Given } from './given.js';
import { type InputFile, placedProblems, readInput } from './inputs.js';
import type { LoadedBoard } from './load-board.js';
import { nameAndValue } from './options.js';

/** What is told about a machine, to be read again when more is told. */
export interface MachineReader {
  /** What the command line says. */
  readonly options: MachineOptions;
  /** The machine record of `--machine`; null when none was given. */
  readonly record: InputFile | null;
  /** The machine under these options; what they say takes the place of what the record says. */
  read(options: MachineOptions): { machine: Machine; problems: UsageProblem[] };
}

/**
 * Reads `--machine`, `--supply`, `--installed`, `--was` and `--set`. Ends the command with 64 when the record is wrong,
 * with 66 when it is not there.
 */
export async function machineReader(given: Given, board: LoadedBoard | null): Promise<MachineReader> {
  const { machineFromOptions } = await import('../machine/machine.js');
  const profile = board?.profile ?? null;
  const options = statedOptions(given);
  const path = given.text('machine');
  if (path === undefined) return { options, record: null, read: (told) => machineFromOptions(told, profile) };
  if (profile === null)
    throw usageProblem('--machine goes with --board, which says what the answers of the record mean');
  const record = readInput('machine record', path);
  const { machineFromRecord, readRecord, RecordError } = await import('../machine/record.js');
  try {
    const written = readRecord(record.text, path, profile);
    return { options, record, read: (told) => machineFromRecord(written, told, profile) };
  } catch (error) {
    if (error instanceof RecordError) throw usageProblem(placedProblems(error.problems));
    throw error;
  }
}

/** The machine that the command line describes. Ends the command with 64 when an answer is none. */
export async function statedMachine(
  given: Given,
  board: LoadedBoard | null,
): Promise<{ machine: Machine; record: InputFile | null }> {
  const { options, record, read } = await machineReader(given, board);
  const { machine, problems } = read(options);
  if (problems.length > 0)
    throw usageProblem(problems.map(({ option, message }) => `${option}: ${message}`).join('\n'));
  return { machine, record };
}

/** What `--supply`, `--installed`, `--was` and `--set` say, as written there. */
export function statedOptions(given: Given): MachineOptions {
  const sets: Record<string, string> = {};
  for (const [axis, value] of given.texts('set').map((text) => nameAndValue('set', text))) {
    if (Object.hasOwn(sets, axis)) throw usageProblem(`--set ${axis}=… is given twice`);
    sets[axis] = value;
  }
  const [supply, installed, was] = [given.text('supply'), given.text('installed'), given.text('was')];
  return {
    ...(supply === undefined ? {} : { supply }),
    ...(installed === undefined ? {} : { installed }),
    ...(was === undefined ? {} : { was }),
    sets,
  };
}
