import type { Command } from './command.js';
import { type ExitCode, usageProblem, verdictExit } from './exit.js';
import type { Given } from './given.js';
import { flag, oneOf, outputOptions, ruleOptions, value } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `release <folder>`: the maintainer's check of a release folder, and its sealing. */
export const releaseCommand: Command = {
  name: 'release',
  operands: '[folder]',
  describe: 'Check a release folder, and seal it',
  positionals: { folder: { type: 'string', describe: 'Folder with board.yaml, builds and companion files' } },
  options: {
    seal: flag('Write manifest.json and SHA256SUMS when all else is right', 'The release:'),
    release: value('Number of the release; else the one in its manifest', 'The release:'),
    ...ruleOptions,
    ...outputOptions,
  },
  exits: '0 complete, 1 not complete, 2 cannot tell',
  run: runRelease,
};

async function runRelease(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { isReadyToSeal } = await import('../core/release.js');
  const { reportOptions } = await import('./check.js');
  const { openRelease } = await import('./open-release.js');
  const { planOutput } = await import('./output.js');
  const { ReportSinks } = await import('./report-sinks.js');
  const path = given.text('folder');
  if (path === undefined) throw usageProblem('name a release folder; see flashworthy release --help');
  const facts = given.text('facts');
  if (facts !== undefined) oneOf('facts', facts, ['all']);
  const isSealing = given.flag('seal');
  const release = await openRelease(path, given, surroundings);
  const plan = planOutput(given, [path]);
  let { report, ...content } = await release.check(isSealing);
  let note: string | null = null;
  if (isSealing && isReadyToSeal(report)) {
    const { writeSeal } = await import('./write-seal.js');
    note = writeSeal(path, content.manifest, content.files, given.flag('force'));
    // What counts is the folder as it lies there now.
    ({ report, ...content } = await release.check(false));
  } else if (isSealing) note = `${path} was not sealed: nothing was written`;
  const options = { ...reportOptions(given, surroundings), rules: release.rules };
  const sinks = await ReportSinks.open(plan, false, surroundings, options);
  try {
    await sinks.add(report, 0);
    await sinks.end([]);
  } finally {
    sinks.abandon();
  }
  if (note !== null) surroundings.note(note);
  return verdictExit[report.verdict];
}
