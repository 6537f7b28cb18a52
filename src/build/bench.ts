import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { performance } from 'node:perf_hooks';

/** Counted runs of each command; the median is printed. */
const runs = 11;
const filesOnCard = 10_000;

/**
 * `npm run bench`: one `check` of an 8 GB and of a 32 GB card with 10,000 files, beside the start-up of Node alone and
 * `fsck.fat -n` on the same images. Whole processes, in turn, so that a machine that slows down slows them all.
 */
export async function run(root: string): Promise<void> {
  const work = mkdtempSync(join(tmpdir(), 'flashworthy-bench-'));
  const command = join(root, 'dist', 'flashworthy.js');
  const board = join(root, 'samples', 'boards', 'burr.yaml');
  try {
    const node = { name: 'Node alone', words: [process.execPath, '-e', '0'] };
    process.stdout.write(`median of ${runs} runs, whole processes; ${filesOnCard} files in folders of 500\n`);
    for (const [name, bytes, sectorsPerCluster] of [
      ['8 GB', 8e9, 8],
      ['32 GB', 32e9, 64],
    ] as const) {
      const image = makeCard(join(work, 'card.img'), bytes, sectorsPerCluster, work);
      const timed = inTurn([
        node,
        { name: 'fsck.fat -n', words: ['fsck.fat', '-n', image.volume] },
        {
          name: 'flashworthy check',
          words: [process.execPath, command, 'check', image.card, '--board', board, '--set', 'panel=none'],
        },
      ]);
      const [bare, fsck, own] = timed as [number, number, number];
      process.stdout.write(
        `${name.padEnd(6)} Node ${ms(bare)}  fsck.fat -n ${ms(fsck)}  check ${ms(own)}  ` +
          `= ${(own / bare).toFixed(2)} x Node, ${(own / fsck).toFixed(2)} x fsck.fat\n`,
      );
      rmSync(image.card);
      rmSync(image.volume, { force: true });
    }
  } finally {
    rmSync(work, { recursive: true, force: true });
  }
}

const ms = (value: number): string => `${value.toFixed(0)} ms`.padStart(7);

/** The card as a whole for us, and its volume as a file of its own for fsck.fat, which knows no partition tables. */
function makeCard(card: string, bytes: number, sectorsPerCluster: number, work: string) {
  const start = 8192;
  const volume = join(work, 'volume.img');
  const sectors = Math.floor(bytes / 512) - start;
  writeFileSync(volume, '');
  truncateSync(volume, sectors * 512);
  quiet('mkfs.fat', ['-F', '32', '-s', String(sectorsPerCluster), '-h', String(start), volume]);
  const tree = join(work, 'tree');
  for (let file = 0; file < filesOnCard; file++) {
    const folder = join(tree, `DIR${String(Math.floor(file / 500)).padStart(3, '0')}`);
    if (file % 500 === 0) mkdirSync(folder, { recursive: true });
    writeFileSync(join(folder, `a file with a long name ${file}.txt`), 'x');
  }
  quiet('mcopy', [
    '-s',
    '-i',
    volume,
    join(tree, 'DIR000'),
    ...Array.from({ length: filesOnCard / 500 - 1 }, (_, i) =>
      join(tree, `DIR${String(i + 1).padStart(3, '0')}`),
    ),
    '::',
  ]);
  rmSync(tree, { recursive: true });
  writeFileSync(card, '');
  truncateSync(card, start * 512 + sectors * 512);
  execFileSync('sfdisk', ['-q', '--no-tell-kernel', card], { input: `label: dos\nstart=${start}, type=c\n` });
  quiet('dd', [
    `if=${volume}`,
    `of=${card}`,
    'bs=4M',
    // Everything in use lies in the first gibibyte; the rest are holes in both files.
    'count=256',
    'seek=1',
    'conv=notrunc,sparse',
    'status=none',
  ]);
  return { card, volume };
}

function quiet(command: string, words: string[]): void {
  execFileSync(command, words, { stdio: 'ignore', env: { ...process.env, MTOOLS_SKIP_CHECK: '1' } });
}

/** Median wall time in milliseconds of each command, run in turn after one run that is not counted. */
function inTurn(commands: { name: string; words: string[] }[]): number[] {
  const times = commands.map((): number[] => []);
  for (let round = 0; round <= runs; round++)
    for (const [at, { words }] of commands.entries()) {
      const [program, ...rest] = words as [string, ...string[]];
      const from = performance.now();
      const { error } = spawnSync(program, rest, { stdio: 'ignore' });
      if (error) throw error;
      if (round > 0) times[at]!.push(performance.now() - from);
    }
  return times.map((list) => list.sort((a, b) => a - b)[Math.floor(list.length / 2)]!);
}
