import { dirname, join } from 'node:path';
import type { Target } from '../core/collect.js';
import type { Preparation, PreparationSubject } from '../core/preparation.js';
import type { PreparationReport } from '../report/preparation.js';
import type { Report } from '../report/report.js';
import { reportOptions } from './check.js';
import type { CheckRequest } from './check-target.js';
import type { Command } from './command.js';
import { CommandProblem, type ExitCode, exitCodes, notThere, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, cardOptions, ruleOptions, twoForms, value } from './options.js';
import type { Surroundings } from './surroundings.js';

const { board: _board, ...machineAndPlaces } = boardOptions;
const { staging: _staging, ...aboutTheCard } = cardOptions;

const newCard = 'The new card:';

/** `prepare <release> --to <image or folder>`: a card for one machine. */
export const prepareCommand: Command = {
  name: 'prepare',
  operands: '[release]',
  describe: 'Write a card for a machine: an image, or into the folder of a mounted card',
  positionals: {
    release: { type: 'string', describe: 'Release folder, board profile, or the id of a board in --boards' },
  },
  options: {
    to: value('Image file to write, or the folder or drive letter of an empty card', newCard),
    size: value('Size of the image, such as 1GiB; else the smallest that does well', newCard),
    label: value('Name of the card, up to 11 characters; else it has none', newCard),
    name: value('Name of the update file, where the board leaves it open', newCard),
    file: value('The program, for a board that takes every build', newCard),
    add: value('A file of your own that the board wants beside it; may be repeated', newCard),
    ...machineAndPlaces,
    ...aboutTheCard,
    ...ruleOptions,
    ...twoForms,
  },
  exits: '0 written, 1 refused, nothing written, 2 not proven',
  run: runPrepare,
};

const exitOf = {
  written: exitCodes.fit,
  refused: exitCodes.refused,
  'not-proven': exitCodes.notProven,
} as const;

const forms = {
  text: async () => (await import('../report/prepare-text.js')).preparationText,
  json: async () => (await import('../report/json.js')).jsonText,
};

async function runPrepare(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { loadBoard } = await import('./load-board.js');
  const { planOutput, writeForms } = await import('./output.js');
  const { checkRequest } = await import('./check-request.js');
  const { machineOf } = await import('./ask-machine.js');
  const { machineReader } = await import('./stated-machine.js');
  const { preparationTarget } = await import('./prepare-target.js');
  const { preparationQuestions } = await import('../core/preparation.js');
  const { readReleaseFile } = await import('./release-file.js');
  const { nodeDigests } = await import('../node/digests.js');
  const release = given.text('release');
  const to = given.text('to');
  if (release === undefined) throw usageProblem('name a release folder; see flashworthy prepare --help');
  if (to === undefined)
    throw usageProblem('say where the card goes: --to card.img, or --to and the folder of a mounted card');
  const board = await loadBoard(release, given.text('boards'), given.text('manifest'));
  if (board === null) throw new Error('a board was named and none was loaded');
  const { profile, file, manifest } = board;
  const folder = dirname((manifest ?? file).path);
  const reader = await machineReader(given, board);
  const inputs = [file, manifest, reader.record].filter((one) => one !== null);
  const named = [given.text('file'), ...given.texts('add')].filter((path) => path !== undefined);
  const read = [
    ...inputs.map(({ path }) => path),
    ...(board.release?.files ?? []).map(({ path }) => join(folder, path)),
    ...named,
  ];
  const target = preparationTarget(to, given.flag('force'), read);
  const plan = planOutput(given, [target.path, ...read], Object.keys(forms));
  const order = await newCardOf(given, target.kind);
  const program = given.text('file');
  if (program !== undefined && profile.builds !== 'any')
    throw usageProblem(
      '--file goes with boards that take every build; the release of this one says which build is meant',
    );
  const told = await machineOf(reader, surroundings.width, (machine) =>
    preparationQuestions(profile, machine, board.release),
  );
  const request = await checkRequest(given, surroundings, {
    board,
    machine: told.machine,
    record: reader.record,
  });
  const subject: PreparationSubject = {
    profile,
    machine: told.machine,
    manifest: board.release,
    read: (path) => readReleaseFile(join(folder, path)),
    digests: nodeDigests,
    version: surroundings.version,
    inputs: inputs.map(({ role, path, sha256 }) => ({ role, path, sha256 })),
    target,
    program: program === undefined ? null : ownFile(program, readReleaseFile),
    added: given.texts('add').map((path) => ownFile(path, readReleaseFile)),
    name: given.text('name') ?? null,
    label: order.label,
    order: { size: order.size, realCardBytes: request.media.cardBytes ?? null },
  };
  const preparation = await planned(subject);
  const { nextCommand } = await import('./again.js');
  const card = target.kind === 'folder' ? target.path : 'CARD';
  const words = {
    check: nextCommand('check', [card, '--board', release], given, told.options),
    rehearse: nextCommand('rehearse', [target.path, '--board', release], given, told.options),
    folder: nextCommand('prepare', [release, '--to', 'FOLDER'], given, told.options),
  };
  const report = await carriedOut(preparation, request, given, words);
  await writeForms(report, plan, surroundings, reportOptions(given, surroundings), forms);
  return exitOf[report.outcome];
}

function ownFile(
  path: string,
  read: (path: string) => Uint8Array | null,
): { path: string; bytes: Uint8Array } {
  const bytes = read(path);
  if (bytes === null) throw notThere(`${path}: there is no such file, or it cannot be read`);
  return { path, bytes };
}

/** Reads `--size` and `--label`, which only an image can have. */
async function newCardOf(
  given: Given,
  kind: PreparationReport['target']['kind'],
): Promise<{ size: number | null; label: string | null }> {
  const { parseSize } = await import('../board/units.js');
  const { isBadLabel } = await import('../card/fat/short-name.js');
  const [size, label] = [given.text('size'), given.text('label')];
  if (kind === 'folder' && (size !== undefined || label !== undefined))
    throw usageProblem('--size and --label go with an image; a card that is mounted has both already');
  const bytes = size === undefined ? null : parseSize(size);
  if (bytes === undefined || bytes === 0)
    throw usageProblem(`--size wants a size such as 512MiB or 1GiB; not "${size}"`);
  const raw = label?.toUpperCase();
  if (raw !== undefined && (!/^[!-~][ -~]{0,10}$/.test(raw) || isBadLabel(raw.padEnd(11))))
    throw usageProblem(`--label takes up to 11 letters, digits, spaces, - and _; not "${label}"`);
  return { size: bytes, label: raw?.trimEnd() ?? null };
}

/** The plan; somebody at the terminal is asked for a name that the profile leaves open. */
async function planned(subject: PreparationSubject): Promise<Preparation> {
  const { planPreparation } = await import('../core/preparation.js');
  const plan = planPreparation(subject);
  if (!plan.wantsName) return plan;
  const { terminalConversation } = await import('./ask.js');
  const { visible } = await import('../rules/visible.js');
  const conversation = terminalConversation();
  if (conversation === null) return plan;
  try {
    const name = await conversation.ask(`\n${visible(plan.report.text)}\nName, or Enter alone to stop: `);
    return name === null || name.trim() === '' ? plan : planPreparation({ ...subject, name: name.trim() });
  } finally {
    conversation.end();
  }
}

// ---- checking and writing -----------------------------------------------------------------------------------

interface Words {
  readonly check: string;
  readonly rehearse: string;
  readonly folder: string;
}

/** Checks what is to be written, writes it when it is fit, and checks what was written. */
async function carriedOut(
  { report, files, image }: Preparation,
  request: CheckRequest,
  given: Given,
  words: Words,
): Promise<PreparationReport> {
  if (files === null) return report;
  const { checkTarget } = await import('./check-target.js');
  const { target } = report;
  const common = {
    path: target.path,
    container: 'none',
    containerProblems: [],
    changed: () => false,
  } as const;
  let planned: Target;
  if (image === null) {
    const { PlannedTree } = await import('../core/planned-tree.js');
    planned = { ...common, kind: 'staging', view: 'cached', bytes: null, tree: new PlannedTree(files) };
  } else {
    const { PieceSource } = await import('../card/writer/card-image.js');
    const source = new PieceSource(image.pieces, image.bytes);
    planned = { ...common, kind: 'image', view: 'medium', bytes: image.bytes, source };
  }
  const before = checkTarget(planned, request);
  if (before.verdict !== 'fit') return withCheck(report, before, false);
  if (image !== null) return writtenImage(report, image, request, given, words);
  return writtenFolder(report, files, request, words);
}

const verdictOutcome = { fit: 'written', refused: 'refused', 'not-proven': 'not-proven' } as const;

function withCheck(report: PreparationReport, check: Report, written: boolean): PreparationReport {
  const outcome = verdictOutcome[check.verdict];
  const where = report.target.kind === 'image' ? 'The image' : 'The card';
  const text = written
    ? {
        written: `${where} was written, read again and checked.`,
        refused: `${where} was written, and its check refuses it. The reasons follow.`,
        'not-proven': `${where} was written, and its check could not see all that matters. The reasons follow.`,
      }[outcome]
    : {
        written: '',
        refused: 'The check refuses what would have been written. The reasons follow.',
        'not-proven':
          'The check cannot prove that what would have been written is right. The reasons follow.',
      }[outcome];
  return { ...report, outcome, text, written, check };
}

async function writtenImage(
  report: PreparationReport,
  image: NonNullable<Preparation['image']>,
  request: CheckRequest,
  given: Given,
  words: Words,
): Promise<PreparationReport> {
  const { writeSparseFile } = await import('../node/write-sparse-file.js');
  const { putOnCard } = await import('../report/put-on-card.js');
  const { sizeText } = await import('../bytes/size-text.js');
  const { path } = report.target;
  await orNotWritten(() => writeSparseFile(path, image.bytes, image.pieces, given.flag('force')));
  const checked = withCheck(report, await checkAgain(path, false, request), true);
  const { card } = report;
  if (checked.outcome !== 'written' || card === null) return checked;
  const format =
    card.partitionTable === 'none' || card.fileSystem === 'FAT12'
      ? null
      : ({
          fileSystem: card.fileSystem === 'FAT32' ? 'FAT32' : 'FAT',
          clusters: sizeText(card.clusterBytes),
        } as const);
  return {
    ...checked,
    steps: putOnCard({ path: /\s/.test(path) ? `"${path}"` : path, format, intoFolder: words.folder }),
    next: [
      { does: 'Put the card in again and check it before it goes into the machine', command: words.check },
      { does: 'What the board will do with it, step by step', command: words.rehearse },
    ],
  };
}

async function writtenFolder(
  report: PreparationReport,
  files: NonNullable<Preparation['files']>,
  request: CheckRequest,
  words: Words,
): Promise<PreparationReport> {
  const { copyToCard, inTheWay } = await import('../node/copy-to-card.js');
  const { path } = report.target;
  const others = inTheWay(path);
  if (others.length > 0) {
    const names = others.slice(0, 5).join(', ') + (others.length > 5 ? ` and ${others.length - 5} more` : '');
    return {
      ...report,
      outcome: 'refused',
      text: `${path} is not empty: ${names}. An update wants a card without anything else. Keep what you need, format the card, and prepare it again. Nothing was deleted.`,
    };
  }
  // What is wrong with the card itself shows before anything is copied to it.
  const empty = await checkCard(path, request);
  const faults = empty?.findings.filter(
    ({ outcome, hazard, rule }) =>
      outcome === 'failed' && hazard !== 'advice' && /^(card|volume)\//.test(rule),
  );
  if (empty !== null && faults !== undefined && faults.length > 0)
    return {
      ...report,
      outcome: 'refused',
      text: `The card under ${path} is not one that this board takes: ${faults.map(({ found, needed }) => `${found}; needed: ${needed}`).join('. ')}.`,
      check: null,
    };
  await orNotWritten(
    () => copyToCard(path, files),
    ' The copy is not complete: format the card again, and if that does not help, use another one.',
  );
  const checked = withCheck(
    report,
    (await checkCard(path, request)) ?? (await checkAgain(path, true, request)),
    true,
  );
  if (checked.outcome !== 'written') return checked;
  return {
    ...checked,
    text:
      checked.check?.target.kind === 'staging'
        ? 'The files were copied, read again and checked. The card itself could not be looked at through this folder.'
        : checked.text,
    next: [
      {
        does: 'Eject the card, put it in again, and check it before it goes into the machine',
        command: words.check,
      },
    ],
  };
}

/** The check of a mounted card; null where this folder does not show one. */
async function checkCard(path: string, request: CheckRequest): Promise<Report | null> {
  try {
    return await checkAgain(path, false, request);
  } catch (error) {
    if (error instanceof CommandProblem && error.exit === exitCodes.usage) return null;
    throw error;
  }
}

async function checkAgain(path: string, staging: boolean, request: CheckRequest): Promise<Report> {
  const { checkTarget } = await import('./check-target.js');
  const { openTarget } = await import('./open-target.js');
  // Advice about another card names a check, since that is what would be typed.
  const { target, close } = await openTarget(path, staging, (card) => `flashworthy check ${card}`);
  try {
    return checkTarget(target, request);
  } finally {
    close();
  }
}

async function orNotWritten(write: () => void, more = ''): Promise<void> {
  const { WriteProblem } = await import('../node/write-new-file.js');
  try {
    write();
  } catch (error) {
    if (!(error instanceof WriteProblem)) throw error;
    throw new CommandProblem(exitCodes.notWritten, `${error.message}.${more}`);
  }
}
