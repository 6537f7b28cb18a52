import type { Report } from '../report/report.js';
import type { ReportOptions } from '../report/reporters.js';
import type { Unchecked } from '../report/summary.js';
import type { Command } from './command.js';
import { CommandProblem, type ExitCode, exitCodes, usageProblem, worstExit } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, cardOptions, outputOptions, ruleOptions } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `check <card>…`: the verdict. */
export const checkCommand: Command = {
  name: 'check',
  operands: '[target..]',
  describe: 'Check cards: is it fit to flash?',
  positionals: {
    target: { type: 'string', describe: 'Image of a card (raw or .gz), or with --staging a folder' },
  },
  options: { ...boardOptions, ...cardOptions, ...ruleOptions, ...outputOptions },
  run: runCheck,
};

const verdictExit = {
  fit: exitCodes.fit,
  refused: exitCodes.refused,
  'not-proven': exitCodes.notProven,
} as const;

async function runCheck(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { cardPath } = await import('../node/target-kind.js');
  const { planOutput, writeReports } = await import('./output.js');
  const { summarise } = await import('../report/summary.js');
  const { checkRequest } = await import('./check-request.js');
  const { checkTarget, inputFiles } = await import('./check-target.js');
  const { openTarget } = await import('./open-target.js');
  const paths = given.texts('target').map((path) => cardPath(path));
  if (paths.length === 0) throw usageProblem('name a card to check; see flashworthy check --help');
  const request = await checkRequest(given, surroundings);
  const plan = planOutput(given, [...paths, ...inputFiles(request).map(({ path }) => path)]);

  const reports: Report[] = [];
  const unchecked: Unchecked[] = [];
  const codes: ExitCode[] = [];
  for (const path of paths) {
    try {
      const { target, close } = await openTarget(path, given.flag('staging'));
      try {
        const report = checkTarget(target, request);
        reports.push(report);
        codes.push(verdictExit[report.verdict]);
      } finally {
        close();
      }
    } catch (error) {
      // One target that is not there does not keep the others from being checked.
      const exit = error instanceof CommandProblem ? error.exit : exitCodes.ownFault;
      const text = error instanceof Error ? error.message : String(error);
      surroundings.note(
        exit === exitCodes.ownFault ? `${path}: a fault of flashworthy itself: ${stackOf(error)}` : text,
      );
      unchecked.push({ path, exit, text });
      codes.push(exit);
    }
  }
  const [only] = reports;
  const output = paths.length === 1 ? only : summarise(surroundings.version, reports, unchecked);
  if (output) {
    try {
      await writeReports(output, plan, surroundings, reportOptions(given, surroundings));
    } catch (error) {
      if (!(error instanceof CommandProblem)) throw error;
      surroundings.note(error.message);
      codes.push(error.exit);
    }
  }
  return worstExit(codes);
}

const stackOf = (error: unknown): string =>
  error instanceof Error ? (error.stack ?? error.message) : String(error);

/** How a report is to be written here: width, colours, and the steps of this system. */
export function reportOptions(given: Given, { width, color }: Surroundings): ReportOptions {
  const systems = { win32: 'windows', darwin: 'macos', linux: 'linux' } as const;
  const system = process.platform in systems ? systems[process.platform as keyof typeof systems] : undefined;
  return { width, color, verbose: given.flag('verbose'), ...(system ? { system } : {}) };
}
