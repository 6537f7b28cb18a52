import type { KnownGood, Unteachable } from '../core/learn.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { outputOptions, value } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `board learn <card> <card>…`: a proposal for a profile from cards that are known to have flashed. */
export const boardLearnCommand: Command = {
  name: 'board learn',
  operands: '[card..]',
  describe: 'Propose a profile from cards that are known to have flashed',
  positionals: {
    card: { type: 'string', describe: 'Images of two cards or more, raw or .gz, that have flashed' },
  },
  options: {
    file: value('The update file on the cards, such as FOLDER/NAME.EXT; asked for when it is not clear'),
    id: value('Name for the board in file names and reports, such as tansy'),
    title: value('Name of the board for people'),
    output: outputOptions.output,
    force: outputOptions.force,
  },
  exits: '0 proposed, 1 nothing can be learned from a card',
  run: runBoardLearn,
};

async function runBoardLearn(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { planOutput, writeForms } = await import('./output.js');
  const paths = given.texts('card');
  if (paths.length < 2)
    throw usageProblem(
      'name two cards or more that are known to have flashed; one card alone may be a lucky one',
    );
  const plan = planOutput(given, paths, ['text']);
  const { learnFrom, proposals } = await import('../core/learn.js');
  const { openTarget } = await import('./open-target.js');
  const { nodeDigests } = await import('../node/digests.js');
  const opened: Awaited<ReturnType<typeof openTarget>>[] = [];
  try {
    for (const path of paths)
      opened.push(await openTarget(path, false, (card) => `flashworthy board learn ${card} …`));
    const cards = opened.map(({ target }) => ({ target, stated: {}, digests: nodeDigests }));
    const file = given.text('file') ?? (await onlyCommonFile(cards));
    const learned = cards.map((card) => learnFrom(card, file));
    const bad = learned.filter((one): one is Unteachable => 'because' in one);
    for (const { path, because } of bad)
      surroundings.note(`nothing can be learned from ${path}: ${because.join('; ')}`);
    if (bad.length > 0) return exitCodes.refused;
    const good = learned.filter((one): one is KnownGood => !('because' in one));
    const text = await profileText(given, good, proposals(good));
    await writeForms(text, plan, surroundings, surroundings, { text: async () => (whole: string) => whole });
    return exitCodes.fit;
  } finally {
    for (const { close } of opened) close();
  }
}

type Card = Parameters<typeof import('../core/learn.js').learnFrom>[0];

/** The one file that stands on every card. Ends the command with 64 when there are more, or none. */
async function onlyCommonFile(cards: readonly Card[]): Promise<string> {
  const { filesOn, onAll } = await import('../core/learn.js');
  const common = onAll(cards.map((card) => filesOn(card)));
  const [only] = common;
  if (only !== undefined && common.length === 1) return only;
  throw usageProblem(
    only === undefined
      ? 'no file stands on every one of these cards: say which is the update file with --file'
      : `several files stand on every card (${common.slice(0, 10).join(', ')}${common.length > 10 ? ', …' : ''}): say which is the update file with --file`,
  );
}

async function profileText(
  given: Given,
  good: readonly KnownGood[],
  learned: ReturnType<typeof import('../core/learn.js').proposals>,
): Promise<string> {
  const { draftText } = await import('../board/draft.js');
  const { onAll } = await import('../core/learn.js');
  const others = onAll(good.map((card) => card.others));
  return draftText(
    [
      'A proposal, made from cards that flashed. What stands here was seen to work; what differs from it was never tried, and is not proven.',
      `Cards: ${good.map(({ path }) => path).join(', ')}.`,
      ...(others.length === 0
        ? []
        : [
            `Also on every card: ${others.join(', ')}. If the loader wants one of them, list it under companions.`,
          ]),
      'Take out what is wrong, add what is missing, then: flashworthy board check FILE',
    ],
    [
      {
        key: 'id',
        value: given.text('id') ?? 'my-board',
        comment: 'Name of the board in file names and reports.',
      },
      { key: 'title', value: given.text('title') ?? 'My board', comment: 'Name of the board for people.' },
      { key: 'revision', value: 1, comment: 'Counts up with every change.' },
      { key: 'basis', value: { loader: 'seen', update: 'seen' }, comment: 'How these things are known.' },
      {
        key: 'builds',
        comment:
          'Which builds there are, and for which machines; any accepts every file of the right form and place.',
      },
      ...learned,
    ],
  );
}
