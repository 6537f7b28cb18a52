import { dirname, join } from 'node:path';
import type { Question } from '../board/choose.js';
import type { Machine, MachineOptions } from '../machine/machine.js';
import type { ChoiceReport } from '../report/choice.js';
import { quoted } from './again.js';
import type { Conversation } from './ask.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import type { LoadedBoard } from './load-board.js';
import { boardOptions, outputOptions } from './options.js';
import type { MachineReader } from './stated-machine.js';
import type { Surroundings } from './surroundings.js';

const { board: _board, ...machineAndPlaces } = boardOptions;
const { facts: _facts, verbose: _verbose, ...reportPlaces } = outputOptions;

/** `choose <release>`: which build of a release is for this machine. */
export const chooseCommand: Command = {
  name: 'choose',
  operands: '[release]',
  describe: 'Which build of a release is for this machine?',
  positionals: {
    release: { type: 'string', describe: 'Release folder, board profile, or the id of a board in --boards' },
  },
  options: { ...machineAndPlaces, ...reportPlaces },
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
  const { choiceReport } = await import('../core/choice-report.js');
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
  const { options, machine } = await machineOf(reader, board, surroundings);
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
    next: nextCommand(release, given, options),
  });
  await writeForms(report, plan, surroundings, surroundings, forms);
  return exitOf[report.outcome];
}

const forms = {
  text: async () => (await import('../report/choose-text.js')).choiceText,
  json: async () => (await import('../report/json.js')).jsonText,
};

// ---- the machine --------------------------------------------------------------------------------------------

interface Told {
  readonly options: MachineOptions;
  readonly machine: Machine;
}

/** What was told about the machine, and what somebody at the terminal answers to the questions that are open. */
async function machineOf(
  { options, read }: MachineReader,
  board: LoadedBoard,
  surroundings: Surroundings,
): Promise<Told> {
  const { machine, problems } = read(options);
  if (problems.length > 0)
    throw usageProblem(problems.map(({ option, message }) => `${option}: ${message}`).join('\n'));
  const { terminalConversation } = await import('./ask.js');
  const conversation = terminalConversation();
  if (conversation === null) return { options, machine };
  try {
    return await askOpenQuestions({ options, machine }, board, conversation, read, surroundings.width);
  } finally {
    conversation.end();
  }
}

/** A wrong answer may be given again this often. */
const attempts = 3;

/** Asks what is open, one question after the other, until a build is decided or the rest is not known. */
export async function askOpenQuestions(
  start: Told,
  { profile, release }: Pick<LoadedBoard, 'profile' | 'release'>,
  conversation: Conversation,
  read: MachineReader['read'],
  width: number,
): Promise<Told> {
  const { openQuestions } = await import('../core/choice-report.js');
  const { answerFrom, questionText } = await import('./ask.js');
  const { wrap } = await import('../report/wrap.js');
  let told = start;
  const skipped = new Set<string>();
  const keyOf = ({ axis, ask }: Question): string => `${axis}\n${ask}`;
  for (;;) {
    const question = openQuestions(profile, told.machine, release).find((one) => !skipped.has(keyOf(one)));
    if (question === undefined) return told;
    let text = questionText(question, width);
    let answered: Told | null = null;
    for (let attempt = 0; attempt < attempts && answered === null; attempt++) {
      const typed = await conversation.ask(text);
      if (typed === null) return told;
      const answer = answerFrom(question, typed);
      if (answer === null) break;
      const options = withAnswer(told, question, answer);
      const { machine, problems } = read(options);
      if (problems.length === 0) answered = { options, machine };
      else text = `${wrap(problems.map(({ message }) => message).join('\n'), width).join('\n')}\nOnce more: `;
    }
    if (answered === null) skipped.add(keyOf(question));
    else told = answered;
  }
}

function withAnswer({ options, machine }: Told, { axis }: Question, answer: string): MachineOptions {
  if (axis === 'supply') return { ...options, supply: answer };
  if (axis === 'installed')
    return machine.nothingInstalled ? { ...options, was: answer } : { ...options, installed: answer };
  return { ...options, sets: { ...options.sets, [axis]: answer } };
}

// ---- what to type next --------------------------------------------------------------------------------------

/** The check of the card that was made by this choice, with the same words about the machine. */
function nextCommand(
  release: string,
  given: Given,
  { supply, installed, was, sets }: MachineOptions,
): string {
  const words = ['flashworthy', 'check', 'CARD', '--board', release];
  const add = (option: string, value: string | undefined): void => {
    if (value !== undefined) words.push(`--${option}`, value);
  };
  add('boards', given.text('boards'));
  add('manifest', given.text('manifest'));
  add('machine', given.text('machine'));
  add('supply', supply);
  add('installed', installed);
  add('was', was);
  for (const [axis, value] of Object.entries(sets ?? {})) add('set', `${axis}=${value}`);
  return words.map(quoted).join(' ');
}
