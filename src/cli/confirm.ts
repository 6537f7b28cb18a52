import type { MachineOptions } from '../machine/machine.js';
import type { MeasuredMove } from '../machine/steps.js';
import type { ConfirmationReport } from '../report/confirmation.js';
import { quoted } from './again.js';
import type { Command } from './command.js';
import { CommandProblem, type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, twoForms, value } from './options.js';
import type { Surroundings } from './surroundings.js';

const { board, boards, manifest } = boardOptions;
const settings = 'The settings:';

/** `confirm <record> <capture>`: did the flash come out as meant, and which settings have to be entered again. */
export const confirmCommand: Command = {
  name: 'confirm',
  operands: '[record] [capture]',
  describe: 'After the flash: is the machine as meant, and which settings have to be entered again?',
  positionals: {
    record: { type: 'string', describe: 'Machine record that was made before the flash' },
    capture: { type: 'string', describe: 'File with the lines of the terminal after the flash' },
  },
  options: {
    board,
    boards,
    manifest,
    release: value(
      'Release that was meant; else the one of the release manifest',
      'The board and the machine:',
    ),
    steps: value('A measured move, as X=commanded:measured: calculates steps; may be repeated', settings),
    lines: value('Write the lines of G-code to enter to this file', settings),
    ...twoForms,
  },
  exits: '0 as meant, 1 something differs, 2 cannot tell',
  run: runConfirm,
};

const exitOf: Readonly<Record<ConfirmationReport['outcome'], ExitCode>> = {
  'as-meant': exitCodes.fit,
  differs: exitCodes.refused,
  'cannot-tell': exitCodes.notProven,
};

async function runConfirm(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const [recordPath, capturePath, named] = [given.text('record'), given.text('capture'), given.text('board')];
  if (recordPath === undefined || capturePath === undefined)
    throw usageProblem('name a machine record and a capture; see flashworthy confirm --help');
  if (named === undefined)
    throw usageProblem(
      'say which board it is with --board: a profile, a release folder, or an id in --boards',
    );
  const moves = measuredMoves(given, (await import('../machine/steps.js')).parseMove);
  const { loadBoard } = await import('./load-board.js');
  const { planOutput, writeForms } = await import('./output.js');
  const { placedProblems, readInput } = await import('./inputs.js');
  const loaded = await loadBoard(named, given.text('boards'), given.text('manifest'));
  if (loaded === null) throw new Error('a board was named and none was loaded');
  const { profile, file: profileFile } = loaded;
  const meant = await meantRelease(given, loaded.release?.release ?? null, profile);
  const recordFile = readInput('machine record', recordPath);
  const { captureFile } = await import('./read-capture.js');
  const { file, capture } = captureFile(capturePath, profile);
  const inputs = [profileFile, loaded.manifest, recordFile, file].filter((one) => one !== null);
  const paths = inputs.map(({ path }) => path);
  const plan = planOutput(given, paths, Object.keys(forms));
  const places = [plan.file, ...plan.more.map((one) => one.file)].filter((one) => one !== undefined);
  const linesFile = await linesPlace(given, [...paths, ...places]);
  const { machineFromRecord, readRecord, RecordError } = await import('../machine/record.js');
  const { confirmationReport } = await import('../core/confirmation-report.js');
  let report: ConfirmationReport;
  try {
    const record = readRecord(recordFile.text, recordPath, profile);
    report = confirmationReport({
      profile,
      record,
      machine: machineFromRecord(record, {}, profile).machine,
      capture,
      meant,
      moves,
      version: surroundings.version,
      inputs: inputs.map(({ role, path, sha256 }) => ({ role, path, sha256 })),
      commands: {
        again: againLine(given, recordPath, capturePath, named),
        record: ['flashworthy', 'record', 'CAPTURE', '--board', named, ...statedAgain(record.options)]
          .map(quoted)
          .join(' '),
        rehearse: ['flashworthy', 'rehearse', 'CARD', '--board', named, '--machine', recordPath]
          .map(quoted)
          .join(' '),
      },
    });
  } catch (error) {
    if (error instanceof RecordError) throw usageProblem(placedProblems(error.problems));
    throw error;
  }
  await writeForms(report, plan, surroundings, surroundings, forms);
  if (linesFile !== undefined) await writeLines(report, linesFile, plan.force, surroundings);
  return exitOf[report.outcome];
}

const forms = {
  text: async () => (await import('../report/confirm-text.js')).confirmText,
  json: async () => (await import('../report/json.js')).jsonText,
};

function measuredMoves(given: Given, parseMove: (text: string) => MeasuredMove | undefined): MeasuredMove[] {
  const moves = given.texts('steps').map((text) => {
    const move = parseMove(text);
    if (move === undefined)
      throw usageProblem(`--steps wants axis=commanded:measured, such as X=100:99.2; not "${text}"`);
    return move;
  });
  const twice = moves.find(({ axis }, at) => moves.some((other, then) => then < at && other.axis === axis));
  if (twice !== undefined) throw usageProblem(`--steps ${twice.axis}=… is given twice`);
  return moves;
}

/** The release of `--release`, which must not contradict the release folder; else the one of the folder. */
async function meantRelease(
  given: Given,
  published: string | null,
  profile: Parameters<typeof import('../machine/machine.js').answerProblem>[2],
): Promise<string | null> {
  const said = given.text('release');
  if (said === undefined) return published;
  if (published !== null && said !== published)
    throw usageProblem(
      `--release ${said} was meant, and the release manifest is of release ${published}: name the right release folder, or leave --release out`,
    );
  const { releaseNumbering } = await import('../board/check.js');
  const { valueProblem } = await import('../board/ranges.js');
  const problem = valueProblem(said, releaseNumbering(profile));
  if (problem !== undefined) throw usageProblem(`--release: ${problem}`);
  return said;
}

/** Where the lines go. Ends the command before any work when they cannot be written there. */
async function linesPlace(given: Given, taken: readonly string[]): Promise<string | undefined> {
  const path = given.text('lines');
  if (path === undefined) return undefined;
  const { resolve } = await import('node:path');
  const { writeObstacle } = await import('../node/write-new-file.js');
  const { realPath } = await import('./output.js');
  if (taken.some((one) => realPath(one) === realPath(resolve(path))))
    throw usageProblem(`${path} is read or written already: write the lines elsewhere`);
  const obstacle = writeObstacle(path, given.flag('force'));
  if (obstacle !== null) throw new CommandProblem(exitCodes.notWritten, obstacle);
  return path;
}

async function writeLines(
  report: ConfirmationReport,
  path: string,
  force: boolean,
  { note }: Surroundings,
): Promise<void> {
  const { gcodeLines } = await import('../report/gcode-lines.js');
  const { WriteProblem, writeNewFile } = await import('../node/write-new-file.js');
  const text = gcodeLines(report);
  if (text === null) {
    note(`there are no lines to enter, so ${path} was not written`);
    return;
  }
  try {
    writeNewFile(path, text, force);
  } catch (error) {
    if (error instanceof WriteProblem) throw new CommandProblem(exitCodes.notWritten, error.message);
    throw error;
  }
}

/** What the owner said in the old record and no capture says. */
function statedAgain({ supply, sets }: MachineOptions): string[] {
  return [
    ...(supply === undefined ? [] : ['--supply', supply]),
    ...Object.entries(sets ?? {}).flatMap(([axis, answer]) => ['--set', `${axis}=${answer}`]),
  ];
}

function againLine(given: Given, record: string, capture: string, named: string): string {
  const words = ['flashworthy', 'confirm', record, capture, '--board', named];
  for (const option of ['boards', 'manifest', 'release'])
    for (const text of given.texts(option)) words.push(`--${option}`, text);
  return words.map(quoted).join(' ');
}
