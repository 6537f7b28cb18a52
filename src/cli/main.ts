import { readFileSync } from 'node:fs';
import { CommandProblem, type ExitCode, exitCodes } from './exit.js';
import type { Given } from './given.js';
import { processSurroundings, type Surroundings } from './surroundings.js';

/**
 * Runs the command line and gives the exit code. Only a fault of flashworthy itself is thrown.
 * @param folder folder of the bundled files; `package.json` lies above it
 */
export async function main(argv: readonly string[], folder: URL): Promise<ExitCode> {
  const surroundings = processSurroundings(folder, packageVersion(folder));
  try {
    // Asked by scripts again and again, and no reason to load the parser.
    if (argv.length === 1 && argv[0] === '--version') {
      await surroundings.out(`${surroundings.version}\n`);
      return exitCodes.fit;
    }
    const { parse } = await import('./parse.js');
    const { command, given, help } = parse(argv, surroundings);
    if (help !== undefined) {
      await surroundings.out(`${help}\n`);
      return exitCodes.fit;
    }
    return await command.run(given, { ...surroundings, color: wantsColor(given, surroundings) });
  } catch (error) {
    if (!(error instanceof CommandProblem)) throw error;
    surroundings.note(error.message);
    return error.exit;
  }
}

function packageVersion(folder: URL): string {
  const { version } = JSON.parse(readFileSync(new URL('../package.json', folder), 'utf8'));
  return String(version);
}

function wantsColor(given: Given, { color }: Surroundings): boolean {
  return given.flag('no-color') ? false : given.flag('color') || color;
}
