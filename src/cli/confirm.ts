import { resolve } from 'node:path';
import type { Measured } from '../machine/steps.js';
import type { Confirmation } from '../report/confirmation.js';
import type { Command } from './command.js';
import { CommandProblem, type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, outputOptions, value } from './options.js';
import type { Surroundings } from './surroundings.js';

const { board, boards, manifest } = boardOptions;
const { format, report, output, force } = outputOptions;

/** `confirm <record> <capture>`: whether a flash came out as it was meant. */
export const confirmCommand: Command = {
  name: 'confirm',
  operands: '[record] [capture]',
  describe: 'After the flash: did it take, and which settings to enter again?',
  positionals: {
    record: { type: 'string', describe: 'Machine record from before the flash' },
    capture: { type: 'string', describe: 'Text of a terminal from after the flash' },
  },
  options: {
    board,
    boards,
    manifest,
    release: value('Release that was meant; else the one of the manifest', 'The flash:'),
    steps: value('Way of an axis, as X=TOLD:MEASURED, such as X=100:98.7; may be repeated', 'The flash:'),
    lines: value('Write the lines to enter to this file, and nothing else in it', 'The report:'),
    format,
    report,
    output,
    force,
  },
  exits: '0 as meant, 1 differs, 2 cannot tell',
  run: runConfirm,
};

const exitOf = {
  'as-meant': exitCodes.fit,
  differs: exitCodes.refused,
  'cannot-tell': exitCodes.notProven,
} as const;

const forms = {
  text: async () => (await import('../report/confirm-text.js')).confirmText,
  json: async () => (await import('../report/json.js')).jsonText,
};

async function runConfirm(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { loadBoard } = await import('./load-board.js');
  const { placedProblems, readCaptureInput, readInput } = await import('./inputs.js');
  const { planOutput, writeForms } = await import('./output.js');
  const { readRecord, RecordError } = await import('../machine/record.js');
  const { readCapture } = await import('../machine/capture.js');
  const { identityKeys } = await import('../core/make-record.js');
  const { confirmFlash } = await import('../core/confirm.js');
  const { answerProblem } = await import('../machine/machine.js');
  const [recordPath, capturePath] = [given.text('record'), given.text('capture')];
  if (recordPath === undefined || capturePath === undefined)
    throw usageProblem(
      'name the record from before and the capture from after; see flashworthy confirm --help',
    );
  const loaded = await loadBoard(given.text('board'), given.text('boards'), given.text('manifest'));
  if (loaded === null) throw usageProblem('say which board it is: --board and a release folder or a profile');
  const { profile } = loaded;
  const record = readInput('machine record', recordPath);
  const capture = readCaptureInput(capturePath);
  const linesFile = given.text('lines');
  const read = [loaded.file, loaded.manifest, record, capture].filter((file) => file !== null);
  const inputs = read.map(({ path }) => path);
  const plan = planOutput(
    given,
    linesFile === undefined ? inputs : [...inputs, linesFile],
    Object.keys(forms),
  );
  if (linesFile !== undefined) {
    // Nothing that was read is ever written over, and nobody waits for what then has no place.
    if (inputs.some((path) => resolve(path) === resolve(linesFile)))
      throw usageProblem(`${linesFile} is read here: give the lines a file of their own`);
    const { writeObstacle } = await import('../node/write-new-file.js');
    const obstacle = writeObstacle(linesFile, given.flag('force'));
    if (obstacle !== null) throw new CommandProblem(exitCodes.notWritten, obstacle);
  }
  const meant = given.text('release') ?? loaded.release?.release ?? null;
  const problem = meant === null ? undefined : answerProblem('installed', meant, profile);
  if (problem) throw usageProblem(`--release: ${problem}`);
  let written: ReturnType<typeof readRecord>;
  try {
    written = readRecord(record.text, recordPath, profile);
  } catch (error) {
    if (error instanceof RecordError) throw usageProblem(placedProblems(error.problems));
    throw error;
  }
  const confirmation = confirmFlash({
    profile,
    record: written,
    capture: readCapture(capture.text, Object.values(identityKeys(profile))),
    meant,
    measured: await measuredWays(given),
    version: surroundings.version,
    inputs: read.map(({ role, path, sha256 }) => ({ role, path, sha256 })),
  });
  await writeForms(confirmation, plan, surroundings, surroundings, forms);
  if (linesFile !== undefined) await writeLines(linesFile, confirmation, given.flag('force'), surroundings);
  return exitOf[confirmation.outcome];
}

async function measuredWays(given: Given): Promise<Measured[]> {
  const { parseMeasured } = await import('../machine/steps.js');
  const ways = given.texts('steps').map((text) => {
    const way = parseMeasured(text);
    if (way === null)
      throw usageProblem(`--steps wants an axis and two lengths, such as X=100:98.7; not "${text}"`);
    return way;
  });
  const axes = ways.map(({ axis }) => axis);
  const twice = axes.find((axis, at) => axes.indexOf(axis) !== at);
  if (twice !== undefined) throw usageProblem(`--steps ${twice}=… is given twice`);
  return ways;
}

/** The G-code alone: what carries over, then the steps, each with a comment that says which it is. */
async function writeLines(
  path: string,
  { lines, stepsLines }: Confirmation,
  force: boolean,
  surroundings: Surroundings,
): Promise<void> {
  const { WriteProblem, writeNewFile } = await import('../node/write-new-file.js');
  const parts = [
    ...(lines.length === 0 ? [] : ['; Settings that carry over', ...lines]),
    ...(stepsLines.length === 0 ? [] : ['; Steps per unit, as measured', ...stepsLines]),
  ];
  if (parts.length === 0) {
    surroundings.note(`there is nothing to enter: ${path} was not written`);
    return;
  }
  try {
    writeNewFile(path, `${parts.join('\n')}\n`, force);
  } catch (error) {
    if (!(error instanceof WriteProblem)) throw error;
    throw new CommandProblem(exitCodes.notWritten, error.message);
  }
}
