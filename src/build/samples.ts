import { execFileSync } from 'node:child_process';
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';

/** Makes every card of `samples/cards` anew: each `NAME.sh` is the recipe of `NAME.img.gz`. */
export async function run(root: string): Promise<void> {
  const folder = join(root, 'samples', 'cards');
  const work = await mkdtemp(join(tmpdir(), 'flashworthy-samples-'));
  try {
    for (const name of (await readdir(folder)).filter((file) => file.endsWith('.sh')).sort()) {
      const image = join(work, 'card.img');
      execFileSync('bash', [join(folder, name), image], { stdio: ['ignore', 'ignore', 'inherit'] });
      // No name and no time in the header: equal images give equal files.
      await writeFile(
        join(folder, name.replace(/\.sh$/, '.img.gz')),
        gzipSync(await readFile(image), { level: 9 }),
      );
    }
  } finally {
    await rm(work, { recursive: true, force: true });
  }
}
