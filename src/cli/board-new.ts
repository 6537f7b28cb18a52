import { type DraftEntry, draftText } from '../board/draft.js';
import type { Conversation } from './ask.js';
import type { Command } from './command.js';
import { type ExitCode, exitCodes, usageProblem } from './exit.js';
import type { Given } from './given.js';
import { nameAndValue, outputOptions, value } from './options.js';
import type { Surroundings } from './surroundings.js';

/** `board new`: a short dialogue that ends with a commented profile. */
export const boardNewCommand: Command = {
  name: 'board new',
  operands: '',
  describe: 'Start a board profile: a few questions, then a file with comments',
  positionals: {},
  options: {
    set: value('Answer to a question, as key=value (YAML); may be repeated'),
    output: outputOptions.output,
    force: outputOptions.force,
  },
  exits: '0 written',
  run: runBoardNew,
};

/** One question: a key of the profile, what is asked, and how an owner may find the answer. */
interface ProfileQuestion {
  readonly key: string;
  readonly ask: string;
  readonly help: string;
  /** What the profile cannot be without. */
  readonly needed?: true;
  readonly example: string;
  /** Taken as it is typed, where others are YAML. */
  readonly isText?: true;
}

/** What names the board, and the core keys. */
const questions: readonly ProfileQuestion[] = [
  {
    key: 'id',
    ask: 'What is the board called in file names?',
    help: 'Small letters, digits and hyphens.',
    needed: true,
    isText: true,
    example: 'tansy',
  },
  {
    key: 'title',
    ask: 'What is the board or machine called for people?',
    help: 'As its owners call it.',
    needed: true,
    isText: true,
    example: 'Larkfield Tansy bench printer',
  },
  {
    key: 'memory.application',
    ask: 'Where in memory does a program go?',
    help: 'Start and size of the area that the loader writes. The linker script of the program has both.',
    example: '{ start: 0x08008000, bytes: 480KiB }',
  },
  {
    key: 'loader.partitioning',
    ask: 'Which kinds of partition table does the loader read?',
    help: 'Any of mbr, gpt, hybrid, none. A card that has flashed shows one.',
    example: '[mbr]',
  },
  {
    key: 'loader.takesPartition',
    ask: 'Which partition does the loader take?',
    help: 'first-slot, first-fat, active, slot-2, or whole-card.',
    example: 'first-slot',
  },
  {
    key: 'loader.fileSystems',
    ask: 'Which file systems does the loader read?',
    help: 'Any of FAT12, FAT16, FAT32, exFAT. What the running program reads proves nothing about the loader.',
    example: '[FAT32]',
  },
  {
    key: 'loader.erases',
    ask: 'When does the loader erase the old program?',
    help: 'before-reading: at once; after-checks: when the file is found good; never-blank: it keeps two programs.',
    example: 'after-checks',
  },
  {
    key: 'update.path',
    ask: 'Which file does the loader look for?',
    help: 'Its name, with its folder if it has one.',
    example: 'TANSY.LKF',
  },
  {
    key: 'update.encoding',
    ask: 'How is that file written?',
    help: 'raw, intel-hex, s-record, uf2, elf, esp-image, dfuse, packed-gzip or scrambled.',
    example: 'raw',
  },
  {
    key: 'update.checks',
    ask: 'What does the loader verify before it starts a program?',
    help: 'Any of nothing, vectors, word-sum, checksum, signature, board-marker.',
    example: '[vectors]',
  },
  {
    key: 'builds',
    ask: 'Which builds are there?',
    help: 'any accepts every file of the right form and place. A list of builds is written into the file later.',
    example: 'any',
  },
];

async function runBoardNew(given: Given, surroundings: Surroundings): Promise<ExitCode> {
  const { planOutput, writeForms } = await import('./output.js');
  const plan = planOutput(given, [], ['text']);
  const told = new Map(given.texts('set').map((text) => nameAndValue('set', text)));
  for (const key of told.keys())
    if (!questions.some((one) => one.key === key))
      throw usageProblem(
        `--set ${key}: there is no such question; they are ${questions.map((one) => one.key).join(', ')}`,
      );
  const { terminalConversation } = await import('./ask.js');
  const conversation = terminalConversation();
  try {
    const text = await newProfile(told, conversation, surroundings.width);
    await writeForms(text, plan, surroundings, surroundings, { text: async () => (whole: string) => whole });
  } finally {
    conversation?.end();
  }
  return exitCodes.fit;
}

/** A wrong answer may be given again this often. */
const attempts = 3;

/**
 * The profile that answers make. Each is read as the profile's reader reads it, so that nothing wrong is written. Ends
 * the command with 64 when an answer of the command line is wrong, or when a name is lacking and nobody is there to ask.
 * @param told answers by key, as text in YAML
 */
export async function newProfile(
  told: ReadonlyMap<string, string>,
  conversation: Conversation | null,
  width: number,
): Promise<string> {
  const { wrap } = await import('../report/wrap.js');
  const { visible } = await import('../rules/visible.js');
  const entries: DraftEntry[] = [];
  for (const question of questions) {
    const { key, ask, help, needed, example } = question;
    const comment = `${ask} ${help}`;
    const given = told.get(key);
    if (given !== undefined) {
      const answer = await answerOf(question, given);
      if ('problem' in answer) throw usageProblem(`--set ${key}: ${answer.problem}`);
      entries.push({ key, ...answer, comment });
      continue;
    }
    if (conversation === null) {
      if (needed)
        throw usageProblem(
          `nobody is here to ask: say --set id=NAME --set title=TITLE, and what is known of ${questions
            .filter((one) => !one.needed)
            .map((one) => one.key)
            .join(', ')}`,
        );
      entries.push({ key, comment });
      continue;
    }
    const lines = ['', ...wrap(ask, width), ...wrap(help, width, '  ')];
    let prompt = `${lines.join('\n')}\nSuch as ${example}${needed ? '' : '; Enter alone if you do not know'}: `;
    let entry: DraftEntry = { key, comment };
    for (let attempt = 0; attempt < attempts; attempt++) {
      const typed = (await conversation.ask(prompt))?.trim() ?? '';
      if (typed === '' && !needed) break;
      const answer = await answerOf(question, typed);
      if (!('problem' in answer)) {
        entry = { key, ...answer, comment };
        break;
      }
      if (attempt === attempts - 1 && needed) throw usageProblem(`${key}: ${answer.problem}`);
      prompt = `${wrap(visible(answer.problem), width).join('\n')}\nOnce more: `;
    }
    entries.push(entry);
  }
  return draftText(
    [
      'A board profile. A key that is left out says nothing, and the core keys below are needed before any card can be fit; any says that something does not matter.',
      'Check it with: flashworthy board check FILE',
    ],
    [
      ...entries.slice(0, 2),
      { key: 'revision', value: 1, comment: 'Counts up with every change.' },
      { key: 'basis', value: 'assumed', comment: 'How you know all this: maker, measured, seen or assumed.' },
      ...entries.slice(2),
    ],
  );
}

/** An answer as a value of the profile, or what is wrong with it. */
async function answerOf(
  { key, isText }: ProfileQuestion,
  typed: string,
): Promise<{ value: unknown } | { problem: string }> {
  const { parseDocument } = await import('yaml');
  const { ProfileError, readProfile } = await import('../board/read.js');
  if (typed.trim() === '') return { problem: 'an answer is needed here' };
  // JSON is YAML as well, and nothing in it is taken for a comment.
  const text = isText ? JSON.stringify(typed) : typed;
  const document = parseDocument(text, { version: '1.2', schema: 'core' });
  const [wrong] = [...document.errors, ...document.warnings];
  if (wrong) return { problem: wrong.message.split('\n')[0] ?? 'this is no YAML' };
  const [group, name] = key.split('.');
  const line = name === undefined ? `${group}: ${text}` : `${group}: { ${name}: ${text} }`;
  const names = ['id', 'title'].filter((one) => one !== key).map((one) => `${one}: x`);
  try {
    readProfile(['schema: flashworthy-board/1', 'revision: 1', ...names, line].join('\n'), 'answer');
  } catch (error) {
    if (error instanceof ProfileError)
      return { problem: error.problems[0]?.message ?? 'this cannot stand here' };
    throw error;
  }
  return { value: isText ? typed : document };
}
