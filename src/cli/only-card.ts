import { tradeSizeText } from '../bytes/size-text.js';
import type { ListedCard } from '../node/systems/system.js';
import { visible } from '../rules/visible.js';
import type { Conversation } from './ask.js';
import { usageProblem } from './exit.js';

/**
 * The card that an owner means who names none: the only one in this computer, or the one that is chosen. Ends the
 * command with 64, naming what there is, when nobody is there to answer or the answer is no.
 * @param line the command line about a card, as it is typed
 */
export async function onlyCard(
  cards: readonly ListedCard[],
  conversation: Conversation | null,
  line: (card: string) => string,
): Promise<string> {
  if (cards.length === 0)
    throw usageProblem(
      'name a card to check; there is no removable card in this computer, see flashworthy cards',
    );
  const named = usageProblem(
    cards.length === 1
      ? `name a card to check; there is one in this computer: ${line(cards[0]!.target)}`
      : `name a card to check; there are ${cards.length} in this computer: ${cards.map(({ target }) => line(target)).join(', or: ')}`,
  );
  if (conversation === null) throw named;
  const answer = (await conversation.ask(questionOf(cards)))?.trim().toLowerCase() ?? '';
  if (cards.length === 1) {
    if (answer === 'y' || answer === 'yes') return cards[0]!.target;
    throw named;
  }
  const chosen = /^[1-9][0-9]{0,3}$/.test(answer) ? cards[Number(answer) - 1] : undefined;
  if (chosen === undefined) throw named;
  return chosen.target;
}

function questionOf(cards: readonly ListedCard[]): string {
  if (cards.length === 1)
    return `\nThe only card in this computer is ${cardText(cards[0]!)}.\nCheck it? y, or Enter alone for no: `;
  const list = cards.map((card, index) => `  ${index + 1}  ${cardText(card)}`);
  return `\nWhich of these cards?\n${list.join('\n')}\nA number, or Enter alone for none: `;
}

function cardText({ target, label, title, bytes }: ListedCard): string {
  const about = [label ?? title, bytes === null ? null : tradeSizeText(bytes)].filter(
    (each) => each !== null,
  );
  return visible(about.length === 0 ? target : `${target} (${about.join(', ')})`);
}
