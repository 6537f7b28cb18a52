import type { Options, PositionalOptions } from 'yargs';
import type { ExitCode } from './exit.js';
import type { Given } from './given.js';
import type { Surroundings } from './surroundings.js';

/** One command of the program. What only its work needs is loaded inside `run`. */
export interface Command {
  readonly name: string;
  /** Operands as yargs writes them: `<card..>`, `[rule]`, or nothing. */
  readonly operands: string;
  /** One line for the list of commands. */
  readonly describe: string;
  readonly positionals: Readonly<Record<string, PositionalOptions>>;
  readonly options: Readonly<Record<string, Options>>;
  /** What its exit codes 0, 1 and 2 mean, where that is not a verdict about a card: `0 known, 1 not firmware, 2 unknown`. */
  readonly exits?: string;
  run(given: Given, surroundings: Surroundings): Promise<ExitCode>;
}
