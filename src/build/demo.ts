import { spawnSync } from 'node:child_process';
import { join } from 'node:path';

/** One command of the demonstration: what it shows, the words of the command line, and the exit code that must come. */
interface Step {
  readonly shows: string;
  readonly words: readonly string[];
  readonly exit: number;
}

const burr = (card: string): string[] => [
  'check',
  `samples/cards/${card}.img.gz`,
  '--board',
  'samples/boards/burr.yaml',
  '--set',
  'panel=none',
];

const tansy31 = 'samples/releases/tansy-31';
/** A Tansy with the small supply and the newer boot loader. */
const smallTansy = ['--supply', '24V/6.5A', '--installed', '31'];
const tansy = (card: string): string[] => [
  'check',
  `samples/cards/${card}.img.gz`,
  '--board',
  tansy31,
  ...smallTansy,
];

const steps: readonly Step[] = [
  {
    shows: 'What is this machine? From what it printed itself',
    words: ['record', 'samples/captures/tansy-30.txt', '--board', tansy31, '--supply', '24V/6.5A'],
    exit: 0,
  },
  {
    shows: 'Which build of a release is for a Tansy with the small supply?',
    words: ['choose', tansy31, ...smallTansy],
    exit: 0,
  },
  { shows: 'The card with that build', words: tansy('tansy-fit'), exit: 0 },
  {
    shows: 'What would the boot loader do with that card, step by step?',
    words: ['rehearse', ...tansy('tansy-fit').slice(1)],
    exit: 0,
  },
  {
    shows: 'The build for the large supply under the same name: it would overload the small one',
    words: tansy('tansy-large-supply'),
    exit: 1,
  },
  {
    shows: 'The build for the older boot loader under the same name',
    words: tansy('tansy-older-loader'),
    exit: 1,
  },
  {
    shows: 'What is this file? Its name does not matter',
    words: ['identify', `${tansy31}/builds/TANSY-150N.LKF`, '--board', tansy31],
    exit: 0,
  },
  { shows: 'Is the release complete, for every machine?', words: ['release', tansy31], exit: 0 },
  { shows: 'A card that the Burr takes', words: burr('burr-good'), exit: 0 },
  { shows: 'The same files on a card with other clusters', words: burr('burr-cluster-size'), exit: 1 },
  { shows: 'A card as cameras and computers format large ones', words: burr('burr-exfat'), exit: 1 },
  { shows: 'A card without the start file', words: burr('burr-companion-missing'), exit: 1 },
  {
    shows: 'A card that was used before: the update file lies in two pieces',
    words: burr('burr-fragmented'),
    exit: 1,
  },
];

/** `npm run demo`: runs the command as it was built over the samples. Fails when an exit code is not the expected one. */
export async function run(root: string): Promise<void> {
  for (const { shows, words, exit } of steps) {
    process.stdout.write(`\n==== ${shows}\n$ flashworthy ${words.join(' ')}\n\n`);
    const { status } = spawnSync(process.execPath, [join(root, 'dist', 'flashworthy.js'), ...words], {
      cwd: root,
      stdio: ['ignore', 'inherit', 'inherit'],
    });
    process.stdout.write(`\n(exit code ${status})\n`);
    if (status !== exit) {
      process.stderr.write(`flashworthy: the demonstration expected exit code ${exit}\n`);
      process.exitCode = 1;
    }
  }
}
