import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { fileURLToPath } from 'node:url';
import vm from 'node:vm';

/** The bundled program: the command line in one file, as `src/cli/main.ts` exports it. */
export interface Program {
  main(words: readonly string[], folder: URL): Promise<number>;
}

/**
 * Loads the bundled program with the compiled code that the build kept beside it. Compiling it anew takes longer than
 * a check does. V8 refuses a cache of another version or machine by itself and compiles as always; that the cache is
 * one of this very program, the common hash in both names says.
 * @param name of the program in the folder `parts`, without its ending
 */
export function loadProgram(folder: URL, name: string): { program: Program; script: vm.Script } {
  const file = new URL(`parts/${name}.cjs`, folder);
  const filename = fileURLToPath(file);
  const source = `(function (module, require, moduleUrl) {${readFileSync(file, 'latin1')}\n})`;
  const cachedData = readCache(new URL(`parts/${name}.cache`, folder));
  const script = new vm.Script(source, { filename, ...(cachedData ? { cachedData } : {}) });
  const module = { exports: {} };
  script.runInThisContext()(module, createRequire(file), file.href);
  return { program: module.exports as Program, script };
}

function readCache(file: URL): Buffer | null {
  try {
    return readFileSync(file);
  } catch {
    return null;
  }
}
