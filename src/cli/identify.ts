import type { IdentityReport } from '../report/identity.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, notThere, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, twoForms } from './options.js';
import type { Surroundings } from './surroundings.js';

const { board, boards, manifest } = boardOptions;

/** `identify <file>`: what a firmware file is. */
export const identifyCommand: Command = {
  name: 'identify',
  operands: '[file]',
  describe: 'What is this firmware file?',
  positionals: { file: { type: 'string', describe: 'A firmware file, whatever it is called' } },
  options: { board, boards, manifest, ...twoForms },
  exits: '0 known, 1 not firmware, 2 unknown',
  run: runIdentify,
};

const exitOf: Readonly<Record<IdentityReport['verdict'], ExitCode>> = {
  known: exitCodes.fit,
  'not-firmware': exitCodes.refused,
  unknown: exitCodes.notProven,
};

/** Enough of a file that is too large to be firmware to see what it is. */
const headBytes = 64 * 1024;

async function runIdentify(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { loadBoard } = await import('./load-board.js');
  const { loadProcessors } = await import('./load-rules.js');
  const { planOutput, writeForms } = await import('./output.js');
  const { identityReport } = await import('../core/identity-report.js');
  const { processorOf } = await import('../firmware/processors.js');
  const { nodeDigests } = await import('../node/digests.js');
  const path = given.text('file');
  if (path === undefined) throw usageProblem('name a firmware file; see flashworthy identify --help');
  const loaded = await loadBoard(given.text('board'), given.text('boards'), given.text('manifest'));
  const inputs = [loaded?.file, loaded?.manifest].filter((one) => one !== undefined && one !== null);
  const paths = [path, ...inputs.map((one) => one.path)];
  const plan = planOutput(given, paths, Object.keys(forms));
  const { size, bytes } = await readFirmware(path);
  const said = loaded?.profile.processor;
  const report = identityReport({
    path,
    size,
    bytes,
    profile: loaded?.profile ?? null,
    processor: said === undefined || said === 'any' ? null : processorOf(said, loadProcessors(surroundings)),
    manifest: loaded?.release ?? null,
    candidates: loaded?.candidates ?? [],
    digests: nodeDigests,
    version: surroundings.version,
    inputs: inputs.map(({ role, path: read, sha256 }) => ({ role, path: read, sha256 })),
    board: given.text('board') ?? null,
  });
  await writeForms(report, plan, surroundings, surroundings, forms);
  return exitOf[report.verdict];
}

const forms = {
  text: async () => (await import('../report/identify-text.js')).identifyText,
  json: async () => (await import('../report/json.js')).jsonText,
};

async function readFirmware(path: string): Promise<{ size: number; bytes: Uint8Array }> {
  const { limits } = await import('../bytes/limits.js');
  const { ReadProblem } = await import('../bytes/byte-source.js');
  const { FileSource } = await import('../node/file-source.js');
  const { errorText } = await import('../node/read-cause.js');
  const { statOrNull } = await import('./inputs.js');
  const stats = statOrNull(path);
  if (stats === null) throw notThere(`${path}: there is no such file`);
  if (stats.isDirectory())
    throw usageProblem(`${path} is a folder: name a firmware file in it; for a card say check`);
  if (!stats.isFile()) throw usageProblem(`${path} is not a file; for a card say check`);
  let source: ReturnType<typeof FileSource.open>;
  try {
    source = FileSource.open(path);
  } catch (error) {
    throw notThere(`${path} cannot be read: ${errorText(error)}`);
  }
  try {
    const { size } = source;
    const bytes = source.read(0, size > limits.updateFileBytes ? headBytes : size);
    if (bytes instanceof ReadProblem) throw notThere(`${path} cannot be read: ${bytes.cause}`);
    return { size, bytes };
  } finally {
    source.close();
  }
}
