import type { Waiver } from '../rules/judge.js';
import type { CheckRequest } from './check-target.js';
import { usageProblem } from './exit.js';
import type { Given } from './given.js';
import type { LoadedBoard } from './load-board.js';
import { oneOf } from './options.js';
import type { Surroundings } from './surroundings.js';

/**
 * Reads what is the same for every target of a run: board, machine, what the owner says of the card, rules.
 * @param known board and machine, where the command has read them already
 */
export async function checkRequest(
  given: Given,
  surroundings: Surroundings,
  known?: Pick<CheckRequest, 'board' | 'machine' | 'record'>,
): Promise<CheckRequest> {
  const { loadBoard } = await import('./load-board.js');
  const { loadProcessors, loadRules } = await import('./load-rules.js');
  const { nodeDigests } = await import('../node/digests.js');
  const { statedMachine } = await import('./stated-machine.js');
  const facts = given.text('facts');
  if (facts !== undefined) oneOf('facts', facts, ['all']);
  const media = await statedMedia(given);
  const board =
    known?.board ?? (await loadBoard(given.text('board'), given.text('boards'), given.text('manifest')));
  return {
    board,
    ...(known ?? (await statedMachine(given, board))),
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
