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

export const walk: readonly Step[] = [
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
    name: 'choose',
    words: ['choose', tansy31, '--supply', '24V/6.5A', '--installed', '31'],
    exit: 0,
    keep: [
      ['', 'Why not the others'],
      ['Why not', '- limited-older'],
    ],
  },
];
