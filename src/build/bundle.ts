import { execFileSync } from 'node:child_process';
import { chmod, cp, mkdir, mkdtemp, readdir, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { builtinModules } from 'node:module';
import { tmpdir } from 'node:os';
import { basename, dirname, join } from 'node:path';
import { type BuildOptions, build } from 'esbuild';
import { sha256Hex } from '../node/digests.js';

/** The command, what loads its program, and the two libraries of the package: name in `dist`, and where each starts. */
const entryPoints = {
  flashworthy: 'src/cli/flashworthy.ts',
  'load-program': 'src/cli/load-program.ts',
  core: 'src/core/index.ts',
  node: 'src/node/index.ts',
};

const common = {
  bundle: true,
  // Neutral: packages that have a variant without Node give that one, which is smaller and loads faster.
  platform: 'neutral',
  mainFields: ['module', 'main'],
  target: 'node20',
  // js-fatfs is optional, and half a megabyte that only a rehearsal loads.
  external: ['node:*', ...builtinModules, 'js-fatfs'],
  charset: 'utf8',
  legalComments: 'none',
  write: false,
  logLevel: 'warning',
} as const satisfies BuildOptions;

/**
 * Bundles the program into `dist`: the command line in one file with its compiled code beside it, a small command that
 * loads it, and the two libraries. Node's own modules and what is optional stay outside.
 */
export async function run(root: string): Promise<void> {
  const dist = join(root, 'dist');
  const program = await bundleProgram(root);
  const result = await build({
    ...common,
    absWorkingDir: root,
    entryPoints,
    outdir: dist,
    chunkNames: 'parts/[name]-[hash]',
    splitting: true,
    format: 'esm',
    define: { programName: JSON.stringify(program.name) },
  });
  const parts = join(dist, 'parts');
  await writeWhole(join(parts, `${program.name}.cjs`), program.code);
  for (const { path, contents } of result.outputFiles) await writeWhole(path, contents);
  await chmod(join(dist, 'flashworthy.js'), 0o755);
  await writeWhole(join(parts, `${program.name}.cache`), await compiledCode(root, program.name));
  const written = result.outputFiles.map(({ path }) => basename(path));
  await removeStale(parts, new Set([...written, `${program.name}.cjs`, `${program.name}.cache`]));
  await copySchemas(root, join(dist, 'schema'));
}

async function bundleProgram(root: string): Promise<{ name: string; code: Uint8Array }> {
  const { outputFiles } = await build({
    ...common,
    absWorkingDir: root,
    entryPoints: ['src/cli/main.ts'],
    format: 'cjs',
    // A script of its own has no `import()`; what stays outside is required, which Node does with modules too.
    supported: { 'dynamic-import': false },
    // Read at every start: half the size, and one byte a character. Names stay, so that a stack trace says something.
    minifyWhitespace: true,
    minifySyntax: true,
    charset: 'ascii',
    // A name that `loadProgram` gives its function.
    define: { 'import.meta.url': 'moduleUrl' },
    alias: {
      y18n: join(root, 'src', 'build', 'plain-words.ts'),
      'string-width': join(root, 'src', 'build', 'plain-width.ts'),
    },
  });
  const code = outputFiles[0]?.contents ?? new Uint8Array();
  return { name: `program-${sha256Hex(code).slice(0, 12)}`, code };
}

/** The program's code as V8 compiled it for one check and its text report: what most runs need. */
async function compiledCode(root: string, name: string): Promise<Uint8Array> {
  const work = await mkdtemp(join(tmpdir(), 'flashworthy-build-'));
  try {
    const file = join(work, 'code');
    const board = join(root, 'samples', 'boards', 'burr.yaml');
    const words = ['check', join(root, 'samples', 'cards', 'burr-fragmented.img.gz'), '--board', board];
    execFileSync(process.execPath, ['--input-type=module', '-e', keepCompiledCode(root, name, file, words)], {
      stdio: ['ignore', 'ignore', 'inherit'],
    });
    return await readFile(file);
  } finally {
    await rm(work, { recursive: true, force: true });
  }
}

const keepCompiledCode = (root: string, name: string, file: string, words: string[]): string => `
  import { writeFileSync } from 'node:fs';
  import { pathToFileURL } from 'node:url';
  const folder = pathToFileURL(${JSON.stringify(`${join(root, 'dist')}/`)});
  const { loadProgram } = await import(new URL('load-program.js', folder));
  const { program, script } = loadProgram(folder, ${JSON.stringify(name)});
  await program.main(${JSON.stringify(words)}, folder);
  writeFileSync(${JSON.stringify(file)}, script.createCachedData());
`;

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
