import { quoted } from './again.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, flag, value } from './options.js';
import type { Surroundings } from './surroundings.js';

const { machine: _machine, ...machineOptions } = boardOptions;

/** `record <capture>`: a machine record from what the machine printed on a terminal. */
export const recordCommand: Command = {
  name: 'record',
  operands: '[capture]',
  describe: 'Make a machine record from what the machine printed on a terminal',
  positionals: {
    capture: { type: 'string', describe: 'File with the lines of the terminal, copied as they are' },
  },
  options: {
    ...machineOptions,
    'last-file': value('Name of the file that was flashed last', 'The board and the machine:'),
    output: value('Write the record to this file instead of standard output', 'The record:'),
    force: flag('Overwrite a file that exists', 'The record:'),
  },
  exits: '0 whole, 2 something lacks',
  run: runRecord,
};

async function runRecord(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const path = given.text('capture');
  const named = given.text('board');
  if (path === undefined)
    throw usageProblem('name a file with the lines of the terminal; see flashworthy record --help');
  if (named === undefined)
    throw usageProblem(
      'say which board it is with --board: a profile, a release folder, or an id in --boards',
    );
  const { loadBoard } = await import('./load-board.js');
  const { fileOptions, planOutput, writeForms } = await import('./output.js');
  const board = await loadBoard(named, given.text('boards'), given.text('manifest'));
  if (board === null) throw new Error('a board was named and none was loaded');
  const { profile, file: profileFile, manifest } = board;
  const { captureFile } = await import('./read-capture.js');
  const { capture } = captureFile(path, profile);
  const inputs = [path, profileFile.path, ...(manifest === null ? [] : [manifest.path])];
  const plan = planOutput(given, inputs, ['text']);
  const { statedOptions } = await import('./stated-machine.js');
  const { machineFromRecord } = await import('../machine/record.js');
  const { machineFromOptions } = await import('../machine/machine.js');
  const { recordCapture } = await import('../machine/record-capture.js');
  const { writeRecord } = await import('../machine/write-record.js');
  const options = statedOptions(given);
  const stated = machineFromOptions(options, profile).problems;
  if (stated.length > 0)
    throw usageProblem(stated.map(({ option, message }) => `${option}: ${message}`).join('\n'));
  const recorded = recordCapture(capture, profile, options, given.text('last-file'));
  if (recorded.contradictions.length > 0) {
    const { visible } = await import('../rules/visible.js');
    throw usageProblem(
      `${recorded.contradictions.map(visible).join('\n')}\nNothing was written, since a wrong record is worse than none.`,
    );
  }
  const { recordNotes } = await import('../core/record-notes.js');
  const { recordText } = await import('../report/record-text.js');
  const { machine } = machineFromRecord(recorded.record, {}, profile);
  const notes = recordNotes(recorded, capture, profile, machine, board.release, {
    choose: chooseLine(given, named, manifest !== null),
    again: againLine(given, path, named),
  });
  const missing = [...notes.lacks, ...notes.questions.map(({ ask }) => ask)];
  const text = writeRecord(recorded.record, remarksFor(profile.title, missing));
  await writeForms(text, plan, surroundings, surroundings, { text: async () => (whole: string) => whole });
  if (plan.file === undefined)
    surroundings.note(`what to know:\n${recordText(notes, fileOptions(surroundings))}`);
  else await surroundings.out(recordText(notes, surroundings));
  return missing.length === 0 ? exitCodes.fit : exitCodes.notProven;
}

/** The head of the file, for who opens it later. */
const remarksFor = (title: string, missing: readonly string[]): string[] => [
  `Machine record of a ${title}.`,
  ...(missing.length === 0
    ? []
    : [
        `NOT WHOLE: ${missing.length === 1 ? 'this is' : 'these are'} missing:`,
        ...missing.map((text) => `- ${text}`),
      ]),
];

/** The choice of a build for the machine of this record. */
function chooseLine(given: Given, board: string, isRelease: boolean): string {
  const words = ['flashworthy', 'choose', isRelease ? board : 'RELEASE'];
  const boards = given.text('boards');
  if (isRelease && boards !== undefined) words.push('--boards', boards);
  words.push('--machine', given.text('output') ?? 'RECORD');
  return words.map(quoted).join(' ');
}

function againLine(given: Given, path: string, board: string): string {
  const words = ['flashworthy', 'record', path, '--board', board];
  for (const option of ['boards', 'manifest', 'supply', 'installed', 'was', 'set', 'last-file', 'output'])
    for (const text of given.texts(option)) words.push(`--${option}`, text);
  if (given.text('output') !== undefined) words.push('--force');
  return words.map(quoted).join(' ');
}
