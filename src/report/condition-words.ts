import { type FactDeclaration, factSchema } from '../facts/schema.js';
import type { Expression } from '../rules/rule.js';

/** Conditions that many rules share, as the rest of a sentence that begins with "when". */
const phrases: Readonly<Record<string, string>> = {
  'board.loader.erases == before-reading':
    'the boot loader erases the old program before it has read the new one',
  'board.loader.erases == after-checks':
    'the boot loader erases the old program only after it has checked the new one',
  'board.loader.erases == never-blank': 'the boot loader never leaves the board without a program',
  'board.loader.erases != before-reading':
    'the boot loader does not erase the old program before it has read the new one',
  'board.update.checks has vectors': 'it looks at the first words of the program before it starts it',
  'board.update.checks has word-sum': 'it adds up the first words of the program before it starts it',
  'board.update.checks has checksum': 'it compares the checksum of the file',
  'board.update.checks has signature': 'it verifies the signature of the file',
  'board.update.checks has board-marker': 'it looks for the name of the board in the file',
  'board.update.checks has nothing': 'the boot loader checks nothing',
  'not board.update.checks has nothing': 'it checks something before it starts the new program',
  'present updateFile.path': 'there is a file on the card that the boot loader would take',
  'board.update.encoding == raw': 'the boot loader takes plain bytes as they are',
  'board.card.otherFiles == forbidden': 'the board wants nothing else on the card',
  'board.card.otherFiles == advised-against': 'other files on the card are advised against',
  'board.update.afterSuccess == rename': 'the boot loader renames the file after the flash',
  'board.update.afterSuccess == delete': 'the boot loader deletes the file after the flash',
  'board.update.afterSuccess == keep': 'the boot loader leaves the file as it is after the flash',
  'board.loader.searches == whole-card': 'the boot loader searches the whole card',
};

/**
 * A condition of a rule in plain words, as the rest of a sentence that begins with "when"; null where the language
 * of rules says more than these words could.
 */
export function conditionWords(expression: Expression): string | null {
  return words(expression, new Map());
}

type Variables = ReadonlyMap<string, FactDeclaration>;

function words(expression: Expression, variables: Variables): string | null {
  switch (expression[0]) {
    case 'and':
      return together(expression, variables);
    case 'or': {
      const parts = operands(expression, 'or').map((part) => words(part, variables));
      return parts.includes(null) ? null : parts.join(', or ');
    }
    case 'not':
      return without(expression[1], variables);
    case 'fact':
    case 'field': {
      const declaration = declarationOf(expression, variables);
      return declaration?.type === 'bool' ? truth(briefly(declaration)) : null;
    }
    case '==':
    case '!=':
      return comparison(expression, variables);
    case 'exists':
      return existence(expression, variables);
    case 'in': {
      const [, value, list] = expression;
      return value[0] === 'value' && list[0] === 'fact' ? membership(list[1], value[1]) : null;
    }
    case 'call':
      return present(expression, variables, 'is known');
    default:
      return null;
  }
}

function declarationOf(expression: Expression, variables: Variables): FactDeclaration | undefined {
  if (expression[0] === 'fact') return factSchema[expression[1]];
  if (expression[0] !== 'field' || expression[1][0] !== 'variable') return undefined;
  return variables.get(expression[1][1])?.item?.[expression[2]];
}

/** The meaning of a fact without its exceptions, which stand after a semicolon. */
const briefly = ({ meaning }: FactDeclaration): string => meaning.split('; ')[0] ?? meaning;

/** The meaning of a fact that is true or false, as a statement. */
const truth = (meaning: string): string | null =>
  meaning.startsWith('false when ') ? null : meaning.replace(/^true when /, '');

function without(expression: Expression, variables: Variables): string | null {
  if (expression[0] === 'call') return present(expression, variables, 'is not known');
  if (expression[0] === 'in' && expression[1][0] === 'value' && expression[2][0] === 'fact')
    return phrases[`not ${expression[2][1]} has ${expression[1][1]}`] ?? null;
  return negated(words(expression, variables));
}

/** The statement turned round, where that is certain to be right: "it is there". */
const negated = (statement: string | null): string | null =>
  statement !== null && /^it is \w+$/.test(statement) ? statement.replace('it is', 'it is not') : null;

type Call = Extract<Expression, readonly ['call', string, readonly Expression[]]>;

function present([, name, args]: Call, variables: Variables, verb: string): string | null {
  const declaration = args[0] && declarationOf(args[0], variables);
  if (name !== 'present' || args[0] === undefined || declaration === undefined) return null;
  const phrase = args[0][0] === 'fact' && verb === 'is known' ? phrases[`present ${args[0][1]}`] : undefined;
  return phrase ?? `${briefly(declaration)} ${verb}`;
}

/** The parts of a chain of one operator. */
function operands(expression: Expression, sign: 'and' | 'or'): Expression[] {
  return expression[0] === sign
    ? [...operands(expression[1], sign), ...operands(expression[2], sign)]
    : [expression];
}

function together(expression: Expression, variables: Variables): string | null {
  const all = operands(expression, 'and');
  // A guard in front of a fact that is asked for again says nothing more to a reader.
  const guards = (part: Expression): boolean =>
    part[0] === 'call' &&
    part[1] === 'present' &&
    all.some((other) => other !== part && JSON.stringify(other).includes(JSON.stringify(part[2][0])));
  const parts = all
    .filter((part) => !guards(part))
    .map((part) => {
      const text = words(part, variables);
      return text !== null && part[0] === 'or' && all.length > 1 ? `either ${text}` : text;
    });
  return parts.includes(null) ? null : parts.join(', and ');
}

/** That a word is in a list of words. */
function membership(path: string, word: boolean | number | string): string | null {
  const declaration = factSchema[path];
  return (
    phrases[`${path} has ${word}`] ??
    (declaration === undefined ? null : `${briefly(declaration)} includes "${word}"`)
  );
}

function comparison(
  [sign, left, right]: Extract<Expression, readonly ['==' | '!=' | string, Expression, Expression]>,
  variables: Variables,
): string | null {
  const declaration = declarationOf(left, variables);
  if (declaration === undefined || right[0] !== 'value') return null;
  const value = right[1];
  const path = left[0] === 'fact' ? left[1] : '';
  const phrase = phrases[`${path} ${sign} ${value}`];
  if (phrase !== undefined) return phrase;
  if (typeof value === 'boolean') {
    const statement = truth(briefly(declaration));
    return value === (sign === '==') ? statement : negated(statement);
  }
  return `${briefly(declaration)} is ${sign === '==' ? '' : 'not '}${typeof value === 'string' ? `"${value}"` : value}`;
}

/** `list.exists(x, x == word)`, and the same of a list of records. */
function existence(
  [, list, name, body]: Extract<Expression, readonly ['all' | 'exists', Expression, string, Expression]>,
  variables: Variables,
): string | null {
  if (list[0] !== 'fact') return null;
  const declaration = factSchema[list[1]];
  if (declaration === undefined) return null;
  if (declaration.item !== undefined) {
    const inside = words(body, new Map([...variables, [name, declaration]]));
    return inside === null ? null : `this is so for one of the ${briefly(declaration)}: ${inside}`;
  }
  const asked = wordsAsked(body);
  if (asked === null) return null;
  const parts = asked.map((word) => membership(list[1], word));
  return parts.includes(null) ? null : parts.join(' or ');
}

/** Of `x == word`, of several of them joined with "or", and of `x in [words]`, the words; null for anything else. */
function wordsAsked(body: Expression): (boolean | number | string)[] | null {
  const asked = operands(body, 'or').map((part) => {
    if (part[0] === '==' && part[1][0] === 'variable' && part[2][0] === 'value') return [part[2][1]];
    if (part[0] !== 'in' || part[1][0] !== 'variable' || part[2][0] !== 'list') return null;
    const values = part[2][1].map((value) => (value[0] === 'value' ? value[1] : null));
    return values.filter((value) => value !== null).length === values.length
      ? values.filter((value) => value !== null)
      : null;
  });
  return asked.includes(null) ? null : asked.flatMap((each) => each ?? []);
}
