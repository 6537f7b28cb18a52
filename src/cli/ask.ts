import { createInterface } from 'node:readline';
import type { Question } from '../board/choose.js';
import { wrap } from '../report/wrap.js';
import { visible } from '../rules/visible.js';

/** Someone at a terminal: writes a text, and answers with the line that was typed, or null when the input ended. */
export interface Conversation {
  ask(text: string): Promise<string | null>;
  end(): void;
}

/**
 * A conversation on standard input and standard error, so that standard output holds the report alone. Null when one
 * of the two is no terminal: then nobody is there to answer.
 */
export function terminalConversation(): Conversation | null {
  const { stdin, stderr } = process;
  if (stdin.isTTY !== true || stderr.isTTY !== true) return null;
  const lines = createInterface({ input: stdin, output: stderr });
  // Lines that were typed or pasted ahead wait for their question.
  const typed: string[] = [];
  let waiting: ((line: string | null) => void) | null = null;
  let isOver = false;
  let isUsed = false;
  const hand = (line: string | null): void => {
    const take = waiting;
    waiting = null;
    if (take !== null) take(line);
    else if (line !== null) typed.push(line);
  };
  lines.on('line', hand);
  lines.once('close', () => {
    isOver = true;
    hand(null);
  });
  // Ctrl+C ends the command, with the code that shells give it.
  lines.on('SIGINT', () => {
    stderr.write('\n');
    process.exit(130);
  });
  return {
    ask: (text) =>
      new Promise((resolve) => {
        isUsed = true;
        // Only the last line is a prompt: readline draws it anew at every key.
        const prompt = text.lastIndexOf('\n') + 1;
        stderr.write(text.slice(0, prompt));
        const ahead = typed.shift();
        if (ahead !== undefined || isOver) {
          stderr.write(`${text.slice(prompt)}${ahead ?? ''}\n`);
          return resolve(ahead ?? null);
        }
        waiting = resolve;
        lines.setPrompt(text.slice(prompt));
        lines.prompt();
      }),
    end: () => {
      lines.close();
      if (isUsed) stderr.write('\n');
    },
  };
}

/** A question as it is put on a terminal, with the answers to choose from and a prompt. */
export function questionText({ ask, help, possible, option }: Question, width: number): string {
  const lines = ['', ...wrap(ask, width)];
  if (help !== undefined) lines.push(...wrap(help, width, '  '));
  const numbered = isNumbered(possible);
  for (const [index, { value, title }] of (possible ?? []).entries()) {
    const name = title === undefined ? value : `${title} (${value})`;
    lines.push(...wrap(name, width, numbered ? `  ${index + 1}  ` : '  - '));
  }
  const shown = /^--\S+ (\S+)$/.exec(option)?.[1]?.replace(/^[^=]*=/, '');
  // A word in capitals stands for an answer and is none.
  const example = shown === 'RELEASE' ? undefined : shown;
  const how = numbered
    ? 'A number or a name'
    : possible !== undefined
      ? 'One of these'
      : example === undefined
        ? `Your answer${option.startsWith('--installed') ? ', or none if nothing runs' : ''}`
        : `Such as ${example}`;
  return `${lines.map(visible).join('\n')}\n${how}; Enter alone if you do not know: `;
}

/** Answers are numbered unless one of them is a number itself. */
const isNumbered = (possible: Question['possible']): boolean =>
  possible !== undefined && !possible.some(({ value }) => /^[0-9]+$/.test(value));

/** What was typed, as the option of the command line takes it; null when nothing was. */
export function answerFrom({ possible }: Question, typed: string): string | null {
  const text = typed.trim();
  if (text === '') return null;
  if (possible === undefined) return text;
  const index = isNumbered(possible) && /^[0-9]{1,3}$/.test(text) ? Number(text) - 1 : -1;
  const plain = text.toLowerCase();
  const found =
    possible[index] ??
    possible.find(({ value, title }) => value.toLowerCase() === plain || title?.toLowerCase() === plain);
  return found?.value ?? text;
}
