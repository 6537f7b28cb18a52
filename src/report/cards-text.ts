import { tradeSizeText } from '../bytes/size-text.js';
import { visible } from '../rules/visible.js';
import type { CardEntry, CardsReport } from './cards.js';
import { type LineOptions, Lines } from './lines.js';

/** The cards in a table, with the line to type for each. */
export function cardsText({ cards, incomplete }: CardsReport, options: LineOptions): string {
  const lines = new Lines(options);
  const { bold } = lines.paint;
  if (cards.length === 0) none(lines, incomplete !== null);
  else {
    const rows = cards.map((card, index) => cells(card, cards[index - 1]));
    const widths = heads.map((head, column) =>
      Math.max(head.length, ...rows.map((row) => lengthOf(row[column]!))),
    );
    // The last column has room to the end of the line; what is wider goes on below.
    const before = widths.slice(0, -1).reduce((sum, width) => sum + width + gap, 0);
    const line = (row: readonly string[]): string =>
      row
        .slice(0, -1)
        .map((text, column) => text + ' '.repeat(widths[column]! - lengthOf(text) + gap))
        .join('');
    lines.add(heads.at(-1)!, line(heads), bold);
    for (const row of rows) lines.add(row.at(-1)!, line(row), undefined, ' '.repeat(before));
    lines.section('To check one of them, type');
    for (const { command } of cards) lines.command(command);
    lines.add(
      'With --board and the profile of your board, or its release folder, it is checked for that board.',
      '  ',
    );
    if (cards.some(({ mountedAt }) => mountedAt === null)) {
      lines.blank();
      lines.add(
        'A card that is not mounted shows no files in the computer. Reading it needs administrator rights; if it should be mounted, take it out and put it back.',
      );
    }
  }
  if (incomplete !== null) {
    lines.blank();
    lines.add(`This list may lack cards: ${incomplete}.`);
  }
  return lines.text();
}

const heads = ['NAME', 'SIZE', 'FILE SYSTEM', 'WHERE'];
const gap = 2;
/** Longest name shown whole: a FAT label has 11 characters, an exFAT label 15. */
const longestName = 20;
const longestFileSystem = 12;

/** What stands in the columns. A card with several volumes has several lines, and its size in the first. */
function cells(card: CardEntry, before: CardEntry | undefined): string[] {
  const { label, title, bytes, fileSystem, mountedAt, device } = card;
  const size = bytes === null ? 'not told' : tradeSizeText(bytes);
  return [
    shortened(visible(label ?? (title === null ? '(no name)' : `(${title})`)), longestName),
    before?.device === device ? 'same card' : size,
    shortened(visible(fileSystem ?? 'not told'), longestFileSystem),
    visible(mountedAt ?? `not mounted (${device})`),
  ];
}

const lengthOf = (text: string): number => [...text].length;
const shortened = (text: string, most: number): string =>
  lengthOf(text) > most ? `${[...text].slice(0, most - 3).join('')}...` : text;

function none(lines: Lines, isIncomplete: boolean): void {
  lines.add(isIncomplete ? 'No removable card was seen.' : 'There is no removable card in this computer.');
  lines.section('What to try');
  lines.item('Push the card into the reader until it stays, wait ten seconds, and look again.');
  lines.item('Try another reader, or another socket of the computer.');
  lines.item('A card that the file manager shows can be named without this list:');
  lines.command('flashworthy check THE-FOLDER-OR-DRIVE-OF-THE-CARD');
}
