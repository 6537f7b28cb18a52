import { dirname, join } from 'node:path';
import type { ChoiceReport } from '../report/choice.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, twoForms } from './options.js';
import type { Surroundings } from './surroundings.js';

const { board: _board, ...machineAndPlaces } = boardOptions;

/** `choose <release>`: which build of a release is for this machine. */
export const chooseCommand: Command = {
  name: 'choose',
  operands: '[release]',
  describe: 'Which build of a release is for this machine?',
  positionals: {
    release: { type: 'string', describe: 'Release folder, board profile, or the id of a board in --boards' },
  },
  options: { ...machineAndPlaces, ...twoForms },
  exits: '0 one build, 1 none, 2 a question is open',
  run: runChoose,
};

const exitOf: Readonly<Record<ChoiceReport['outcome'], ExitCode>> = {
  one: exitCodes.fit,
  none: exitCodes.refused,
  tie: exitCodes.notProven,
  open: exitCodes.notProven,
  any: exitCodes.notProven,
  silent: exitCodes.notProven,
};

async function runChoose(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { loadBoard } = await import('./load-board.js');
  const { planOutput, writeForms } = await import('./output.js');
  const { choiceReport, openQuestions } = await import('../core/choice-report.js');
  const { machineOf } = await import('./ask-machine.js');
  const { nextCommand } = await import('./again.js');
  const { nodeDigests } = await import('../node/digests.js');
  const release = given.text('release');
  if (release === undefined) throw usageProblem('name a release folder; see flashworthy choose --help');
  const board = await loadBoard(release, given.text('boards'), given.text('manifest'));
  if (board === null) throw new Error('a board was named and none was loaded');
  const { file, manifest } = board;
  const { machineReader } = await import('./stated-machine.js');
  const reader = await machineReader(given, board);
  const inputs = [file, manifest, reader.record].filter((one) => one !== null);
  const plan = planOutput(
    given,
    inputs.map(({ path }) => path),
    Object.keys(forms),
  );
  const { options, machine } = await machineOf(reader, surroundings.width, (told) =>
    openQuestions(board.profile, told, board.release),
  );
  const folder = dirname((manifest ?? file).path);
  const { readReleaseFile } = await import('./release-file.js');
  const report = choiceReport({
    profile: board.profile,
    machine,
    manifest: board.release,
    read: (path) => readReleaseFile(join(folder, path)),
    digests: nodeDigests,
    version: surroundings.version,
    inputs: inputs.map(({ role, path, sha256 }) => ({ role, path, sha256 })),
    next: nextCommand('check', ['CARD', '--board', release], given, options),
  });
  await writeForms(report, plan, surroundings, surroundings, forms);
  return exitOf[report.outcome];
}

const forms = {
  text: async () => (await import('../report/choose-text.js')).choiceText,
  json: async () => (await import('../report/json.js')).jsonText,
};
