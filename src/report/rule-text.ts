import { factSchema } from '../facts/schema.js';
import type { Expression, Template } from '../rules/rule.js';

/** How tightly an operator binds, loosest first, as in the language of rules. */
const binding: Readonly<Record<string, number>> = {
  if: 1,
  or: 2,
  and: 3,
  '==': 4,
  '!=': 4,
  '<': 4,
  '<=': 4,
  '>': 4,
  '>=': 4,
  in: 4,
  '+': 5,
  '-': 5,
  '*': 6,
  '/': 6,
  '%': 6,
  'whole/': 6,
  not: 7,
  minus: 7,
};
const signs: Readonly<Record<string, string>> = { and: '&&', or: '||', 'whole/': '/' };
const methods = new Set(['startsWith', 'endsWith', 'contains']);

/** A compiled expression written out again in the language of rules, with no more parentheses than it needs. */
export function conditionText(expression: Expression): string {
  return written(expression, 0);
}

function written(expression: Expression, outer: number): string {
  const own = binding[expression[0]];
  const text = unbracketed(expression);
  return own !== undefined && own < outer ? `(${text})` : text;
}

function unbracketed(expression: Expression): string {
  switch (expression[0]) {
    case 'value':
      return JSON.stringify(expression[1]);
    case 'fact':
    case 'variable':
      return expression[1];
    case 'field':
      return `${written(expression[1], 8)}.${expression[2]}`;
    case 'item':
      return `${written(expression[1], 8)}[${written(expression[2], 0)}]`;
    case 'list':
      return `[${expression[1].map((item) => written(item, 0)).join(', ')}]`;
    case 'not':
      return `!${written(expression[1], 7)}`;
    case 'minus':
      return `-${written(expression[1], 7)}`;
    case 'if':
      return `${written(expression[1], 2)} ? ${written(expression[2], 2)} : ${written(expression[3], 1)}`;
    case 'all':
    case 'exists':
      return `${written(expression[1], 8)}.${expression[0]}(${expression[2]}, ${written(expression[3], 0)})`;
    case 'call': {
      const [, name, args] = expression;
      const [first, ...rest] = args;
      return methods.has(name) && first
        ? `${written(first, 8)}.${name}(${rest.map((each) => written(each, 0)).join(', ')})`
        : `${name}(${args.map((each) => written(each, 0)).join(', ')})`;
    }
    default: {
      const [sign, left, right] = expression;
      const own = binding[sign] ?? 0;
      // All operators group to the left: an equal one on the right needs its parentheses.
      return `${written(left, own)} ${signs[sign] ?? sign} ${written(right, own + 1)}`;
    }
  }
}

/**
 * A text of a rule as it reads without a card or board at hand: what would be filled in stands in angle brackets as
 * the meaning of the fact, and of a choice both sides are shown.
 */
export function templateText(template: Template): string {
  return template.map((part) => (typeof part === 'string' ? part : placeholder(part.expression))).join('');
}

/** What stands for a fact where its meaning says more than a reader of rules needs. */
const placeholders: Readonly<Record<string, string>> = {
  'updateFile.wanted': 'the name that this board looks for',
  'updateFile.wantedFolder': 'the folder in which this board looks',
  'updateFile.path': 'the update file',
  'updateFile.name': 'the name of the update file',
  'updateFile.bytes': 'so many',
  'updateFile.candidates': 'their names',
  'updateFile.entryIndex': 'its place in the list',
  'updateFile.entryLimit': 'so many',
  'volume.fileSystem': 'the file system of the card',
  'volume.clusterBytes': 'the cluster size of the card',
  'volume.clusterCount': 'so many',
  'media.bytes': 'the size of the card',
  'media.possibleClasses': 'as the size of the card tells',
  'partition.startByte': 'where it begins',
  'partition.type': 'the type',
  'board.loader.clusterBytes': 'the cluster size that this board reads',
  'board.loader.takesPartition': 'the one that this board takes',
};

function placeholder(expression: Expression): string {
  switch (expression[0]) {
    case 'value':
      return String(expression[1]);
    case 'fact':
      return `<${placeholders[expression[1]] ?? briefly(factSchema[expression[1]]?.meaning ?? expression[1])}>`;
    case 'variable':
      return '<the item>';
    case 'field':
      return fieldPlaceholder(expression);
    case 'item':
    case 'minus':
    case 'all':
    case 'exists':
      return placeholder(expression[1]);
    case 'list':
      return expression[1].map(placeholder).join(', ');
    case 'not':
      return '<yes or no>';
    case 'if':
      // A sum over choices says nothing to a reader; the report has the number.
      if (isNumber(expression) && [expression[2], expression[3]].some((side) => side[0] !== 'value'))
        return numberForBoard;
      return choice(placeholder(expression[2]), placeholder(expression[3]));
    case 'call':
      return callPlaceholder(expression[1], expression[2]);
    case '+':
    case '-':
    case '*':
    case '/':
    case '%':
    case 'whole/':
      return combined(expression[0], expression[1], expression[2]);
    default:
      return '<yes or no>';
  }
}

/** Both sides of a choice, in angle brackets when they are single words; what may be left out stands in square ones. */
function choice(yes: string, no: string): string {
  if (yes === no) return yes;
  if (yes !== '' && no !== '' && (yes + no).includes('the number for this board'))
    return '<what suits this board>';
  const only = yes === '' ? no : no === '' ? yes : null;
  if (only !== null) return `${/^ */.exec(only)?.[0] ?? ''}[${only.trim()}]`;
  // Whole sentences stay sentences.
  if (/[.]$/.test(yes.trim())) return `${yes} Or: ${no}`;
  return /[\s<]/.test(yes + no) ? `${yes} or ${no}` : `<${yes} or ${no}>`;
}

const numberForBoard = '<the number for this board>';

/** The meaning of a fact without its exceptions, which stand after a semicolon. */
const briefly = (meaning: string): string => meaning.split('; ')[0] ?? meaning;

/** Texts are put one after the other; of numbers the sum or quotient is named. */
function combined(sign: string, left: Expression, right: Expression): string {
  if (!isNumber(left) || !isNumber(right)) return placeholder(left) + placeholder(right);
  if (left[0] === 'if' || right[0] === 'if') return numberForBoard;
  // Counting from one where the card counts from nought is nothing that a reader needs to know.
  if (right[0] === 'value' && right[1] === 1 && (sign === '+' || sign === '-')) return placeholder(left);
  const bare = (text: string): string => text.replace(/^<(.*)>$/, '$1');
  return `<${bare(placeholder(left))} ${signs[sign] ?? sign} ${bare(placeholder(right))}>`;
}

function isNumber(expression: Expression): boolean {
  switch (expression[0]) {
    case 'value':
      return typeof expression[1] === 'number';
    case 'fact':
      return ['int', 'double'].includes(factSchema[expression[1]]?.type ?? '');
    case 'if':
      return isNumber(expression[2]) && isNumber(expression[3]);
    case 'item':
      return expression[1][0] === 'fact' && factSchema[expression[1][1]]?.type === 'list<int>';
    case 'field':
    case 'minus':
    case '-':
    case '*':
    case '/':
    case '%':
    case 'whole/':
      return true;
    case '+':
      return isNumber(expression[1]) && isNumber(expression[2]);
    case 'call':
      return expression[1] === 'size';
    default:
      return false;
  }
}

function callPlaceholder(name: string, args: readonly Expression[]): string {
  const [first] = args;
  if (name === 'plural') return args[2] ? placeholder(args[2]) : '';
  if (name === 'count') return `<number> ${args[2] ? placeholder(args[2]) : ''}`;
  if (name === 'size' && first?.[0] === 'fact') return '<number>';
  if (!first) return '';
  return name === 'quote' ? `"${placeholder(first)}"` : placeholder(first);
}

/** `item.path`, where the item belongs to a list that the fact schema describes. */
function fieldPlaceholder(expression: Extract<Expression, readonly ['field', Expression, string]>): string {
  const [, of, field] = expression;
  const list = of[0] === 'item' && of[1][0] === 'fact' ? factSchema[of[1][1]] : undefined;
  return `<${list?.item?.[field]?.meaning ?? field}>`;
}
