import { spawnSync } from 'node:child_process';
import { join } from 'node:path';

/** One check of the demonstration: what it shows, the words of the command line, and the exit code that must come. */
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

const steps: readonly Step[] = [
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

/** `npm run demo`: checks the sample cards with the command as it was built. Fails when a verdict is not the expected one. */
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
