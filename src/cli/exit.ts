/** Exit codes: part of the interface, never renumbered. */
export const exitCodes = {
  fit: 0,
  refused: 1,
  notProven: 2,
  /** Wrong use, or a profile, rule file, record or manifest that is wrong. */
  usage: 64,
  /** A target or named input is not there. */
  notThere: 66,
  /** A fault of flashworthy itself. Never a verdict. */
  ownFault: 70,
  /** A report could not be written. */
  notWritten: 74,
} as const;
export type ExitCode = (typeof exitCodes)[keyof typeof exitCodes];

/** The exit code of each verdict. */
export const verdictExit = {
  fit: exitCodes.fit,
  refused: exitCodes.refused,
  'not-proven': exitCodes.notProven,
} as const;

/** Worst first. A report that is not there outweighs what it would have said, our own fault outweighs everything. */
const worstFirst: readonly ExitCode[] = [70, 74, 64, 66, 1, 2, 0];

/** The exit code of a run over many targets. Of none at all: our own fault, since nothing was checked. */
export function worstExit(codes: readonly ExitCode[]): ExitCode {
  return worstFirst.find((code) => codes.includes(code)) ?? exitCodes.ownFault;
}

/** Ends a command with an exit code and a plain sentence for standard error. */
export class CommandProblem extends Error {
  override readonly name = 'CommandProblem';
  constructor(
    readonly exit: ExitCode,
    message: string,
  ) {
    super(message);
  }
}

export const usageProblem = (message: string): CommandProblem => new CommandProblem(exitCodes.usage, message);
export const notThere = (message: string): CommandProblem => new CommandProblem(exitCodes.notThere, message);
