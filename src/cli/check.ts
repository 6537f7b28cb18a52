import type { Report } from '../report/report.js';
import type { ReportOptions } from '../report/reporters.js';
import type { Unchecked } from '../report/summary.js';
import type { CheckRequest } from './check-target.js';
import type { Command } from './command.js';
import {
  CommandProblem,
  type ExitCode,
  exitCodes,
  notThere,
  usageProblem,
  verdictExit,
  worstExit,
} from './exit.js';
import type { Given } from './given.js';
import { boardOptions, cardOptions, outputOptions, ruleOptions, value } from './options.js';
import type { ReportSinks } from './report-sinks.js';
import type { Surroundings } from './surroundings.js';
import type { Targets } from './targets.js';

/** `check <card>…`: the verdict. */
export const checkCommand: Command = {
  name: 'check',
  operands: '[target..]',
  describe: 'Check cards: is it fit to flash?',
  positionals: {
    target: {
      type: 'string',
      describe: 'Folder of a mounted card, device, or image (raw or .gz); with --staging any folder',
    },
  },
  options: {
    ...boardOptions,
    ...cardOptions,
    'cards-from': value('Also check the cards that this file names, one path in each line', 'The card:'),
    ...ruleOptions,
    ...outputOptions,
  },
  run: runCheck,
};

async function runCheck(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { targetsOf } = await import('./targets.js');
  const { planOutput } = await import('./output.js');
  const { ReportSinks } = await import('./report-sinks.js');
  const { checkRequest } = await import('./check-request.js');
  const { inputFiles } = await import('./check-target.js');
  const { sameAgain } = await import('./again.js');
  const line = sameAgain('check', given);
  const named = await targetsOf(given);
  const targets =
    named.paths.length > 0 ? named : { ...named, paths: [await theOnlyCard(given.flag('staging'), line)] };
  const { paths, several } = targets;
  const request = await checkRequest(given, surroundings);
  const inputs = [...paths, ...inputFiles(request).map(({ path }) => path)];
  const plan = planOutput(given, inputs, undefined, paths);
  const options = { ...reportOptions(given, surroundings), rules: request.rules.rules, line };
  const sinks = await ReportSinks.open(plan, several, surroundings, options);
  try {
    return await checkAll(
      targets,
      given.flag('staging'),
      line,
      request,
      sinks,
      plan.file === undefined,
      surroundings,
    );
  } finally {
    sinks.abandon();
  }
}

/** The card that is meant when none was named. */
async function theOnlyCard(staging: boolean, line: (card: string) => string): Promise<string> {
  if (staging) throw usageProblem('name a folder to check; see flashworthy check --help');
  const { cardSystem } = await import('../node/systems/index.js');
  const { onlyCard } = await import('./only-card.js');
  const { terminalConversation } = await import('./ask.js');
  const { cards } = (await cardSystem()).cards();
  const conversation = cards.length > 0 ? terminalConversation() : null;
  try {
    return await onlyCard(cards, conversation, line);
  } finally {
    conversation?.end();
  }
}

/** Checks one target after the other and hands on each report as it comes, so that none has to be kept. */
async function checkAll(
  { paths, unmatched }: Targets,
  staging: boolean,
  /** The command line about another card, as it is typed. */
  line: (card: string) => string,
  request: CheckRequest,
  sinks: ReportSinks,
  /** True when the reports appear on standard output, where the bar would be in their way. */
  printed: boolean,
  surroundings: Surroundings,
): Promise<ExitCode> {
  const { checkTarget } = await import('./check-target.js');
  const { openTarget } = await import('./open-target.js');
  const { progressBar } = await import('./progress.js');
  const unchecked: Unchecked[] = [];
  const codes = new Set<ExitCode>();
  const bar = progressBar('Checking');
  for (const [index, path] of paths.entries()) {
    if (paths.length > 1) bar.step(index, paths.length);
    try {
      if (unmatched.has(path))
        throw notThere(`${path}: there is no file of that name, and none that matches it as a pattern`);
      const { target, close } = await openTarget(path, staging, line);
      let report: Report;
      try {
        report = checkTarget(target, request);
      } finally {
        close();
      }
      codes.add(verdictExit[report.verdict]);
      if (printed) bar.end();
      await sinks.add(report, index);
    } catch (error) {
      // One target that is not there does not keep the others from being checked.
      const exit = error instanceof CommandProblem ? error.exit : exitCodes.ownFault;
      const text = error instanceof Error ? error.message : String(error);
      bar.end();
      surroundings.note(
        exit === exitCodes.ownFault ? `${path}: a fault of flashworthy itself: ${stackOf(error)}` : text,
      );
      unchecked.push({ path, exit, text });
      codes.add(exit);
    }
  }
  bar.end();
  try {
    await sinks.end(unchecked);
  } catch (error) {
    if (!(error instanceof CommandProblem)) throw error;
    surroundings.note(error.message);
    codes.add(error.exit);
  }
  return worstExit([...codes]);
}

const stackOf = (error: unknown): string =>
  error instanceof Error ? (error.stack ?? error.message) : String(error);

/** How a report is to be written here: width, colours, and the steps of this system. */
export function reportOptions(given: Given, { width, color }: Surroundings): ReportOptions {
  const systems = { win32: 'windows', darwin: 'macos', linux: 'linux' } as const;
  const system = process.platform in systems ? systems[process.platform as keyof typeof systems] : undefined;
  return { width, color, verbose: given.flag('verbose'), ...(system ? { system } : {}) };
}
