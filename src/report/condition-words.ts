import { type FactDeclaration, factSchema } from '../facts/schema.js';
import type { Expression } from '../rules/rule.js';

/** Conditions that many rules share, as the rest of a sentence that begins with "when". */
const phrases: Readonly<Record<string, string>> = {
  'board.loader.erases == before-reading':
    'the boot loader erases the old program before it has read the new one',
  'board.loader.erases == after-checks':
    'the boot loader erases the old program only after it has checked the new one',
  'board.loader.erases == never-blank': 'the boot loader never leaves the board without a program',
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
    case 'or': {
      const guarded = afterPresent(expression);
      if (guarded) return words(guarded, variables);
      const [left, right] = [words(expression[1], variables), words(expression[2], variables)];
      return left === null || right === null
        ? null
        : `${left}${expression[0] === 'or' ? ', or ' : ' and '}${right}`;
    }
    case 'not':
      return without(expression[1], variables);
    case 'fact':
    case 'field': {
      const declaration = declarationOf(expression, variables);
      return declaration?.type === 'bool' ? truth(declaration.meaning) : null;
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
  return phrase ?? `${declaration.meaning} ${verb}`;
}

/** Of `present(fact) && …` with the same fact again, what comes after: the guard says nothing more to a reader. */
function afterPresent(expression: Expression): Expression | null {
  if (expression[0] !== 'and') return null;
  const [, left, right] = expression;
  if (left[0] !== 'call' || left[1] !== 'present') return null;
  return JSON.stringify(right).includes(JSON.stringify(left[2][0])) ? right : null;
}

/** That a word is in a list of words. */
function membership(path: string, word: boolean | number | string): string | null {
  const meaning = factSchema[path]?.meaning;
  return phrases[`${path} has ${word}`] ?? (meaning === undefined ? null : `${meaning} includes "${word}"`);
}

function comparison(
  [sign, left, right]: Extract<Expression, readonly ['==' | '!=' | string, Expression, Expression]>,
  variables: Variables,
): string | null {
  const declaration = declarationOf(left, variables);
  if (declaration === undefined || right[0] !== 'value') return null;
  const value = right[1];
  const path = left[0] === 'fact' ? left[1] : '';
  const phrase = phrases[`${path} == ${value}`];
  if (phrase !== undefined && sign === '==') return phrase;
  if (typeof value === 'boolean') {
    const statement = truth(declaration.meaning);
    return value === (sign === '==') ? statement : negated(statement);
  }
  return `${declaration.meaning} is ${sign === '==' ? '' : 'not '}${typeof value === 'string' ? `"${value}"` : value}`;
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
    return inside === null ? null : `this is so for one of the ${declaration.meaning}: ${inside}`;
  }
  if (body[0] !== '==' || body[1][0] !== 'variable' || body[2][0] !== 'value') return null;
  return membership(list[1], body[2][1]);
}
