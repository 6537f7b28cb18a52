import type { ReadProfile } from '../board/read.js';
import type { BoardCheck, BoardProblem } from '../report/board-check.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, ruleOptions, twoForms } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `board check <profile>`: whether a board profile is sound, for its author. */
export const boardCheckCommand: Command = {
  name: 'board check',
  operands: '<profile>',
  describe: 'Check a board profile, for its author',
  positionals: {
    profile: { type: 'string', describe: 'A board profile, or a release folder with its board.yaml' },
  },
  options: {
    boards: boardOptions.boards,
    manifest: boardOptions.manifest,
    rules: ruleOptions.rules,
    ...twoForms,
  },
  exits: '0 sound, 1 not sound',
  run: runBoardCheck,
};

async function runBoardCheck(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { findProfile } = await import('./load-board.js');
  const { readInput } = await import('./inputs.js');
  const { planOutput, writeForms } = await import('./output.js');
  const named = given.text('profile');
  if (named === undefined) throw usageProblem('name a board profile; see flashworthy board check --help');
  const { path } = findProfile(named, given.text('boards'));
  const file = readInput('board profile', path);
  const plan = planOutput(given, [path], Object.keys(forms));
  const report: BoardCheck = {
    schema: 'flashworthy-board-check/1',
    tool: { name: 'flashworthy', version: surroundings.version },
    inputs: [{ role: file.role, path: file.path, sha256: file.sha256 }],
    ...(await found(named, file, given, surroundings)),
  };
  await writeForms(report, plan, surroundings, surroundings, forms);
  return report.sound ? exitCodes.fit : exitCodes.refused;
}

const forms = {
  text: async () => (await import('../report/board-check-text.js')).boardCheckText,
  json: async () => (await import('../report/json.js')).jsonText,
};

type Found = Omit<BoardCheck, 'schema' | 'tool' | 'inputs'>;

/** A profile that cannot be read is the very subject here, not wrong use. */
async function found(
  named: string,
  file: { readonly path: string; readonly text: string },
  given: Given,
  surroundings: Surroundings,
): Promise<Found> {
  const { ProfileError, readProfile } = await import('../board/read.js');
  try {
    readProfile(file.text, file.path);
  } catch (error) {
    if (!(error instanceof ProfileError)) throw error;
    const problems = error.problems.map(
      ({ file: at, line, column, message }): BoardProblem => ({
        level: 'wrong',
        file: at,
        line,
        column,
        text: message,
      }),
    );
    return { board: null, sound: false, problems, choice: null, silent: [], coverage: null };
  }
  const { loadBoard } = await import('./load-board.js');
  const board = await loadBoard(named, given.text('boards'), given.text('manifest'));
  if (board === null) throw new Error('a board was named and none was loaded');
  const { loadProcessors, loadRules } = await import('./load-rules.js');
  const { checkBoard } = await import('../board/soundness.js');
  const { processorOf } = await import('../firmware/processors.js');
  const { rules } = await loadRules(given.text('rules'), surroundings);
  const { profile, release, locate } = board;
  const said = profile.processor;
  const { remarks, ...rest } = checkBoard(profile, {
    rules: rules.map(({ id, keystone, hazard, touches }) => ({
      id,
      keystone,
      hazards: hazard.map(({ is }) => is),
      touches,
    })),
    processor: said === undefined || said === 'any' ? null : processorOf(said, loadProcessors(surroundings)),
    release: release?.release ?? null,
  });
  const problems = [
    ...remarks.map(
      ({ level, path, text }): BoardProblem => ({ level, file: file.path, ...locate(path), text }),
    ),
    ...(await conditionProblems(board, file.path)),
  ].sort((a, b) => a.line - b.line || a.column - b.column);
  return {
    board: { id: profile.id, title: profile.title, revision: profile.revision },
    sound: problems.every(({ level }) => level === 'advice'),
    problems,
    ...rest,
  };
}

/** Conditions of waivers that are no expressions over facts. */
async function conditionProblems({ profile, locate }: ReadProfile, file: string): Promise<BoardProblem[]> {
  const { compileCondition, ExpressionError } = await import('../rules/compile.js');
  return profile.waive.flatMap(({ only }, index): BoardProblem[] => {
    if (only === undefined) return [];
    try {
      compileCondition(only);
      return [];
    } catch (error) {
      if (!(error instanceof ExpressionError)) throw error;
      return [{ level: 'fault', file, ...locate(['waive', index, 'only']), text: error.message }];
    }
  });
}
