import type { Report } from '../report/report.js';
import type { ReportOptions } from '../report/reporters.js';
import type { Unchecked } from '../report/summary.js';
import type { Waiver } from '../rules/judge.js';
import type { CheckRequest, OpenTarget } from './check-target.js';
import type { Command } from './command.js';
import { CommandProblem, type ExitCode, exitCodes, notThere, usageProblem, worstExit } from './exit.js';
import type { Given } from './given.js';
import type { LoadedBoard } from './load-board.js';
import { boardOptions, cardOptions, oneOf, outputOptions, ruleOptions } from './options.js';
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
  const paths = given.texts('target').map((path) => cardPath(path));
  if (paths.length === 0) throw usageProblem('name a card to check; see flashworthy check --help');
  const request = await checkRequest(given, surroundings);
  const inputs = [request.board?.file.path, request.board?.manifest?.path, request.record?.path].filter(
    (path) => path !== undefined,
  );
  const plan = planOutput(given, [...paths, ...inputs]);

  const reports: Report[] = [];
  const unchecked: Unchecked[] = [];
  const codes: ExitCode[] = [];
  for (const path of paths) {
    try {
      const report = await checkPath(path, given.flag('staging'), request);
      reports.push(report);
      codes.push(verdictExit[report.verdict]);
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

async function checkRequest(given: Given, surroundings: Surroundings): Promise<CheckRequest> {
  const { loadBoard } = await import('./load-board.js');
  const { loadProcessors, loadRules } = await import('./load-rules.js');
  const { nodeDigests } = await import('../node/digests.js');
  const { statedMachine } = await import('./stated-machine.js');
  const facts = given.text('facts');
  if (facts !== undefined) oneOf('facts', facts, ['all']);
  const media = await statedMedia(given);
  const board = await loadBoard(given.text('board'), given.text('boards'), given.text('manifest'));
  return {
    board,
    ...(await statedMachine(given, board)),
    media,
    rules: await loadRules(given.text('rules'), surroundings),
    waivers: await compiledWaivers(board),
    useWaivers: !given.flag('no-waivers'),
    allFacts: facts === 'all',
    version: surroundings.version,
    digests: nodeDigests,
    processors: loadProcessors(surroundings),
  };
}

/** The compiler of expressions is loaded only for a profile that waives something under a condition. */
export async function compiledWaivers(
  board: Pick<LoadedBoard, 'profile' | 'file'> | null,
): Promise<Waiver[]> {
  const waivers: Waiver[] = [];
  for (const { rule, only, because, until } of board?.profile.waive ?? []) {
    const common = { rule, because, ...(until === undefined ? {} : { until }) };
    if (only === undefined) waivers.push(common);
    else {
      const { compileCondition, ExpressionError } = await import('../rules/compile.js');
      try {
        waivers.push({ ...common, only: compileCondition(only) });
      } catch (error) {
        if (!(error instanceof ExpressionError)) throw error;
        throw usageProblem(`${board?.file.path}: waive: ${rule}: only: ${error.message}`);
      }
    }
  }
  return waivers;
}

async function statedMedia(given: Given): Promise<CheckRequest['media']> {
  const card = given.text('card');
  const stated = { fresh: given.flag('fresh'), reinserted: given.flag('reinserted') };
  if (card === undefined) return stated;
  const { parseTradeSize } = await import('../board/units.js');
  const size = parseTradeSize(card);
  if (size === undefined || size.nominal === 0)
    throw usageProblem(`--card wants the size printed on the card, such as 32GB; not "${card}"`);
  return { ...stated, cardBytes: size.nominal };
}

export function reportOptions(given: Given, { width, color }: Surroundings): ReportOptions {
  const systems = { win32: 'windows', darwin: 'macos', linux: 'linux' } as const;
  const system = process.platform in systems ? systems[process.platform as keyof typeof systems] : undefined;
  return { width, color, verbose: given.flag('verbose'), ...(system ? { system } : {}) };
}

async function checkPath(path: string, staging: boolean, request: CheckRequest): Promise<Report> {
  const { checkTarget } = await import('./check-target.js');
  const { errorText } = await import('../node/read-cause.js');
  let target: OpenTarget;
  try {
    target = await openTarget(path, staging);
  } catch (error) {
    if (error instanceof CommandProblem || !isSystemError(error)) throw error;
    throw notThere(`${path} cannot be read: ${errorText(error)}`);
  }
  try {
    return checkTarget(target, request);
  } finally {
    if (target.kind === 'image') target.opened.close();
  }
}

const isSystemError = (error: unknown): boolean => error instanceof Error && 'syscall' in error;

async function openTarget(path: string, staging: boolean): Promise<OpenTarget> {
  const { statOrNull } = await import('./inputs.js');
  if (statOrNull(path) === null) throw notThere(`${path}: there is no such file, card or folder`);
  const { targetKind } = await import('../node/target-kind.js');
  const kind = targetKind(path);
  if (staging) {
    if (kind !== 'folder') throw usageProblem(`${path} is not a folder: --staging checks a folder of files`);
    const { readStagingFolder } = await import('../node/staging-folder.js');
    return { kind: 'staging', path, folder: readStagingFolder(path) };
  }
  if (kind === 'folder')
    throw usageProblem(
      `${path} is a folder: mounted cards are not read yet. For files that are not on a card, did you mean --staging? For a card, ${imageAdvice(process.platform)}`,
    );
  if (kind === 'device')
    throw usageProblem(
      `${path} is a device: cards are not read directly yet. Instead, ${imageAdvice(process.platform)}`,
    );
  if (kind === 'other') throw usageProblem(`${path} is neither a file nor a card`);
  return openImageTarget(path);
}

async function openImageTarget(path: string): Promise<OpenTarget> {
  const { openImage } = await import('../node/open-image.js');
  const { notACard } = await import('./not-a-card.js');
  const { progressBar } = await import('./progress.js');
  const bar = progressBar('Unpacking');
  try {
    const opened = await openImage(path, bar.step);
    // A packed image that is broken is a matter for the report: nothing in it can be told apart.
    const reason = opened.crcHeld === false ? null : notACard(opened.source, path);
    if (reason !== null) {
      opened.close();
      throw usageProblem(reason);
    }
    return { kind: 'image', opened };
  } finally {
    bar.end();
  }
}

/** How to make an image of a card on this system. */
function imageAdvice(platform: NodeJS.Platform): string {
  if (platform === 'win32')
    return 'make an image of it with a program that reads a whole card into a file, and check that file';
  const command =
    platform === 'darwin'
      ? 'sudo dd if=/dev/rdiskN of=card.img bs=1m (N as in: diskutil list external)'
      : 'sudo dd if=/dev/sdX of=card.img bs=1M (X as in: lsblk)';
  return `make an image of it and check that: ${command}`;
}
