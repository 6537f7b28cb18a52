import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, outputOptions, value } from './options.js';
import type { Surroundings } from './surroundings.js';

const { machine: _machine, ...aboutTheMachine } = boardOptions;

/** `record <capture>`: a machine record from what a terminal program saved. */
export const recordCommand: Command = {
  name: 'record',
  operands: '[capture]',
  describe: 'Write down what a machine is, from a capture of its terminal',
  positionals: {
    capture: {
      type: 'string',
      describe: 'Text of a terminal: what the machine answered about itself and its settings',
    },
  },
  options: {
    ...aboutTheMachine,
    'last-file-name': value('Name of the file that was flashed last', 'The board and the machine:'),
    output: outputOptions.output,
    force: outputOptions.force,
  },
  exits: '0 whole, 2 something lacks',
  run: runRecord,
};

async function runRecord(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { loadBoard } = await import('./load-board.js');
  const { planOutput, writeForms } = await import('./output.js');
  const { readCaptureInput } = await import('./inputs.js');
  const { machineReader } = await import('./stated-machine.js');
  const { identityKeys, makeRecord } = await import('../core/make-record.js');
  const { readCapture } = await import('../machine/capture.js');
  const path = given.text('capture');
  if (path === undefined)
    throw usageProblem("name the file with the terminal's text; see flashworthy record --help");
  const board = await loadBoard(given.text('board'), given.text('boards'), given.text('manifest'));
  if (board === null) throw usageProblem('say which board it is: --board and a release folder or a profile');
  const { profile } = board;
  const input = readCaptureInput(path);
  const plan = planOutput(given, [path, board.file.path], ['text']);
  const { options, read } = await machineReader(given, board);
  const { problems } = read(options);
  if (problems.length > 0)
    throw usageProblem(problems.map(({ option, message }) => `${option}: ${message}`).join('\n'));
  const capture = readCapture(input.text, Object.values(identityKeys(profile)));
  const made = makeRecord(capture, profile, options, given.text('last-file-name'));
  if (made.record === null)
    throw usageProblem(
      `no record was made, since these cannot both be so:\n${made.contradictions.join('\n')}`,
    );
  const { recordText } = await import('../machine/write-record.js');
  const { recordNotes } = await import('../report/record-text.js');
  const { cautionTexts } = await import('../core/choice-report.js');
  const { quoted } = await import('./again.js');
  const text = recordText(made.record);
  await writeForms(text, plan, surroundings, surroundings, { text: async () => (whole: string) => whole });
  const file = plan.file ?? 'RECORD';
  const notes = recordNotes(
    made,
    {
      title: `${profile.title} (profile ${profile.id}, revision ${profile.revision})`,
      next: ['flashworthy', 'choose', given.text('board') ?? '', '--machine', file].map(quoted).join(' '),
      cautions: cautionTexts(profile),
    },
    surroundings,
  );
  // The record itself may stand on standard output, for another program to take.
  if (plan.file === undefined) surroundings.note(notes.trimEnd());
  else await surroundings.out(notes);
  return made.lacks.length === 0 ? exitCodes.fit : exitCodes.notProven;
}
