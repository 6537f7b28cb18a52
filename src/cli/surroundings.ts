import { CommandProblem, exitCodes } from './exit.js';

/** Where a command writes to, and how. Tests and `main` make one. */
export interface Surroundings {
  /** Folder of the bundled files, as a file URL that ends with `/`. */
  readonly folder: URL;
  readonly version: string;
  /** Characters in a line of standard output. */
  readonly width: number;
  /** True when standard output is a terminal that shows colour and nobody asked for none. */
  readonly color: boolean;
  /** Writes to standard output; resolves when the text is handed over. */
  out(text: string): Promise<void>;
  /** Writes one note to standard error. */
  note(text: string): void;
}

/** Widest line that is still easy to read. */
const widest = 100;

/** The surroundings of the running process. `NO_COLOR` counts when it is not empty (no-color.org). */
export function processSurroundings(folder: URL, version: string): Surroundings {
  const { stdout, stderr, env } = process;
  let readerGone = false;
  // A reader that has seen enough (`| head`) is no fault; the exit code still tells the verdict.
  stdout.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code === 'EPIPE') readerGone = true;
  });
  stderr.on('error', () => {});
  return {
    folder,
    version,
    // A terminal that does not know its size says 0.
    width: Math.min(widest, stdout.columns || 80),
    color: stdout.isTTY === true && !env.NO_COLOR && env.TERM !== 'dumb',
    out: (text) =>
      new Promise((resolve, reject) => {
        if (readerGone) return resolve();
        stdout.write(text, (error) => {
          if (!error || ('code' in error && error.code === 'EPIPE')) resolve();
          else
            reject(
              new CommandProblem(exitCodes.notWritten, `standard output cannot be written: ${error.message}`),
            );
        });
      }),
    note: (text) => void stderr.write(`flashworthy: ${text}\n`),
  };
}
