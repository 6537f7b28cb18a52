import type { RehearsalReport } from '../report/rehearsal.js';
import type { CheckRequest, OpenTarget } from './check-target.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { boardOptions, cardOptions, ruleOptions, twoForms } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `rehearse <card>`: what the boot loader of the board would do with a card. */
export const rehearseCommand: Command = {
  name: 'rehearse',
  operands: '[target]',
  describe: 'What would the boot loader do with this card, step by step?',
  positionals: {
    target: {
      type: 'string',
      describe: 'Folder of a mounted card, device, or image (raw or .gz); with --staging any folder',
    },
  },
  options: { ...boardOptions, ...cardOptions, ...ruleOptions, ...twoForms },
  exits: '0 it starts and the check says fit, 1 it does not or is refused, 2 cannot tell',
  run: runRehearse,
};

async function runRehearse(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { cardPath } = await import('../node/target-kind.js');
  const { planOutput, writeForms } = await import('./output.js');
  const { checkRequest } = await import('./check-request.js');
  const { inputFiles } = await import('./check-target.js');
  const { openTarget } = await import('./open-target.js');
  const card = given.text('target');
  if (card === undefined) throw usageProblem('name a card; see flashworthy rehearse --help');
  if (given.text('board') === undefined)
    throw usageProblem('name the board with --board: its profile says what the boot loader does');
  const path = cardPath(card);
  const request = await checkRequest(given, surroundings);
  const plan = planOutput(given, [path, ...inputFiles(request).map((file) => file.path)], Object.keys(forms));
  const { sameAgain } = await import('./again.js');
  const { target, close } = await openTarget(path, given.flag('staging'), sameAgain('rehearse', given));
  let report: RehearsalReport;
  try {
    report = await rehearsed(target, request, path, given);
  } finally {
    close();
  }
  await writeForms(report, plan, surroundings, surroundings, forms);
  return exitOf(report);
}

const forms = {
  text: async () => (await import('../report/rehearse-text.js')).rehearseText,
  json: async () => (await import('../report/json.js')).jsonText,
};

/** A program that starts is no reason to flash it: only with a card that is fit as well the answer is 0. */
function exitOf({ answer, check: { verdict } }: RehearsalReport): ExitCode {
  if (answer === 'does-not' || verdict === 'refused') return exitCodes.refused;
  return answer === 'starts' && verdict === 'fit' ? exitCodes.fit : exitCodes.notProven;
}

async function rehearsed(
  target: OpenTarget['target'],
  request: CheckRequest,
  path: string,
  given: Given,
): Promise<RehearsalReport> {
  const { checkOptions, subjectOf } = await import('./check-target.js');
  const { rehearsalReport, rehearseSubject } = await import('../core/rehearsal-report.js');
  const { secondReader } = await import('./second-reader.js');
  const { again } = await import('./again.js');
  const subject = subjectOf(target, request);
  const { profile } = subject;
  if (profile === null) throw new Error('a board was named and none was loaded');
  const result = rehearseSubject({ ...subject, profile }, checkOptions(request));
  const driver = await secondReader(target, result, request.digests);
  const texts = Object.keys(boardOptions);
  const flags = ['fresh', 'reinserted', 'no-waivers'];
  const next = (command: string, on: string, more: readonly string[] = []): string =>
    again(command, on, given, [...texts, 'card', 'rules'], [...flags, ...more]);
  return rehearsalReport(result, driver, {
    check: next('check', path, ['staging']),
    rehearse: next('rehearse', 'CARD'),
  });
}
