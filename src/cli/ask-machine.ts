import type { Question } from '../board/choose.js';
import type { Machine, MachineOptions } from '../machine/machine.js';
import { wrap } from '../report/wrap.js';
import { answerFrom, type Conversation, questionText, terminalConversation } from './ask.js';
import { usageProblem } from './exit.js';
import type { MachineReader } from './stated-machine.js';

/** What is told about a machine so far. */
export interface Told {
  readonly options: MachineOptions;
  readonly machine: Machine;
}

/**
 * What was told about the machine, and what somebody at the terminal answers to the questions that are open. Ends the
 * command with 64 when an answer of the command line is none.
 */
export async function machineOf(
  { options, read }: MachineReader,
  width: number,
  questionsOf: (machine: Machine) => readonly Question[],
): Promise<Told> {
  const { machine, problems } = read(options);
  if (problems.length > 0)
    throw usageProblem(problems.map(({ option, message }) => `${option}: ${message}`).join('\n'));
  const conversation = terminalConversation();
  if (conversation === null) return { options, machine };
  try {
    return await askOpenQuestions({ options, machine }, questionsOf, conversation, read, width);
  } finally {
    conversation.end();
  }
}

/** A wrong answer may be given again this often. */
const attempts = 3;

/** Asks what is open, one question after the other, until nothing is or the rest is not known. */
export async function askOpenQuestions(
  start: Told,
  questionsOf: (machine: Machine) => readonly Question[],
  conversation: Conversation,
  read: MachineReader['read'],
  width: number,
): Promise<Told> {
  let told = start;
  const skipped = new Set<string>();
  const keyOf = ({ axis, ask }: Question): string => `${axis}\n${ask}`;
  for (;;) {
    const question = questionsOf(told.machine).find((one) => !skipped.has(keyOf(one)));
    if (question === undefined) return told;
    let text = questionText(question, width);
    let answered: Told | null = null;
    for (let attempt = 0; attempt < attempts && answered === null; attempt++) {
      const typed = await conversation.ask(text);
      if (typed === null) return told;
      const answer = answerFrom(question, typed);
      if (answer === null) break;
      const options = withAnswer(told, question, answer);
      const { machine, problems } = read(options);
      if (problems.length === 0) answered = { options, machine };
      else text = `${wrap(problems.map(({ message }) => message).join('\n'), width).join('\n')}\nOnce more: `;
    }
    if (answered === null) skipped.add(keyOf(question));
    else told = answered;
  }
}

function withAnswer({ options, machine }: Told, { axis }: Question, answer: string): MachineOptions {
  if (axis === 'supply') return { ...options, supply: answer };
  if (axis === 'installed')
    return machine.nothingInstalled ? { ...options, was: answer } : { ...options, installed: answer };
  return { ...options, sets: { ...options.sets, [axis]: answer } };
}
