import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { CommandProblem } from '../../src/cli/exit.js';
import { Given } from '../../src/cli/given.js';
import { releaseCommand } from '../../src/cli/release.js';
import type { Report } from '../../src/report/report.js';

const dist = pathToFileURL(`${join(import.meta.dirname, '..', '..', 'dist')}/`);

/** What `release` says about a folder, run in this process. */
export interface ReleaseOutcome {
  readonly code: number;
  /** Null when it ended before there was one. */
  readonly report: Report | null;
  readonly notes: string;
  /** Rules that failed, and those that were not judged, without advice. */
  readonly failed: readonly string[];
  readonly open: readonly string[];
  /** Advice. */
  readonly remarks: readonly string[];
}

/** Runs the command `release` with the compiled rules, its report as JSON. */
export async function runRelease(
  folder: string,
  options: Readonly<Record<string, unknown>> = {},
): Promise<ReleaseOutcome> {
  let out = '';
  const notes: string[] = [];
  let code: number;
  try {
    code = await releaseCommand.run(new Given({ folder, format: 'json', ...options }), {
      folder: dist,
      version: 'test',
      width: 80,
      color: false,
      out: async (text) => {
        out += text;
      },
      note: (text) => void notes.push(text),
    });
  } catch (error) {
    if (!(error instanceof CommandProblem)) throw error;
    code = error.exit;
    notes.push(error.message);
  }
  const report = out === '' || options.format === 'text' ? null : (JSON.parse(out) as Report);
  const rules = (outcome: string, isAdvice: boolean): string[] =>
    (report?.findings ?? [])
      .filter((one) => one.outcome === outcome && (one.hazard === 'advice') === isAdvice)
      .map(({ rule }) => rule);
  return {
    code,
    report,
    notes: options.format === 'text' ? out : notes.join('\n'),
    failed: rules('failed', false),
    open: rules('unknown', false),
    remarks: rules('failed', true),
  };
}
