/** One command of the walk-through in README.md. */
export interface Step {
  readonly name: string;
  readonly words: readonly string[];
  /** The exit code that must come. */
  readonly exit: number;
  /**
   * Which stretches of the output README.md shows: each from the first line that begins with one text up to the line
   * before one that begins with another; an empty text is the start or the end. Left out: all of it.
   */
  readonly keep?: readonly (readonly [from: string, to: string])[];
}

const tansy31 = 'samples/releases/tansy-31';
const burr = ['--board', 'samples/boards/burr.yaml', '--set', 'panel=none'];
const mine = ['--machine', 'mine.yaml'];
const board = ['--board', tansy31];

export const walk: readonly Step[] = [
  {
    name: 'record',
    words: [
      ...['record', 'samples/captures/tansy-30.txt', ...board, '--supply', '24V/6.5A'],
      ...['--output', 'mine.yaml'],
    ],
    exit: 0,
    keep: [['', 'Mind']],
  },
  {
    name: 'choose',
    words: ['choose', tansy31, ...mine],
    exit: 0,
    keep: [
      ['', 'Then check'],
      ['Why not', '- limited-older'],
    ],
  },
  {
    name: 'prepare',
    words: ['prepare', tansy31, ...mine, '--to', 'card.img'],
    exit: 0,
    keep: [
      ['', 'Fit, provided'],
      ['How to bring', 'Linux, without'],
    ],
  },
  {
    name: 'refused',
    words: ['check', 'samples/cards/burr-cluster-size.img.gz', ...burr],
    exit: 1,
    keep: [
      ['', 'Checked:'],
      ['What is not', 'Why:'],
    ],
  },
  {
    name: 'rehearse',
    words: ['rehearse', 'card.img', ...board, ...mine],
    exit: 0,
    keep: [
      ['', 'Card:'],
      ['4. Check', '7. Mark'],
      ['Keep the power on', 'The first instruction'],
    ],
  },
  {
    name: 'confirm',
    words: ['confirm', 'mine.yaml', 'samples/captures/tansy-31-after.txt', ...board],
    exit: 1,
    keep: [
      ['', 'M203 X'],
      ['- M92', 'Mind'],
    ],
  },
];
