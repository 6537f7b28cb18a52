import type { Progress } from '../node/gzip.js';

/** What a progress bar needs of standard error. */
export interface BarStream {
  readonly isTTY?: boolean;
  readonly columns?: number;
  write(text: string): unknown;
}

const patience = 1000;
const pause = 200;

/**
 * A bar on a terminal for work that takes longer than a second; nothing elsewhere. Call `end` when the work is over
 * or before something else is printed, so that the line is wiped.
 */
export function progressBar(
  label: string,
  stream: BarStream = process.stderr,
  now: () => number = () => performance.now(),
): { step: Progress; end(): void } {
  const start = now();
  // A terminal that does not know its size says 0.
  const columns = stream.columns || 80;
  let last = start;
  let shown = false;
  return {
    step(done, total) {
      const time = now();
      if (!stream.isTTY || time - start < patience || (last !== start && time - last < pause)) return;
      last = time;
      shown = true;
      const width = Math.min(30, Math.max(10, columns - label.length - 12));
      const part = total > 0 ? Math.min(1, done / total) : 1;
      const filled = Math.round(part * width);
      const bar = '#'.repeat(filled) + '.'.repeat(width - filled);
      stream.write(`\r${label} [${bar}] ${String(Math.floor(part * 100)).padStart(3)} %`);
    },
    end() {
      if (shown) stream.write(`\r${' '.repeat(Math.min(columns, label.length + 42) - 1)}\r`);
      shown = false;
    },
  };
}
