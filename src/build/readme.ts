import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Step, walk } from './walk.js';

/**
 * Blocks of README.md between `<!-- output: NAME -->` and `<!-- end -->` hold what a command really printed. They run in
 * order, in one new folder in which `samples` is that of the project, so that one step finds what another wrote.
 */
const block = /^<!-- output: ([a-z-]+) -->\n[\s\S]*?^<!-- end -->$/gm;

/** README.md as the commands of today make it. Throws when a step ends with another exit code than its own. */
export function renewed(root: string): string {
  const outputs = new Map<string, string>();
  const folder = mkdtempSync(join(tmpdir(), 'flashworthy-walk-'));
  try {
    symlinkSync(join(root, 'samples'), join(folder, 'samples'));
    for (const step of walk) outputs.set(step.name, printed(root, folder, step));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
  const readme = readFileSync(join(root, 'README.md'), 'utf8');
  const unused = new Set(outputs.keys());
  const text = readme.replace(block, (_all, name: string) => {
    const output = outputs.get(name);
    if (output === undefined) throw new Error(`README.md: there is no step ${name} in src/build/walk.ts`);
    unused.delete(name);
    return `<!-- output: ${name} -->\n${output}<!-- end -->`;
  });
  const left = [...unused].filter((name) => walk.some((step) => step.name === name && step.keep));
  if (left.length > 0) throw new Error(`README.md shows no output of ${left.join(', ')}`);
  return text;
}

/** `npm run readme`: writes the output of today into README.md. */
export async function run(root: string): Promise<void> {
  writeFileSync(join(root, 'README.md'), renewed(root));
}

/** The command line and what it printed, as an indented block; left-out lines stand as `…`. */
function printed(root: string, cwd: string, { name, words, exit, keep }: Step): string {
  const program = join(root, 'dist', 'flashworthy.js');
  const { status, stdout, stderr } = spawnSync(process.execPath, [program, ...words], {
    cwd,
    encoding: 'utf8',
    env: { ...process.env, NO_COLOR: '1', COLUMNS: '80' },
  });
  if (status !== exit)
    throw new Error(`step ${name} ended with ${status}, not ${exit}:\n${stdout}\n${stderr}`);
  const lines = `${stdout}${stderr}`.trimEnd().split('\n');
  const shown = keep ? kept(lines, keep, name) : lines;
  const indented = [`flashworthy ${words.map(quoted).join(' ')}`, '', ...shown].map((line) =>
    line === '' ? '' : `    ${line}`,
  );
  return `\n${indented.join('\n')}\n\n`;
}

/** The lines of the stretches that are kept, each from the line that begins so up to the one before the other. */
function kept(lines: readonly string[], stretches: NonNullable<Step['keep']>, name: string): string[] {
  const shown: string[] = [];
  let next = 0;
  for (const [from, to] of stretches) {
    const start = from === '' ? 0 : lines.findIndex((line, at) => at >= next && line.trim().startsWith(from));
    const found =
      to === '' ? lines.length : lines.findIndex((line, at) => at > start && line.trim().startsWith(to));
    if (start < 0 || found < 0)
      throw new Error(`step ${name} prints no line that begins with ${start < 0 ? from : to}`);
    if (start > next) shown.push('…');
    shown.push(...lines.slice(start, found));
    next = found;
  }
  if (next < lines.length) shown.push('…');
  return shown;
}

const quoted = (word: string): string => (/^[\w./:=+-]+$/.test(word) ? word : `"${word}"`);
