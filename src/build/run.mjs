// node src/build/run.mjs <task>: bundles src/build/<task>.ts and runs what it exports as `run`, with the root of the
// project. The task `all` is the build: each part is bundled after the one before it has run, because it may import
// what that one generated.
import { mkdir, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

const root = dirname(dirname(dirname(fileURLToPath(import.meta.url))));
const [task] = process.argv.slice(2);
if (!task || !/^[a-z-]+$/.test(task)) {
  process.stderr.write('usage: node src/build/run.mjs <task>\n');
  process.exit(64);
}

let esbuild;
try {
  esbuild = await import('esbuild');
} catch (error) {
  if (error.code !== 'ERR_MODULE_NOT_FOUND' || task !== 'all') throw error;
  // `npm install --omit=dev` in a checkout also comes here; it must not fail.
  process.stdout.write('flashworthy: not built, since esbuild is not installed\n');
  process.exit(0);
}

const parts = task === 'all' ? ['schemas', 'compile-rules', 'bundle'] : [task];
for (const part of parts) {
  // Inside node_modules, so that packages left out of the bundle are found; by process, so that two runs do not meet.
  const folder = join(root, 'node_modules', '.cache', 'flashworthy', `${part}-${process.pid}`);
  const outfile = join(folder, `${part}.mjs`);
  try {
    await mkdir(folder, { recursive: true });
    await esbuild.build({
      entryPoints: [join(root, 'src', 'build', `${part}.ts`)],
      outfile,
      bundle: true,
      format: 'esm',
      platform: 'node',
      target: 'node20',
      packages: 'external',
      logLevel: 'warning',
    });
    const { run, generateValidators } = await import(pathToFileURL(outfile).href);
    await (run ?? generateValidators)(root);
  } catch (error) {
    // Wrong data, such as a rule file, is told with its place; anything else is a fault of the build.
    if (!Array.isArray(error.problems)) throw error;
    process.stderr.write(`${error.message}\n`);
    process.exitCode = 1;
    break;
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}
