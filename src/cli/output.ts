import { realpathSync } from 'node:fs';
import { resolve, sep } from 'node:path';
import { WriteProblem, writeNewFile, writeObstacle } from '../node/write-new-file.js';
import type { Report } from '../report/report.js';
import { type ReportOptions, reporters } from '../report/reporters.js';
import type { Summary } from '../report/summary.js';
import { CommandProblem, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { nameAndValue, oneOf } from './options.js';
import type { Surroundings } from './surroundings.js';

/** Forms of report and where each goes. */
export interface OutputPlan {
  /** Form of what goes to standard output or to the file of `--output`. */
  readonly kind: string;
  readonly file: string | undefined;
  readonly more: readonly { readonly kind: string; readonly file: string }[];
  readonly force: boolean;
}

/**
 * Reads `--format`, `--output`, `--report` and `--force`. Ends the command before any work when a form is unknown,
 * when a file would be written twice or over an input, or when it cannot be written.
 * @param inputs paths that must never be written to, such as the card itself
 * @param kinds the forms that there are
 */
export function planOutput(
  given: Given,
  inputs: readonly string[],
  kinds: readonly string[] = Object.keys(reporters),
): OutputPlan {
  const kind = oneOf('format', given.text('format') ?? 'text', kinds);
  const file = given.text('output');
  const more = given.texts('report').map((text) => {
    const [name, path] = nameAndValue('report', text);
    return { kind: oneOf('report', name, kinds), file: path };
  });
  const force = given.flag('force');
  const files = [...(file === undefined ? [] : [file]), ...more.map((each) => each.file)];
  const read = inputs.map(realPath);
  const taken = new Set(read);
  for (const path of files) {
    const real = realPath(path);
    if (taken.has(real)) throw usageProblem(`${path} is named twice: give the report a name of its own`);
    if (read.some((input) => real.startsWith(input + sep)))
      throw usageProblem(`${path} lies in the folder that is checked: write the report elsewhere`);
    taken.add(real);
    const obstacle = writeObstacle(path, force);
    if (obstacle !== null) throw new CommandProblem(exitCodes.notWritten, obstacle);
  }
  return { kind, file, more, force };
}

/** Writes a report everywhere the plan says. A place that fails does not keep it from the others. */
export const writeReports = (
  report: Report | Summary,
  plan: OutputPlan,
  surroundings: Surroundings,
  options: ReportOptions,
): Promise<void> => writeForms(report, plan, surroundings, options, reporters);

/** How wide a text may be, and whether it may have colours. */
interface FormOptions {
  readonly width: number;
  readonly color: boolean;
}

/** The same for anything that has forms of its own, by their names on the command line. */
export async function writeForms<T, O extends FormOptions>(
  report: T,
  plan: OutputPlan,
  surroundings: Surroundings,
  options: O,
  forms: Readonly<Record<string, () => Promise<(report: T, options: O) => string>>>,
): Promise<void> {
  const problems: string[] = [];
  const render = async (kind: string, how: O): Promise<string> => {
    const load = forms[kind];
    if (!load) throw new Error(`no report of the form ${kind}`);
    return (await load())(report, how);
  };
  const inFile = { ...options, color: false, width: 80 };
  for (const { kind, file } of plan.more) save(file, await render(kind, inFile), plan.force, problems);
  if (plan.file === undefined) await surroundings.out(await render(plan.kind, options));
  else save(plan.file, await render(plan.kind, inFile), plan.force, problems);
  if (problems.length > 0) throw new CommandProblem(exitCodes.notWritten, problems.join('\n'));
}

/** The path with all links followed, so that no link leads a report onto the card. */
function realPath(path: string): string {
  try {
    return realpathSync(path);
  } catch {
    // Not there yet: then its folder decides.
    const full = resolve(path);
    const parent = resolve(full, '..');
    return parent === full
      ? full
      : resolve(realPath(parent), full.slice(parent.length).replace(/^[\\/]+/, ''));
  }
}

function save(file: string, text: string, force: boolean, problems: string[]): void {
  try {
    writeNewFile(file, text, force);
  } catch (error) {
    if (!(error instanceof WriteProblem)) throw error;
    problems.push(error.message);
  }
}
