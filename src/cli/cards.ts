import type { CardList } from '../node/systems/system.js';
import type { CardsReport } from '../report/cards.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes } from './exit.js';
import type { Given } from './given.js';
import { oneOf, value } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `cards`: the removable cards of this computer. */
export const cardsCommand: Command = {
  name: 'cards',
  operands: '',
  describe: 'List the removable cards of this computer',
  positionals: {},
  options: { format: value('Form of the list: text or json') },
  exits: '0 listed, even when there is none',
  run: runCards,
};

async function runCards(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const format = oneOf('format', given.text('format') ?? 'text', ['text', 'json']);
  const { cardSystem } = await import('../node/systems/index.js');
  const { insideWindows } = await import('../node/systems/wsl.js');
  const { platform } = process;
  const report = cardsReport(
    (await cardSystem()).cards(),
    surroundings.version,
    platform,
    insideWindows(platform),
  );
  if (format === 'json') {
    const { jsonText } = await import('../report/json.js');
    await surroundings.out(jsonText(report));
  } else {
    const { cardsText } = await import('../report/cards-text.js');
    await surroundings.out(cardsText(report, surroundings));
  }
  return exitCodes.fit;
}

const whereWindowsIs =
  'this is Linux inside Windows, and the card reader belongs to Windows: run flashworthy there, or name the drive as Linux shows it, such as /mnt/e';

/** The list as a report, with the line to type for each card. */
export const cardsReport = (
  { cards, incomplete }: CardList,
  version: string,
  platform: NodeJS.Platform,
  isInsideWindows = false,
): CardsReport => ({
  schema: 'flashworthy-cards/1',
  tool: { name: 'flashworthy', version },
  cards: cards.map(({ target, device, title, bytes, fileSystem, label, mountedAt }) => ({
    target,
    device,
    title,
    bytes,
    fileSystem,
    label,
    mountedAt,
    command: `flashworthy check ${shellWord(target, platform)}`,
  })),
  incomplete: isInsideWindows
    ? [incomplete, whereWindowsIs].filter((why) => why !== null).join('; ')
    : incomplete,
});

/**
 * One word for the command line of this system. Shells elsewhere take anything between single quotes; those of
 * Windows want double ones, which no path there can hold.
 */
function shellWord(text: string, platform: NodeJS.Platform): string {
  if (/^[\w./:\\@+-]+$/.test(text) && (platform === 'win32' || !text.includes('\\'))) return text;
  return platform === 'win32' ? `"${text}"` : `'${text.replaceAll("'", "'\\''")}'`;
}
