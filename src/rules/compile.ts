/**
 * Expressions and texts of rules, from their source to plain data. The library parses and checks types; what is
 * refused beyond that, and why, stands here. Only loading rules and profiles needs this file.
 */
import { type ASTNode, ParseError, TypeError as TypeProblem } from '@marcbachmann/cel-js';
import { limits } from '../bytes/limits.js';
import { factSchema } from '../facts/schema.js';
import {
  checkedType,
  environmentFor,
  type Info,
  infoOf,
  isGroup,
  isRoot,
  nearest,
  type Variable,
} from './check-types.js';
import { builtIns, ruleFunction, ruleFunctions } from './functions.js';
import type { Expression, Template } from './rule.js';

/** One thing that is wrong with an expression or a text. */
export interface ExpressionProblem {
  /** UTF-16 units from the start of the expression or text. */
  readonly offset: number;
  readonly message: string;
  readonly expected: string;
}

/** All that is wrong with one expression or text. */
export class ExpressionError extends Error {
  constructor(readonly problems: readonly ExpressionProblem[]) {
    super(problems.map((problem) => `${problem.message}; expected ${problem.expected}`).join('\n'));
    this.name = 'ExpressionError';
  }
}

/** What an expression may name besides facts, and what it must give. */
export interface CompileOptions {
  /** The `item` of a rule with `each`. */
  readonly item?: Variable | undefined;
  readonly gives?: 'bool' | 'list' | 'text';
}

export interface Compiled {
  readonly expression: Expression;
  /** Type in the notation of the library: `bool`, `list<int>`. */
  readonly type: string;
  readonly info: Info;
  /** Facts that it names, sorted. */
  readonly touches: readonly string[];
  /** For a list: how `item` is to be declared. */
  readonly items?: Variable;
}

/** Words of the language that are refused, with what to write instead. */
const refusedWords: Readonly<Record<string, string>> = {
  has: 'present(fact); has() cannot tell absent from unseen',
  matches: 'startsWith, endsWith or contains; a regular expression can take minutes on a crafted name',
  map: 'all or exists; lists are not rebuilt in rules',
  filter: 'all or exists; lists are not rebuilt in rules',
  exists_one: 'all or exists',
  bind: 'the expression itself in place of the name',
  dyn: 'the fact itself; every fact has its type',
};

const conversions = new Set([
  'int',
  'uint',
  'double',
  'string',
  'bool',
  'bytes',
  'type',
  'timestamp',
  'duration',
]);
const methods = new Set(['all', 'exists', 'startsWith', 'endsWith', 'contains']);
const isIteration = (name: string): name is 'all' | 'exists' => name === 'all' || name === 'exists';

const allowedFunctions = (): string =>
  [...Object.keys(builtIns), ...ruleFunctions.map((each) => each.name)].join(', ');

/** The dotted path when the node is nothing but names and dots. */
function pathOf(node: ASTNode): string | undefined {
  const names: string[] = [];
  let at = node;
  while (at.op === '.') {
    names.push(at.args[1]);
    at = at.args[0];
  }
  if (at.op !== 'id') return undefined;
  names.push(at.args);
  return names.reverse().join('.');
}

/** Nodes of texts that the node may give: itself, the items of a list, the branches of a choice. */
function literals(node: ASTNode): ASTNode[] {
  if (node.op === 'value') return typeof node.args === 'string' ? [node] : [];
  if (node.op === 'list') return node.args.flatMap(literals);
  if (node.op === '?:') return [...literals(node.args[1]), ...literals(node.args[2])];
  return [];
}

type Variables = ReadonlyMap<string, Info>;

class Compilation {
  readonly problems: ExpressionProblem[] = [];
  readonly touched = new Set<string>();

  constructor(private readonly each: boolean) {}

  report(node: { readonly start: number }, message: string, expected: string): void {
    this.problems.push({ offset: node.start, message, expected });
  }

  // ---- before the type check: what the subset of the language leaves out, and names of facts ---------------

  refuse(node: ASTNode, variables: ReadonlySet<string>, inside: boolean, depth = 0): void {
    if (depth > limits.expressionDepth) {
      if (!this.problems.some((problem) => problem.message === tooDeep))
        this.report(node, tooDeep, `at most ${limits.expressionDepth} operators inside one another`);
      return;
    }
    const down = (child: ASTNode): void => this.refuse(child, variables, inside, depth + 1);
    switch (node.op) {
      case 'value':
        this.refuseValue(node);
        return;
      case 'id':
      case '.': {
        const path = pathOf(node);
        if (path === undefined) {
          if (node.op === '.') down(node.args[0]);
        } else if (!variables.has(path.split('.', 1)[0]!)) this.refusePath(node, path);
        return;
      }
      case '.?':
      case '[?]':
        this.report(node, 'optional access is not part of the language of rules', 'present(fact)');
        return;
      case '[]':
        down(node.args[0]);
        down(node.args[1]);
        return;
      case 'map':
        this.report(node, 'a map is not part of the language of rules', 'a list or single values');
        return;
      case 'list':
        node.args.forEach(down);
        return;
      case '!_':
      case '-_':
        down(node.args);
        return;
      case '?:':
        node.args.forEach(down);
        return;
      case 'call':
        this.refuseCall(node, down);
        return;
      case 'rcall': {
        const [name, receiver, args] = node.args;
        if (!methods.has(name)) {
          this.refuseWord(node, name);
          return;
        }
        down(receiver);
        if (!isIteration(name)) {
          args.forEach(down);
          return;
        }
        if (inside || this.each)
          this.report(
            node,
            `${name} inside ${inside ? 'another all or exists' : 'a rule with each'} would look at every pair of items`,
            'one iteration; a fact that is computed once for the rest',
          );
        const [variable, body] = args;
        if (variable?.op !== 'id' || !body || args.length !== 2) {
          this.report(node, `${name} is not complete`, `list.${name}(x, condition on x)`);
          return;
        }
        if (isRoot(variable.args) || variable.args === 'item')
          this.report(
            variable,
            `${variable.args} already means something else`,
            'another name for the variable',
          );
        this.refuse(body, new Set([...variables, variable.args]), true, depth + 1);
        return;
      }
      default:
        node.args.forEach(down);
    }
  }

  private refuseValue(node: ASTNode): void {
    const { args } = node;
    if (typeof args === 'bigint') {
      if (args > BigInt(Number.MAX_SAFE_INTEGER))
        this.report(
          node,
          `the number ${args} is too large to be exact`,
          `at most ${Number.MAX_SAFE_INTEGER}`,
        );
    } else if (args === null) this.report(node, 'null is not part of the language of rules', 'present(fact)');
    else if (typeof args === 'object')
      this.report(
        node,
        'bytes and unsigned numbers are not part of the language of rules',
        'a number or a text',
      );
  }

  private refusePath(node: ASTNode, path: string): void {
    if (path in factSchema) return;
    if (path === 'item') {
      this.report(node, 'there is no item here', 'item only in must and show of a rule with each');
      return;
    }
    if (isGroup(path)) {
      const some = Object.keys(factSchema).filter((fact) => fact.startsWith(`${path}.`));
      this.report(node, `${path} is a group of facts`, `one fact of it, such as ${some[0]}`);
      return;
    }
    const names = path.split('.');
    for (let length = names.length - 1; length > 0; length--) {
      const front = names.slice(0, length).join('.');
      const declaration = factSchema[front];
      if (!declaration) continue;
      const list = declaration.type === 'list<record>';
      this.report(
        node,
        `${front} is ${list ? 'a list' : `of type ${declaration.type}`} and has no field ${names[length]}`,
        list ? `${front}.all(x, …) or ${front}.exists(x, …)` : 'the fact itself',
      );
      return;
    }
    const meant = nearest(path, Object.keys(factSchema));
    this.report(node, `there is no fact ${path}`, meant ? meant : 'a fact of the schema');
  }

  private refuseCall(node: Extract<ASTNode, { op: 'call' }>, down: (child: ASTNode) => void): void {
    const [name, args] = node.args;
    if (name !== 'size' && name !== 'present' && !ruleFunction(name)) {
      this.refuseWord(node, name);
      return;
    }
    args.forEach(down);
    if (name === 'present' && args[0] && args[0].op !== 'id' && args[0].op !== '.')
      this.report(args[0], 'present asks for a fact', 'a fact or a field of an item');
  }

  private refuseWord(node: ASTNode, name: string): void {
    if (name === 'size') this.report(node, 'size is a function', 'size(list)');
    else if (Object.hasOwn(refusedWords, name))
      this.report(node, `${name} is not part of the language of rules`, refusedWords[name]!);
    else if (conversions.has(name))
      this.report(
        node,
        `the conversion ${name} is not part of the language of rules`,
        name === 'string' ? 'digits(number) for a number as text' : 'values of one type',
      );
    else this.report(node, `there is no function ${name}`, `one of ${allowedFunctions()}`);
  }

  // ---- after the type check: to data, with what the library lets pass -------------------------------------

  compile(node: ASTNode, variables: Variables): [Expression, Info] {
    switch (node.op) {
      case 'value': {
        const { args } = node;
        if (typeof args === 'bigint') return [['value', Number(args)], {}];
        if (typeof args === 'number' || typeof args === 'string' || typeof args === 'boolean')
          return [['value', args], {}];
        throw new Error('a value that should have been refused');
      }
      case 'id':
      case '.': {
        const path = pathOf(node);
        if (path !== undefined && path in factSchema && !variables.has(path.split('.', 1)[0]!)) {
          this.touched.add(path);
          return [['fact', path], infoOf(factSchema[path]!)];
        }
        if (node.op === 'id') return [['variable', node.args], variables.get(node.args) ?? {}];
        const [of, info] = this.compile(node.args[0], variables);
        const declaration = info.fields?.[node.args[1]];
        return [['field', of, node.args[1]], declaration ? infoOf(declaration) : {}];
      }
      case '[]': {
        const [of, info] = this.compile(node.args[0], variables);
        const [index] = this.compile(node.args[1], variables);
        if (checkedType(node.args[0])?.kind !== 'list')
          this.report(node, 'only items of a list have an index', 'list[number], or record.field');
        else this.need(node.args[1], 'int');
        return [['item', of, index], info];
      }
      case 'list':
        for (const item of node.args) this.single(item);
        return [['list', node.args.map((item) => this.compile(item, variables)[0])], {}];
      case '!_': {
        this.need(node.args, 'bool');
        return [['not', this.compile(node.args, variables)[0]], {}];
      }
      case '-_': {
        this.need(node.args, 'int', 'double');
        return [['minus', this.compile(node.args, variables)[0]], {}];
      }
      case '&&':
      case '||': {
        for (const side of node.args) this.need(side, 'bool');
        const [left] = this.compile(node.args[0], variables);
        const [right] = this.compile(node.args[1], variables);
        return [[node.op === '&&' ? 'and' : 'or', left, right], {}];
      }
      case '?:': {
        this.need(node.args[0], 'bool');
        const [test] = this.compile(node.args[0], variables);
        const [yes, ofYes] = this.compile(node.args[1], variables);
        const [no, ofNo] = this.compile(node.args[2], variables);
        const words = ofYes.words && ofNo.words ? [...new Set([...ofYes.words, ...ofNo.words])] : undefined;
        const fields = ofYes.fields === ofNo.fields ? ofYes.fields : undefined;
        return [['if', test, yes, no], { ...(words ? { words } : {}), ...(fields ? { fields } : {}) }];
      }
      case 'call':
        return [this.compileCall(node, variables), {}];
      case 'rcall': {
        const [name, receiver, args] = node.args;
        const [of, info] = this.compile(receiver, variables);
        if (!isIteration(name)) {
          for (const each of [receiver, ...args]) this.need(each, 'string');
          return [['call', name, [of, ...args.map((each) => this.compile(each, variables)[0])]], {}];
        }
        const [variable, body] = args;
        if (variable?.op !== 'id' || !body) throw new Error('an iteration that should have been refused');
        this.need(body, 'bool');
        const [condition] = this.compile(body, new Map([...variables, [variable.args, info]]));
        return [[name, of, variable.args, condition], {}];
      }
      case '.?':
      case '[?]':
      case 'map':
        throw new Error(`a node that should have been refused: ${node.op}`);
      default:
        return [this.compileBinary(node, variables), {}];
    }
  }

  private compileBinary(
    node: Exclude<
      ASTNode,
      {
        op:
          | 'value'
          | 'id'
          | '.'
          | '.?'
          | '[]'
          | '[?]'
          | 'list'
          | 'map'
          | 'call'
          | 'rcall'
          | '?:'
          | '!_'
          | '-_';
      }
    >,
    variables: Variables,
  ): Expression {
    const [leftNode, rightNode] = node.args;
    const [left, ofLeft] = this.compile(leftNode, variables);
    const [right, ofRight] = this.compile(rightNode, variables);
    const { op } = node;
    switch (op) {
      case '==':
      case '!=':
        if (this.single(leftNode) && this.single(rightNode)) this.words(leftNode, ofLeft, rightNode, ofRight);
        return [op, left, right];
      case 'in':
        if (this.single(leftNode)) {
          if (ofRight.fields)
            this.report(rightNode, 'a record is compared by its fields', 'list.exists(x, …)');
          else this.words(leftNode, ofLeft, rightNode, ofRight);
        }
        return ['in', left, right];
      case '<':
      case '<=':
      case '>':
      case '>=':
        for (const side of node.args) this.need(side, 'int', 'double', 'string');
        return [op, left, right];
      case '/':
        for (const side of node.args) this.need(side, 'int', 'double');
        return [checkedType(node)?.name === 'int' ? 'whole/' : '/', left, right];
      case '+':
        for (const side of node.args) this.need(side, 'int', 'double', 'string');
        return [op, left, right];
      case '-':
      case '*':
      case '%':
        for (const side of node.args) this.need(side, 'int', 'double');
        return [op, left, right];
      default:
        throw new Error(`an operator that should have been refused: ${op}`);
    }
  }

  private compileCall(node: Extract<ASTNode, { op: 'call' }>, variables: Variables): Expression {
    const [name, args] = node.args;
    const compiled = args.map((each) => this.compile(each, variables));
    const takesAnything = name === 'present' || ruleFunction(name)?.takesNumberOrText === true;
    if (!takesAnything)
      for (const each of args)
        if (checkedType(each)?.kind === 'dyn')
          this.report(each, `${name} cannot tell what type this has`, 'a fact of one type');
    // Sizes print as sizes: the schema knows which facts count bytes, so a rule need not say so.
    const sizes = name === 'anyOf' && compiled[0]?.[1].unit === 'bytes';
    return ['call', sizes ? 'sizesText' : name, compiled.map(([expression]) => expression)];
  }

  /** Reports a node whose type is none of these; the library lets `dyn` pass for anything. */
  private need(node: ASTNode, ...types: readonly string[]): void {
    const found = checkedType(node)?.name ?? 'dyn';
    if (types.includes(found)) return;
    this.report(node, `this is of type ${plainType(found)}`, types.join(' or '));
  }

  /** Reports a node that is a list or a record. */
  private single(node: ASTNode): boolean {
    const type = checkedType(node);
    if (!type || ['bool', 'int', 'double', 'string', 'dyn'].includes(type.name)) return true;
    this.report(node, `${plainType(type.name)} is not compared as a whole`, 'in, size, all or exists');
    return false;
  }

  /** Reports words that can never come up on the other side. */
  private words(leftNode: ASTNode, left: Info, rightNode: ASTNode, right: Info): void {
    for (const [info, other] of [
      [left, rightNode],
      [right, leftNode],
    ] as const) {
      if (!info.words) continue;
      for (const literal of literals(other)) {
        const word = String(literal.args);
        if (info.words.includes(word)) continue;
        const meant = nearest(word, info.words);
        this.report(
          literal,
          `"${word}" is not a word of this fact${meant ? ` (did you mean "${meant}"?)` : ''}`,
          `one of ${info.words.join(', ')}`,
        );
      }
    }
    if (left.words && right.words && !left.words.some((word) => right.words!.includes(word)))
      this.report(leftNode, 'these two facts have no word in common', `one of ${right.words.join(', ')}`);
  }
}

const tooDeep = 'the expression is nested too deeply';

/** Type names of the library in words of the schema. */
const plainType = (name: string): string =>
  name.replaceAll(/\brecord_\w+(?:\.\w+)*/g, 'record').replaceAll(/\$[\w.]+/g, 'a group of facts');

const expectedWord = {
  bool: 'a condition (true or false)',
  list: 'a list',
  text: 'a text, number or condition',
};

/**
 * Compiles one expression. Throws `ExpressionError` with offsets into `source`: syntax, words outside the subset,
 * types, unknown facts, words outside a fact's vocabulary.
 */
export function compileExpression(source: string, options: CompileOptions = {}): Compiled {
  const fail = (offset: number, message: string, expected: string): never => {
    throw new ExpressionError([{ offset, message, expected }]);
  };
  if (source.trim() === '') fail(0, 'the expression is empty', 'an expression');
  if (source.length > limits.expressionCharacters)
    fail(0, 'the expression is too long', `at most ${limits.expressionCharacters} characters`);
  const environment = environmentFor(options.item);
  try {
    const parsed = environment.parse(source);
    const compilation = new Compilation(options.item !== undefined);
    const variables = new Map<string, Info>(options.item ? [['item', options.item.info]] : []);
    compilation.refuse(parsed.ast, new Set(variables.keys()), false);
    if (compilation.problems.length > 0) throw new ExpressionError(compilation.problems);
    const checked = parsed.check();
    if (checked.error) throw checked.error;
    const [expression, info] = compilation.compile(parsed.ast, variables);
    const type = checkedType(parsed.ast);
    if (!type) throw new Error('the type checker gave no type');
    const wrongType =
      (options.gives === 'bool' && type.name !== 'bool') ||
      (options.gives === 'list' && type.kind !== 'list') ||
      (options.gives === 'text' && !['bool', 'int', 'double', 'string', 'dyn'].includes(type.name));
    if (options.gives && wrongType)
      compilation.report(
        parsed.ast,
        `this is of type ${plainType(type.name)}`,
        type.kind === 'list' && options.gives === 'text'
          ? 'anyOf, sizesText or join for a list'
          : expectedWord[options.gives],
      );
    if (compilation.problems.length > 0) throw new ExpressionError(compilation.problems);
    return {
      expression,
      type: type.name,
      info,
      touches: [...compilation.touched].sort(),
      ...(type.kind === 'list' && type.valueType ? { items: { type: type.valueType.name, info } } : {}),
    };
  } catch (error) {
    if (error instanceof ParseError || error instanceof TypeProblem)
      return fail(error.range?.start ?? 0, plainType(lowerFirst(error.summary)), hint(error.summary));
    // The parser goes down once for every leading `!` or `-`; nothing but the depth of the source can cause this.
    if (error instanceof RangeError) return fail(0, tooDeep, 'a shorter expression');
    throw error;
  }
}

const lowerFirst = (text: string): string => text.charAt(0).toLowerCase() + text.slice(1);

function hint(summary: string): string {
  if (summary.includes('QUESTION'))
    return 'a field name; optional access (.? and [?]) is not part of the language';
  if (summary.startsWith('no such overload') || summary.startsWith('No such overload'))
    return 'two values of one type';
  if (summary.startsWith('No such key')) return 'a field that the items of this list have';
  if (summary.startsWith('found no matching overload')) return 'the arguments that the function takes';
  return 'an expression of the language of rules';
}

/** Compiles a condition on facts: what `only` of a waiver and guards are made of. */
export function compileCondition(source: string, item?: Variable): Expression {
  return compileExpression(source, { gives: 'bool', item }).expression;
}

/**
 * Compiles a text with expressions in braces; `{{` and `}}` stand for the braces themselves. Throws
 * `ExpressionError` with offsets into `source`.
 */
export function compileTemplate(source: string, item?: Variable): Template {
  const parts: (string | { readonly expression: Expression })[] = [];
  const problems: ExpressionProblem[] = [];
  let text = '';
  let at = 0;
  while (at < source.length) {
    const character = source[at]!;
    if ((character === '{' || character === '}') && source[at + 1] === character) {
      text += character;
      at += 2;
      continue;
    }
    if (character === '}') {
      problems.push({
        offset: at,
        message: 'a brace closes that none opened',
        expected: '}} for the brace itself',
      });
      break;
    }
    if (character !== '{') {
      text += character;
      at++;
      continue;
    }
    const end = closing(source, at + 1);
    if (end === undefined) {
      problems.push({
        offset: at,
        message: 'a brace opens that none closes',
        expected: '{{ for the brace itself',
      });
      break;
    }
    if (text) parts.push(text);
    text = '';
    try {
      parts.push(compileExpressionPart(source.slice(at + 1, end), item));
    } catch (error) {
      if (!(error instanceof ExpressionError)) throw error;
      for (const problem of error.problems) problems.push({ ...problem, offset: problem.offset + at + 1 });
    }
    at = end + 1;
  }
  if (problems.length > 0) throw new ExpressionError(problems);
  if (text) parts.push(text);
  return parts;
}

const compileExpressionPart = (
  source: string,
  item: Variable | undefined,
): { readonly expression: Expression } => ({
  expression: compileExpression(source, { gives: 'text', item }).expression,
});

/** Where the brace closes, not counting braces inside quoted texts. */
function closing(source: string, from: number): number | undefined {
  let quote: string | undefined;
  for (let at = from; at < source.length; at++) {
    const character = source[at]!;
    if (quote) {
      if (character === '\\') at++;
      else if (character === quote) quote = undefined;
    } else if (character === '"' || character === "'") quote = character;
    else if (character === '}') return at;
  }
  return undefined;
}
