/**
 * The evaluator: a compiled expression over facts gives a value, or *unknown* with the set of facts that were
 * missing. Three-valued logic after Kleene: what the rest decides does not depend on an unseen fact. Nothing here
 * parses or type-checks; an expression that the compiler would not have made is our own bug and throws.
 */
import {
  Absent,
  type Fact,
  FactList,
  type FactRecord,
  type FactValue,
  type Scalar,
  Unseen,
} from '../facts/fact.js';
import { type Argument, listedItems, ruleFunction } from './functions.js';
import type { Expression, MissingFact } from './rule.js';

/** A missing fact as the evaluator reports it. */
export interface Missing extends MissingFact {
  /**
   * `absent`: the fact is proved not to exist, and the rule asked for its value without `present`. `impossible`: the
   * facts are known and give no value (division by zero, an index past the end). Neither is a matter of looking
   * closer, so an owner's word never settles it.
   */
  readonly kind: 'unseen' | 'absent' | 'impossible';
}

/** The facts that an expression may ask, and the item when it is asked of every item of a list. */
export interface EvaluationContext {
  readonly facts: { get(path: string): Fact };
  readonly item?: { readonly value: FactValue | Unknown; readonly path: string };
}

/** The result of an evaluation: a value, or unknown with the facts that are missing, each once. */
export type Evaluated =
  | { readonly known: true; readonly value: Scalar | ListValue | RecordValue }
  | { readonly known: false; readonly missing: readonly Missing[] };

/** Unknown, with the facts that are missing by path, cause and kind. */
export class Unknown {
  constructor(readonly missing: ReadonlyMap<string, Missing>) {}
}

/** A list while it is evaluated: items may be unseen each by itself, the list may be incomplete. */
export class ListValue {
  constructor(
    readonly items: readonly (FactValue | Unknown)[],
    readonly incomplete: Unknown | undefined,
    /** Path of the fact that it is, or a word for a list written in the expression. */
    readonly path: string,
  ) {}
}

/** One item of a list of records while it is evaluated. */
export class RecordValue {
  constructor(
    readonly record: FactRecord,
    readonly path: string,
  ) {}
}

export type Value = Scalar | ListValue | RecordValue;

interface Scope {
  readonly name: string;
  readonly value: FactValue | Unknown;
  readonly path: string;
  readonly outer: Scope | undefined;
}

const unknown = (missing: Missing): Unknown =>
  new Unknown(new Map([[`${missing.fact} ${missing.cause} ${missing.kind}`, missing]]));

/** The union of what is missing in several unknowns. */
export function unite(...parts: readonly (Unknown | undefined)[]): Unknown {
  const real = parts.filter((part) => part !== undefined);
  if (real.length === 1) return real[0]!;
  const all = new Map<string, Missing>();
  for (const part of real)
    for (const [key, missing] of part.missing) if (!all.has(key)) all.set(key, missing);
  return new Unknown(all);
}

const unseen = (path: string, marker: Unseen): Unknown =>
  unknown({
    fact: path,
    cause: marker.cause,
    text: marker.text,
    ...(marker.settle === undefined ? {} : { settle: marker.settle }),
    kind: 'unseen',
  });

const notLookedAt = new Unseen('not-visible', 'this was not looked at');

/** A fact's value as the evaluator sees it; a marker becomes unknown. */
function toValue(value: FactValue | Unknown | undefined, path: string): Value | Unknown {
  if (typeof value === 'boolean' || typeof value === 'number' || typeof value === 'string') return value;
  if (value === undefined) return unseen(path, notLookedAt);
  if (value instanceof Unknown) return value;
  if (value instanceof Unseen) return unseen(path, value);
  if (value instanceof Absent)
    return unknown({ fact: path, cause: 'not-visible', text: value.text, kind: 'absent' });
  if (value instanceof FactList)
    return new ListValue(value.items, value.incomplete && unseen(path, value.incomplete), path);
  if (typeof value !== 'object' || value === null || Array.isArray(value))
    throw new Error(`fact ${path} holds something that is no value of a fact`);
  return new RecordValue(value, path);
}

const wrong = (expected: string, expression: Expression): never => {
  throw new Error(`a compiled expression expected ${expected} at ${expressionText(expression)}`);
};

const boolean = (value: Value, at: Expression): boolean =>
  typeof value === 'boolean' ? value : wrong('true or false', at);
const number = (value: Value, at: Expression): number =>
  typeof value === 'number' ? value : wrong('a number', at);
const scalar = (value: Value, at: Expression): Scalar =>
  typeof value === 'object' ? wrong('a single value', at) : value;
const list = (value: Value, at: Expression): ListValue =>
  value instanceof ListValue ? value : wrong('a list', at);

interface Content {
  readonly path: string;
  readonly scalars: ReadonlySet<Scalar>;
  readonly lost: Unknown | undefined;
}

/** For `in` over a long list inside an iteration: what the list holds, looked through once. */
const contents = new WeakMap<readonly unknown[], Content>();
const longList = 16;

function contentOf(of: ListValue, at: Expression): Content {
  const known = contents.get(of.items);
  if (known?.path === of.path) return known;
  const scalars = new Set<Scalar>();
  let lost: Unknown | undefined;
  for (const item of of.items) {
    const value = toValue(item, `${of.path}[]`);
    if (value instanceof Unknown) lost = unite(lost, value);
    else scalars.add(scalar(value, at));
  }
  const content = { path: of.path, scalars, lost };
  contents.set(of.items, content);
  return content;
}

/** Whether the list holds the value; unknown when an item that was not seen may be it. */
function holds(of: ListValue, wanted: Scalar, at: Expression): boolean | Unknown {
  let lost: Unknown | undefined;
  if (of.items.length > longList) {
    const content = contentOf(of, at);
    if (content.scalars.has(wanted)) return true;
    lost = content.lost;
  } else {
    for (const item of of.items) {
      const value = toValue(item, `${of.path}[]`);
      if (value instanceof Unknown) lost = unite(lost, value);
      else if (scalar(value, at) === wanted) return true;
    }
  }
  return lost || of.incomplete ? unite(lost, of.incomplete) : false;
}

const impossible = (at: Expression, text: string): Unknown =>
  unknown({ fact: expressionText(at), cause: 'not-visible', text, kind: 'impossible' });

/** Numbers of facts are exact up to 2^53; what goes past that is not guessed. */
function exact(result: number, whole: boolean, at: Expression): number | Unknown {
  if (whole ? Number.isSafeInteger(result) : Number.isFinite(result)) return result === 0 ? 0 : result;
  return impossible(at, 'the result is too large to be exact');
}

function arithmetic(
  operator: string,
  left: Scalar,
  right: Scalar,
  expression: Expression,
  divisor: Expression,
): Value | Unknown {
  if (operator === '+' && typeof left === 'string' && typeof right === 'string') return left + right;
  const a = number(left, expression);
  const b = number(right, expression);
  const whole = Number.isInteger(a) && Number.isInteger(b);
  switch (operator) {
    case '+':
      return exact(a + b, whole, expression);
    case '-':
      return exact(a - b, whole, expression);
    case '*':
      return exact(a * b, whole, expression);
    default:
      if (b === 0) return impossible(divisor, 'it is zero, and something is divided by it');
      if (operator === '/') return exact(a / b, false, expression);
      return exact(operator === '%' ? a % b : Math.trunc(a / b), true, expression);
  }
}

function compare(operator: string, left: Scalar, right: Scalar, at: Expression): boolean {
  if (operator === '==') return left === right;
  if (operator === '!=') return left !== right;
  if (typeof left !== typeof right) return wrong('two values of one type', at);
  switch (operator) {
    case '<':
      return left < right;
    case '<=':
      return left <= right;
    case '>':
      return left > right;
    default:
      return left >= right;
  }
}

class Evaluation {
  constructor(private readonly context: EvaluationContext) {}

  run(expression: Expression, scope: Scope | undefined): Value | Unknown {
    switch (expression[0]) {
      case 'value':
        return expression[1];
      case 'fact':
        return toValue(this.context.facts.get(expression[1]).value, expression[1]);
      case 'variable':
      case 'field': {
        const [raw, path] = this.raw(expression, scope);
        return toValue(raw, path);
      }
      case 'item':
        return this.at(expression, scope);
      case 'list': {
        const items = expression[1].map((item) => {
          const value = this.run(item, scope);
          return value instanceof Unknown ? value : scalar(value, item);
        });
        return new ListValue(items, undefined, 'list');
      }
      case 'not': {
        const value = this.run(expression[1], scope);
        return value instanceof Unknown ? value : !boolean(value, expression);
      }
      case 'minus': {
        const value = this.run(expression[1], scope);
        return value instanceof Unknown ? value : exact(-number(value, expression), false, expression);
      }
      case 'and':
      case 'or': {
        const deciding = expression[0] === 'or';
        const left = this.run(expression[1], scope);
        if (!(left instanceof Unknown) && boolean(left, expression) === deciding) return deciding;
        const right = this.run(expression[2], scope);
        if (!(right instanceof Unknown) && boolean(right, expression) === deciding) return deciding;
        if (left instanceof Unknown) return unite(left, right instanceof Unknown ? right : undefined);
        return right instanceof Unknown ? right : !deciding;
      }
      case 'if': {
        const condition = this.run(expression[1], scope);
        if (!(condition instanceof Unknown))
          return this.run(boolean(condition, expression) ? expression[2] : expression[3], scope);
        const yes = this.run(expression[2], scope);
        const no = this.run(expression[3], scope);
        if (typeof yes !== 'object' && yes === no) return yes;
        return unite(
          condition,
          yes instanceof Unknown ? yes : undefined,
          no instanceof Unknown ? no : undefined,
        );
      }
      case 'all':
      case 'exists':
        return this.iterate(expression, scope);
      case 'call':
        return this.call(expression, scope);
      case 'in': {
        const left = this.run(expression[1], scope);
        const right = this.run(expression[2], scope);
        if (left instanceof Unknown || right instanceof Unknown)
          return unite(
            left instanceof Unknown ? left : undefined,
            right instanceof Unknown ? right : undefined,
          );
        return holds(list(right, expression), scalar(left, expression), expression);
      }
      default: {
        const [operator, leftPart, rightPart] = expression;
        const left = this.run(leftPart, scope);
        const right = this.run(rightPart, scope);
        if (left instanceof Unknown || right instanceof Unknown)
          return unite(
            left instanceof Unknown ? left : undefined,
            right instanceof Unknown ? right : undefined,
          );
        const a = scalar(left, expression);
        const b = scalar(right, expression);
        switch (operator) {
          case '==':
          case '!=':
          case '<':
          case '<=':
          case '>':
          case '>=':
            return compare(operator, a, b, expression);
          case '+':
          case '-':
          case '*':
          case '/':
          case '%':
          case 'whole/':
            return arithmetic(operator, a, b, expression, rightPart);
          default:
            return wrong('an operator that exists', expression);
        }
      }
    }
  }

  /** What stands at a fact, variable or field, markers included, with its path. */
  private raw(
    expression: Expression,
    scope: Scope | undefined,
  ): [value: FactValue | Unknown | undefined, path: string] {
    switch (expression[0]) {
      case 'fact':
        return [this.context.facts.get(expression[1]).value, expression[1]];
      case 'variable': {
        for (let at = scope; at; at = at.outer) if (at.name === expression[1]) return [at.value, at.path];
        const { item } = this.context;
        if (expression[1] === 'item' && item) return [item.value, item.path];
        return wrong('a variable that exists', expression);
      }
      case 'field': {
        const of = this.run(expression[1], scope);
        if (of instanceof Unknown) return [of, ''];
        if (!(of instanceof RecordValue)) return wrong('a record', expression);
        const field = expression[2];
        return [Object.hasOwn(of.record, field) ? of.record[field] : undefined, `${of.path}.${field}`];
      }
      default:
        return wrong('a fact or a field', expression);
    }
  }

  private at(
    expression: Extract<Expression, readonly ['item', Expression, Expression]>,
    scope: Scope | undefined,
  ): Value | Unknown {
    const of = this.run(expression[1], scope);
    const index = this.run(expression[2], scope);
    if (of instanceof Unknown || index instanceof Unknown)
      return unite(of instanceof Unknown ? of : undefined, index instanceof Unknown ? index : undefined);
    const from = list(of, expression);
    const position = number(index, expression);
    if (position >= 0 && position < from.items.length) return toValue(from.items[position], `${from.path}[]`);
    return from.incomplete ?? impossible(expression, `there is no item ${position}`);
  }

  private iterate(
    expression: Extract<Expression, readonly ['all' | 'exists', Expression, string, Expression]>,
    scope: Scope | undefined,
  ): Value | Unknown {
    const [kind, over, name, body] = expression;
    const source = this.run(over, scope);
    if (source instanceof Unknown) return source;
    const from = list(source, expression);
    const deciding = kind === 'exists';
    const path = `${from.path}[]`;
    const missing = new Map<string, Missing>();
    for (const value of from.items) {
      const result = this.run(body, { name, value, path, outer: scope });
      if (result instanceof Unknown) {
        for (const [key, each] of result.missing) if (!missing.has(key)) missing.set(key, each);
      } else if (boolean(result, expression) === deciding) return deciding;
    }
    if (missing.size > 0 || from.incomplete) return unite(new Unknown(missing), from.incomplete);
    return !deciding;
  }

  private call(
    expression: Extract<Expression, readonly ['call', string, readonly Expression[]]>,
    scope: Scope | undefined,
  ): Value | Unknown {
    const [, name, parts] = expression;
    if (name === 'present') {
      const [raw, path] = this.raw(parts[0]!, scope);
      if (raw instanceof Absent) return false;
      const value = toValue(raw, path);
      return value instanceof Unknown ? value : true;
    }
    const values = parts.map((part) => this.run(part, scope));
    const lost = values.filter((value): value is Unknown => value instanceof Unknown);
    if (lost.length > 0) return unite(...lost);
    const known = values.filter((value): value is Value => !(value instanceof Unknown));
    const [first, second] = known;
    switch (name) {
      case 'size':
        if (first instanceof ListValue) return first.incomplete ?? first.items.length;
        if (typeof first !== 'string') return wrong('a list or a text', expression);
        return characters(first);
      case 'startsWith':
      case 'endsWith':
      case 'contains':
        if (typeof first !== 'string' || typeof second !== 'string') return wrong('two texts', expression);
        if (name === 'contains') return first.includes(second);
        return name === 'startsWith' ? first.startsWith(second) : first.endsWith(second);
    }
    const named = ruleFunction(name);
    if (!named) return wrong('a function that exists', expression);
    const args: Argument[] = [];
    for (const value of known) {
      if (!(value instanceof ListValue)) {
        args.push(scalar(value, expression));
        continue;
      }
      if (value.incomplete) return value.incomplete;
      const items: Scalar[] = [];
      for (const item of value.items.slice(0, listedItems)) {
        const one = toValue(item, `${value.path}[]`);
        if (one instanceof Unknown) return one;
        items.push(scalar(one, expression));
      }
      args.push({ items, total: value.items.length });
    }
    return named.run(args);
  }
}

/** Characters of a text as the language counts them: code points, not UTF-16 units. */
function characters(text: string): number {
  let count = 0;
  for (const _ of text) count++;
  return count;
}

/** Evaluates to a value or `Unknown`; for the engine itself, which goes on with either. */
export function run(expression: Expression, context: EvaluationContext): Value | Unknown {
  return new Evaluation(context).run(expression, undefined);
}

/** Evaluates an expression over facts. Throws only for our own bugs. */
export function evaluate(expression: Expression, context: EvaluationContext): Evaluated {
  const result = run(expression, context);
  if (result instanceof Unknown) return { known: false, missing: [...result.missing.values()] };
  return { known: true, value: result };
}

/** A condition: true, false, or unknown. Throws when the expression gives anything else. */
export function condition(expression: Expression, context: EvaluationContext): boolean | Unknown {
  const result = run(expression, context);
  if (result instanceof Unknown || typeof result === 'boolean') return result;
  return wrong('true or false', expression);
}

/** A compiled expression as text, near to how its author wrote it; for messages. */
export function expressionText(expression: Expression): string {
  switch (expression[0]) {
    case 'value':
      return JSON.stringify(expression[1]);
    case 'fact':
    case 'variable':
      return expression[1];
    case 'field':
      return `${expressionText(expression[1])}.${expression[2]}`;
    case 'item':
      return `${expressionText(expression[1])}[${expressionText(expression[2])}]`;
    case 'list':
      return `[${expression[1].map(expressionText).join(', ')}]`;
    case 'not':
      return `!(${expressionText(expression[1])})`;
    case 'minus':
      return `-(${expressionText(expression[1])})`;
    case 'and':
      return `(${expressionText(expression[1])} && ${expressionText(expression[2])})`;
    case 'or':
      return `(${expressionText(expression[1])} || ${expressionText(expression[2])})`;
    case 'if':
      return `(${expressionText(expression[1])} ? ${expressionText(expression[2])} : ${expressionText(expression[3])})`;
    case 'all':
    case 'exists':
      return `${expressionText(expression[1])}.${expression[0]}(${expression[2]}, ${expressionText(expression[3])})`;
    case 'call':
      return `${expression[1]}(${expression[2].map(expressionText).join(', ')})`;
    default: {
      const sign = expression[0] === 'whole/' ? '/' : expression[0];
      return `(${expressionText(expression[1])} ${sign} ${expressionText(expression[2])})`;
    }
  }
}
