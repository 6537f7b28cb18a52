import yargs, { type Argv, type Options } from 'yargs';
import { nearest } from '../board/nearest.js';
import { boardCheckCommand } from './board-check.js';
import { boardLearnCommand } from './board-learn.js';
import { boardNewCommand } from './board-new.js';
import { cardsCommand } from './cards.js';
import { checkCommand } from './check.js';
import { chooseCommand } from './choose.js';
import type { Command } from './command.js';
import { confirmCommand } from './confirm.js';
import { CommandProblem, usageProblem } from './exit.js';
import { explainCommand } from './explain.js';
import { Given } from './given.js';
import { identifyCommand } from './identify.js';
import { prepareCommand } from './prepare.js';
import { recordCommand } from './record.js';
import { rehearseCommand } from './rehearse.js';
import { releaseCommand } from './release.js';
import { rulesCommand } from './rules.js';
import type { Surroundings } from './surroundings.js';

const commands: readonly Command[] = [
  recordCommand,
  checkCommand,
  chooseCommand,
  prepareCommand,
  rehearseCommand,
  confirmCommand,
  identifyCommand,
  releaseCommand,
  explainCommand,
  rulesCommand,
  boardCheckCommand,
  boardNewCommand,
  boardLearnCommand,
  cardsCommand,
];

/** What the commands of two words are about, by their first word. */
const groups: Readonly<Record<string, string>> = {
  board: 'Board profiles, for their authors',
};

/** A command that was chosen, or the text that was asked for instead. */
export type Parsed =
  | { command: Command; given: Given; help?: undefined }
  | { command?: undefined; given?: undefined; help: string };

const commonOptions: Readonly<Record<string, Options>> = {
  color: { type: 'boolean', describe: 'Colour the report even when it does not go to a terminal' },
  'no-color': { type: 'boolean', describe: 'Never colour the report' },
};

/** Only reads the words; running comes after, so that nothing of a command's work happens inside the parser. */
export function parse(argv: readonly string[], { version, width }: Surroundings): Parsed {
  let chosen: Parsed | undefined;
  let help = '';
  const program = yargs()
    .scriptName('flashworthy')
    .usage('$0 <command>\n\nChecks a prepared memory card before a control board is re-flashed from it.')
    .parserConfiguration({
      'boolean-negation': false,
      'camel-case-expansion': false,
      'dot-notation': false,
      'parse-numbers': false,
      'parse-positional-numbers': false,
    })
    .exitProcess(false)
    .detectLocale(false)
    .wrap(width)
    .version(version)
    .help()
    .options(commonOptions)
    .strict()
    .demandCommand(1, 'name a command')
    .epilogue(exitText())
    .fail((message: string | null, error: Error | undefined) => {
      if (error instanceof CommandProblem) throw error;
      throw usageProblem(usageText(message ?? error?.message ?? 'wrong use', argv));
    });
  const add = (to: Argv, name: string, command: Command): void => {
    to.command(
      `${name} ${command.operands}`.trim(),
      command.describe,
      (inner) => {
        for (const [operand, options] of Object.entries(command.positionals))
          inner.positional(operand, options);
        return inner.options(command.options).epilogue(exitText(command.exits));
      },
      (values) => {
        chosen = { command, given: new Given(values) };
      },
    );
  };
  for (const command of commands) if (!command.name.includes(' ')) add(program, command.name, command);
  for (const [group, describe] of Object.entries(groups))
    program.command(group, describe, (inner) => {
      for (const command of commands) {
        const [first, second] = command.name.split(' ');
        if (first === group && second !== undefined) add(inner, second, command);
      }
      return inner.demandCommand(1, `name what to do: ${secondWords(group).join(', ')}`);
    });
  program.parse([...argv], {}, (_error: unknown, _values: unknown, output: string) => {
    help = output;
  });
  return help === '' && chosen ? chosen : { help };
}

const exitText = (verdicts = '0 fit, 1 refused, 2 not proven'): string =>
  `Exit: ${verdicts}, 64 wrong use, 66 not there, 70 own fault, 74 report not written.`;

const secondWords = (group: string): string[] =>
  commands.flatMap(({ name }) => (name.startsWith(`${group} `) ? [name.slice(group.length + 1)] : []));

/** One line that says what is wrong, what was probably meant, and where to read on. */
function usageText(message: string, argv: readonly string[]): string {
  const [first = '', second = ''] = argv;
  const command = commands.find(({ name }) => name === first || name === `${first} ${second}`);
  const words = Object.hasOwn(groups, first)
    ? secondWords(first)
    : [...commands.map(({ name }) => name), ...Object.keys(groups)].filter((name) => !name.includes(' '));
  const options = Object.keys({ ...commonOptions, ...command?.options });
  const unknown = /^Unknown (?:argument|command)s?: (.*)$/.exec(message)?.[1]?.split(', ') ?? [];
  const guesses = unknown.flatMap((word) => {
    const isOption = argv.some(
      (each) => each.startsWith('-') && each.replace(/^--?/, '').split('=')[0] === word,
    );
    const guess = nearest(word, isOption ? options : words);
    return guess === undefined ? [] : [isOption ? `--${guess}` : guess];
  });
  const text = message.replace(/\s*\n\s*/g, ' ').trim();
  const meant = guesses.length > 0 ? ` (did you mean ${guesses.join(', ')}?)` : '';
  const known = command?.name ?? (Object.hasOwn(groups, first) ? first : '');
  const help = `flashworthy ${known === '' ? '' : `${known} `}--help`;
  return `${text.charAt(0).toLowerCase()}${text.slice(1)}${meant}; see ${help}`;
}
