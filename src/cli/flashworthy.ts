#!/usr/bin/env node
// Whatever goes wrong from here on, the exit code is never one of a verdict. An import written above this line would
// run before it, and a fault while it loads would end with 1, "refused"; so everything else is loaded below.
process.exitCode = 70;

/** Says that the fault is ours and ends at once: after a crash nothing that still waits can be trusted. */
function ownFault(error: unknown): never {
  const text = error instanceof Error ? (error.stack ?? error.message) : String(error);
  process.stderr.write(`flashworthy: this is a fault of flashworthy itself, not of your card:\n${text}\n`);
  process.exit(70);
}
process.on('uncaughtException', ownFault);
process.on('unhandledRejection', ownFault);

/** Name of the bundled program in `parts`; the build puts it here. */
declare const programName: string;

try {
  const { loadProgram } = await import('./load-program.js');
  const folder = new URL('.', import.meta.url);
  process.exitCode = await loadProgram(folder, programName).program.main(process.argv.slice(2), folder);
} catch (error) {
  ownFault(error);
}

export {};
