import { chmod, cp, mkdir, readdir, rename, rm, writeFile } from 'node:fs/promises';
import { builtinModules } from 'node:module';
import { basename, dirname, join } from 'node:path';
import { build } from 'esbuild';

/** The command and the two libraries of the package: name in `dist`, and where each starts. */
const entryPoints = {
  flashworthy: 'src/cli/flashworthy.ts',
  core: 'src/core/index.ts',
  node: 'src/node/index.ts',
};

/**
 * Bundles the program into `dist`: one small command file that loads the parts it needs, so that a check never reads
 * the compiler of rules. Node's own modules are all that stays outside.
 */
export async function run(root: string): Promise<void> {
  const dist = join(root, 'dist');
  const result = await build({
    absWorkingDir: root,
    entryPoints,
    outdir: dist,
    chunkNames: 'parts/[name]-[hash]',
    bundle: true,
    splitting: true,
    format: 'esm',
    // Neutral: packages that have a variant without Node give that one, which is smaller and loads faster.
    platform: 'neutral',
    mainFields: ['module', 'main'],
    target: 'node20',
    external: ['node:*', ...builtinModules],
    alias: {
      y18n: join(root, 'src', 'build', 'plain-words.ts'),
      'string-width': join(root, 'src', 'build', 'plain-width.ts'),
    },
    charset: 'utf8',
    legalComments: 'none',
    write: false,
    logLevel: 'warning',
  });
  for (const { path, contents } of result.outputFiles) await writeWhole(path, contents);
  await chmod(join(dist, 'flashworthy.js'), 0o755);
  await removeStale(join(dist, 'parts'), new Set(result.outputFiles.map(({ path }) => basename(path))));
  await copySchemas(root, join(dist, 'schema'));
}

/** A run that starts meanwhile never sees half a file. */
async function writeWhole(path: string, contents: Uint8Array): Promise<void> {
  await mkdir(dirname(path), { recursive: true });
  await writeFile(`${path}.new`, contents);
  await rename(`${path}.new`, path);
}

/** Parts are named after their content, so those of an earlier build stay behind. */
async function removeStale(folder: string, wanted: ReadonlySet<string>): Promise<void> {
  for (const name of await readdir(folder))
    if (!wanted.has(name)) await rm(join(folder, name), { force: true });
}

/** Editors and other programs read the schemas from the package. */
async function copySchemas(root: string, folder: string): Promise<void> {
  await mkdir(folder, { recursive: true });
  const entries = await readdir(join(root, 'src'), { recursive: true, withFileTypes: true });
  for (const entry of entries)
    if (entry.isFile() && entry.name.endsWith('.schema.json'))
      await cp(join(entry.parentPath, entry.name), join(folder, entry.name));
}
