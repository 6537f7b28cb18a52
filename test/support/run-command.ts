import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { CommandProblem, exitCodes } from '../../src/cli/exit.js';
import { parse } from '../../src/cli/parse.js';
import type { Surroundings } from '../../src/cli/surroundings.js';

const dist = pathToFileURL(join(import.meta.dirname, '../../dist/'));

/** Runs a command line in this process, with the rules as the build compiled them, as it runs off a terminal. */
export async function runCommand(...argv: string[]): Promise<{ code: number; out: string; notes: string[] }> {
  const result = { code: exitCodes.ownFault as number, out: '', notes: [] as string[] };
  const surroundings: Surroundings = {
    folder: dist,
    version: '0.0.0',
    width: 80,
    color: false,
    async out(text) {
      result.out += text;
    },
    note: (text) => void result.notes.push(text),
  };
  try {
    const { command, given } = parse(argv, surroundings);
    if (command === undefined) throw new Error('help was asked for');
    result.code = await command.run(given, surroundings);
  } catch (error) {
    if (!(error instanceof CommandProblem)) throw error;
    result.notes.push(error.message);
    result.code = error.exit;
  }
  return result;
}
