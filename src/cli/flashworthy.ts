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

try {
  const { default: modules } = await import('node:module');
  // Node 22 keeps compiled code between runs; Node 20 has no such thing.
  if ('enableCompileCache' in modules && typeof modules.enableCompileCache === 'function')
    modules.enableCompileCache();
  const { main } = await import('./main.js');
  process.exitCode = await main(process.argv.slice(2), new URL('.', import.meta.url));
} catch (error) {
  ownFault(error);
}

export {};
