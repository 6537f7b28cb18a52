import { realpathSync } from 'node:fs';
import { dirname, join, resolve, sep } from 'node:path';
import { WriteProblem, writeNewFile, writeObstacle } from '../node/write-new-file.js';
import { reporters } from '../report/reporters.js';
import { CommandProblem, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { statOrNull } from './inputs.js';
import { nameAndValue, oneOf } from './options.js';
import { reportNames, summaryName } from './report-names.js';
import type { Surroundings } from './surroundings.js';

/** Forms of report and where each goes. */
export interface OutputPlan {
  /** Form of what goes to standard output or to the file of `--output`. */
  readonly kind: string;
  readonly file: string | undefined;
  readonly more: readonly {
    readonly kind: string;
    /** A folder when there are `names`. */
    readonly file: string;
    /** Names of the reports in that folder, one for each target in order. */
    readonly names?: readonly string[];
  }[];
  readonly force: boolean;
}

/**
 * Reads `--format`, `--output`, `--report` and `--force`. Ends the command before any work when a form is unknown,
 * when a file would be written twice or over an input, or when it cannot be written.
 * @param inputs paths that must never be written to, such as the card itself
 * @param kinds the forms that there are
 * @param targets what is checked, where `kind=FOLDER/` writes a report for each
 */
export function planOutput(
  given: Given,
  inputs: readonly string[],
  kinds: readonly string[] = Object.keys(reporters),
  targets?: readonly string[],
): OutputPlan {
  const kind = oneOf('format', given.text('format') ?? 'text', kinds);
  const file = given.text('output');
  const more: OutputPlan['more'] = given.texts('report').map((text) => {
    const [name, path] = nameAndValue('report', text);
    const one = { kind: oneOf('report', name, kinds), file: path };
    const isFolder = targets !== undefined && (path.endsWith('/') || path.endsWith(sep));
    return isFolder ? { ...one, names: reportNames(targets, name) } : one;
  });
  const force = given.flag('force');
  const places = [...(file === undefined ? [] : [{ kind, file }]), ...more] satisfies OutputPlan['more'];
  const read = inputs.map(realPath);
  const taken = new Set(read);
  for (const { file: path, names } of places) {
    const real = realPath(path);
    if (taken.has(real)) throw usageProblem(`${path} is named twice: give the report a name of its own`);
    if (read.some((input) => real.startsWith(input + sep)))
      throw usageProblem(`${path} lies in the folder that is checked: write the report elsewhere`);
    taken.add(real);
    const obstacle = names === undefined ? writeObstacle(path, force) : folderObstacle(path, names, force);
    if (obstacle !== null) throw new CommandProblem(exitCodes.notWritten, obstacle);
    for (const name of names ?? []) {
      const inside = realPath(join(path, name));
      if (taken.has(inside))
        throw usageProblem(`${join(path, name)} is named twice: write the reports elsewhere`);
      taken.add(inside);
    }
  }
  return { kind, file, more, force };
}

/** Why this folder could not take these reports, or null when nothing speaks against it. */
function folderObstacle(folder: string, names: readonly string[], force: boolean): string | null {
  const stats = statOrNull(folder);
  if (stats === null) {
    const parent = dirname(resolve(folder));
    return statOrNull(parent) === null ? `${folder} cannot be written: there is no folder ${parent}` : null;
  }
  if (!stats.isDirectory()) return `${folder} cannot be written: it is not a folder`;
  for (const name of [...names, summaryName]) {
    const obstacle = writeObstacle(join(folder, name), force);
    if (obstacle !== null) return obstacle;
  }
  return null;
}

/** How wide a text may be, and whether it may have colours. */
interface FormOptions {
  readonly width: number;
  readonly color: boolean;
}

/** How a text is set in a file: the same wherever it was written. */
export const fileOptions = <O extends FormOptions>(options: O): O => ({
  ...options,
  color: false,
  width: 80,
});

/** Writes a report everywhere the plan says, in forms by their names. A place that fails does not keep it from the others. */
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
  const inFile = fileOptions(options);
  for (const { kind, file } of plan.more) save(file, await render(kind, inFile), plan.force, problems);
  if (plan.file === undefined) await surroundings.out(await render(plan.kind, options));
  else save(plan.file, await render(plan.kind, inFile), plan.force, problems);
  if (problems.length > 0) throw new CommandProblem(exitCodes.notWritten, problems.join('\n'));
}

/** The path with all links followed, so that no link leads a report onto the card. */
export function realPath(path: string): string {
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
