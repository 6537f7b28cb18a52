import { limits } from '../bytes/limits.js';
import { nearest } from './nearest.js';
import type { SchemaNode } from './schema/validators.js';
import { parseHex, parseSize, parseTradeSize } from './units.js';

/**
 * Says in plain words where a value breaks a JSON Schema, and turns the sizes and addresses of a valid one into
 * numbers. The generated validator decides whether a profile is valid; this file knows the keywords that the schema
 * of board profiles uses and no others.
 */

export type Path = readonly (string | number)[];

/** One place at which a value breaks the schema. */
export interface ShapeProblem {
  readonly path: Path;
  /** `key`: the last name of the path itself is wrong, so its place is that of the key, not of the value. */
  readonly at: 'value' | 'key';
  /** What is wrong, without the path. */
  readonly message: string;
  /** What was expected, in plain words. */
  readonly expected: string;
}

/** The schema and the text of a scalar as it stands in the file, for messages. */
export interface ShapeContext {
  readonly root: SchemaNode;
  readonly sourceOf: (path: Path) => string | undefined;
}

/** Every place at which `value` breaks `schema`, in the order of the value. Empty when it is valid. */
export function shapeProblems(
  value: unknown,
  schema: SchemaNode,
  context: ShapeContext,
  path: Path = [],
): readonly ShapeProblem[] {
  const node = resolve(schema, context.root);
  if (Array.isArray(node.anyOf)) return branchProblems(value, node, context, path);
  const isListed =
    !('const' in node && value !== node.const) && !(Array.isArray(node.enum) && !node.enum.includes(value));
  if (!isListed || !isOfType(value, node)) return [wrong(value, node, context, path)];
  if (typeof value === 'object' && value !== null)
    return Array.isArray(value)
      ? listProblems(value, node, context, path)
      : mapProblems(value as Readonly<Record<string, unknown>>, node, context, path);
  return isAllowedScalar(value, node) ? [] : [wrong(value, node, context, path)];
}

/** Of several alternatives the one is explained that the author meant: the one whose outer form is right. */
function branchProblems(
  value: unknown,
  node: SchemaNode,
  context: ShapeContext,
  path: Path,
): readonly ShapeProblem[] {
  let best: readonly ShapeProblem[] | undefined;
  for (const branch of nodes(node.anyOf)) {
    const problems = shapeProblems(value, branch, context, path);
    if (problems.length === 0) return [];
    const entered = problems.every((problem) => problem.at === 'key' || problem.path.length > path.length);
    if (entered && (best === undefined || problems.length < best.length)) best = problems;
  }
  return best ?? [wrong(value, node, context, path)];
}

function listProblems(
  value: readonly unknown[],
  node: SchemaNode,
  context: ShapeContext,
  path: Path,
): readonly ShapeProblem[] {
  if (value.length < numberOr(node.minItems, 0))
    return [wrong(value, node, context, path, 'a list with at least one entry')];
  if (value.length > numberOr(node.maxItems, Number.POSITIVE_INFINITY))
    return [wrong(value, node, context, path, `a list of at most ${String(node.maxItems)} entries`)];
  const problems: ShapeProblem[] = [];
  if (node.uniqueItems === true)
    for (const [index, item] of value.entries())
      if (value.indexOf(item) < index)
        problems.push({
          path: [...path, index],
          at: 'value',
          message: 'this stands in the list twice',
          expected: 'each value once',
        });
  const items = node.items;
  if (isNode(items))
    for (const [index, item] of value.entries()) {
      if (problems.length >= limits.problems) break;
      problems.push(...shapeProblems(item, items, context, [...path, index]));
    }
  return problems;
}

function mapProblems(
  value: Readonly<Record<string, unknown>>,
  node: SchemaNode,
  context: ShapeContext,
  path: Path,
): readonly ShapeProblem[] {
  const properties = isNode(node.properties) ? node.properties : {};
  const names = Object.keys(value);
  if (names.length < numberOr(node.minProperties, 0))
    return [wrong(value, node, context, path, 'a map with at least one key')];
  const problems: ShapeProblem[] = [];
  for (const name of names) {
    if (problems.length >= limits.problems) break;
    const inner = [...path, name];
    const own = Object.hasOwn(properties, name) ? properties[name] : undefined;
    if (isNode(own)) {
      problems.push(...shapeProblems(value[name], own, context, inner));
    } else if (isNode(node.additionalProperties)) {
      if (isNode(node.propertyNames) && shapeProblems(name, node.propertyNames, context, inner).length > 0) {
        const expected = describe(node.propertyNames, context.root);
        problems.push({
          path: inner,
          at: 'key',
          message: `expected ${expected} as a key; found '${name}'`,
          expected,
        });
      }
      problems.push(...shapeProblems(value[name], node.additionalProperties, context, inner));
    } else {
      const known = Object.keys(properties);
      const meant = nearest(name, known);
      const expected = `one of the keys ${joined(known, 'or')}`;
      const hint = meant ? `did you mean ${meant}?` : `expected ${expected}`;
      problems.push({ path: inner, at: 'key', message: `there is no such key; ${hint}`, expected });
    }
  }
  for (const name of texts(node.required))
    if (!Object.hasOwn(value, name)) {
      const own = properties[name];
      const expected = isNode(own) ? describe(own, context.root) : 'a value';
      // The place is that of the map; the path names the key, so that nobody takes the map for a wrong value.
      problems.push({
        path: [...path, name],
        at: 'value',
        message: `this key is missing; expected ${expected}`,
        expected,
      });
    }
  return problems;
}

function isOfType(value: unknown, node: SchemaNode): boolean {
  switch (node.type) {
    case undefined:
      return true;
    case 'array':
      return Array.isArray(value);
    case 'object':
      return typeof value === 'object' && value !== null && !Array.isArray(value);
    case 'string':
      return typeof value === 'string';
    case 'boolean':
      return typeof value === 'boolean';
    case 'integer':
      return Number.isInteger(value);
    case 'number':
      return Number.isFinite(value);
    default:
      throw new Error(`the schema names a type that is not known here: ${String(node.type)}`);
  }
}

function isAllowedScalar(value: unknown, node: SchemaNode): boolean {
  if (typeof value === 'number')
    return (
      value >= numberOr(node.minimum, Number.NEGATIVE_INFINITY) &&
      value <= numberOr(node.maximum, Number.POSITIVE_INFINITY) &&
      value > numberOr(node.exclusiveMinimum, Number.NEGATIVE_INFINITY)
    );
  if (typeof value === 'string') {
    // JSON Schema counts characters, not UTF-16 units.
    const length = [...value].length;
    return (
      length >= numberOr(node.minLength, 0) &&
      length <= numberOr(node.maxLength, Number.POSITIVE_INFINITY) &&
      (typeof node.pattern !== 'string' || new RegExp(node.pattern, 'u').test(value))
    );
  }
  return true;
}

function wrong(
  value: unknown,
  node: SchemaNode,
  context: ShapeContext,
  path: Path,
  expected = describe(node, context.root),
): ShapeProblem {
  // A map may hold a key `toString`, so only what is no map is made a text.
  const source = context.sourceOf(path) ?? (typeof value === 'object' ? '' : String(value));
  let message = `expected ${expected}; found ${describeValue(value, source)}`;
  if ((typeof value === 'number' || typeof value === 'boolean') && takesText(node, context.root))
    message += `; put it in quotes: "${source}"`;
  if (typeof value === 'string') {
    const meant = nearest(value, wordsOf(node, context.root));
    if (meant) message += `; did you mean ${meant}?`;
  }
  return { path, at: 'value', message, expected };
}

function describeValue(value: unknown, source: string): string {
  if (value === null || value === undefined) return 'nothing';
  if (Array.isArray(value)) return value.length === 0 ? 'an empty list' : 'a list';
  if (typeof value === 'object') return Object.keys(value).length === 0 ? 'an empty map' : 'a map';
  if (typeof value === 'string') return `'${value.length > 60 ? `${value.slice(0, 60)}…` : value}'`;
  return source;
}

/** A schema in plain words: `a list of mbr, gpt, hybrid, none, or any`. */
export function describe(schema: SchemaNode, root: SchemaNode): string {
  const node = resolve(schema, root);
  if (typeof node.title === 'string') return node.title;
  if (Array.isArray(node.anyOf)) {
    const parts = [...new Set(nodes(node.anyOf).map((branch) => describe(branch, root)))];
    // `any` last: it is what an author falls back to.
    const others = parts.filter((part) => part !== 'any');
    const list = others.length > 1 ? joined(others, 'or') : (others[0] ?? 'any');
    return parts.length > others.length && others.length > 0 ? `${list}, or any` : list;
  }
  if ('const' in node) return String(node.const);
  if (Array.isArray(node.enum)) return joined(node.enum.map(String), 'or');
  switch (node.type) {
    case 'array': {
      const items = isNode(node.items) ? resolve(node.items, root) : {};
      return `a list of ${Array.isArray(items.enum) ? items.enum.join(', ') : plural(describe(items, root))}`;
    }
    case 'object':
      return isNode(node.properties) ? `a map with ${joined(Object.keys(node.properties), 'and')}` : 'a map';
    case 'boolean':
      return 'true or false';
    case 'string':
      return 'text';
    default:
      return describeNumber(node);
  }
}

function describeNumber(node: SchemaNode): string {
  const kind = node.type === 'integer' ? 'a whole number' : 'a number';
  const least = numberOr(node.minimum, Number.NEGATIVE_INFINITY);
  const most = numberOr(node.maximum, Number.MAX_SAFE_INTEGER);
  const isBounded = most < Number.MAX_SAFE_INTEGER;
  if (typeof node.exclusiveMinimum === 'number')
    return `${kind} above ${node.exclusiveMinimum}${isBounded ? `, at most ${most}` : ''}`;
  if (least === Number.NEGATIVE_INFINITY) return kind;
  return isBounded ? `${kind} from ${least} to ${most}` : `${kind} of ${least} or more`;
}

const plural = (words: string): string =>
  words === 'text' ? 'texts' : /^an? /.test(words) ? `entries, each ${words}` : words;

/** `a, b or c` */
export function joined(words: readonly string[], last: 'and' | 'or'): string {
  return words.length < 2 ? (words[0] ?? '') : `${words.slice(0, -1).join(', ')} ${last} ${words.at(-1)}`;
}

function wordsOf(schema: SchemaNode, root: SchemaNode): string[] {
  const node = resolve(schema, root);
  if (Array.isArray(node.anyOf)) return nodes(node.anyOf).flatMap((branch) => wordsOf(branch, root));
  if (isNode(node.items) && node.type === 'array') return wordsOf(node.items, root);
  const all = [...(Array.isArray(node.enum) ? node.enum : []), ...('const' in node ? [node.const] : [])];
  return all.filter((word) => typeof word === 'string');
}

function takesText(schema: SchemaNode, root: SchemaNode): boolean {
  const node = resolve(schema, root);
  if (Array.isArray(node.anyOf)) return nodes(node.anyOf).some((branch) => takesText(branch, root));
  return node.type === 'string' && node.pattern === undefined;
}

/** Keys of a value whose size or address could not be read although its form is right: `0.3B`. */
export interface NormaliseContext extends ShapeContext {
  readonly complain: (path: Path, message: string, expected: string) => void;
}

/**
 * A valid value with its sizes and addresses as numbers. Which texts are sizes only the schema knows, so both are
 * walked together.
 */
export function normalise(
  value: unknown,
  schema: SchemaNode,
  context: NormaliseContext,
  path: Path = [],
): unknown {
  const unit =
    typeof schema.$ref === 'string'
      ? /^#\/\$defs\/(size|tradeSize|address|byteValue)$/.exec(schema.$ref)?.[1]
      : undefined;
  if (unit !== undefined && (typeof value === 'string' || typeof value === 'number'))
    return unitValue(value, unit, context, path);
  const node = resolve(schema, context.root);
  if (Array.isArray(node.anyOf)) {
    const branch = nodes(node.anyOf).find((one) => shapeProblems(value, one, context, path).length === 0);
    return branch ? normalise(value, branch, context, path) : value;
  }
  if (Array.isArray(value)) {
    const items = node.items;
    return isNode(items)
      ? value.map((item, index) => normalise(item, items, context, [...path, index]))
      : value;
  }
  if (typeof value !== 'object' || value === null) return value;
  const properties = isNode(node.properties) ? node.properties : {};
  return Object.fromEntries(
    Object.entries(value).map(([name, inner]) => {
      const own = Object.hasOwn(properties, name) ? properties[name] : node.additionalProperties;
      return [name, isNode(own) ? normalise(inner, own, context, [...path, name]) : inner];
    }),
  );
}

function unitValue(
  value: string | number,
  unit: string,
  context: NormaliseContext,
  path: Path,
): string | number {
  if (unit === 'address' || unit === 'byteValue') {
    // 8007000 instead of 0x08007000 is a slip that no later check would notice.
    const source = typeof value === 'number' ? (context.sourceOf(path) ?? '') : value;
    if (typeof value === 'number' && value > 9 && !source.startsWith('0x'))
      context.complain(
        path,
        `expected a hexadecimal number such as 0x0C; found ${source}`,
        'a hexadecimal number',
      );
    return typeof value === 'number' ? value : (parseHex(value) ?? value);
  }
  if (typeof value === 'number') return value;
  // The tolerance of a trade size widens a limit upwards; the smallest card that is allowed is the nominal one.
  const trade = unit === 'size' ? undefined : parseTradeSize(value);
  const bytes = unit === 'size' ? parseSize(value) : path.at(-1) === 'min' ? trade?.nominal : trade?.most;
  if (bytes === undefined)
    context.complain(path, `'${value}' is no whole number of bytes`, 'a size such as 512 or 28KiB');
  return bytes ?? value;
}

/** Follows `$ref` inside one schema. */
export function resolve(schema: SchemaNode, root: SchemaNode): SchemaNode {
  let node = schema;
  for (let steps = 0; typeof node.$ref === 'string' && steps < 10; steps++) {
    let target: unknown = root;
    for (const name of node.$ref.slice(2).split('/'))
      target = typeof target === 'object' && target !== null ? (target as SchemaNode)[name] : undefined;
    if (!isNode(target)) throw new Error(`the schema refers to nothing: ${node.$ref}`);
    node = target;
  }
  return node;
}

const isNode = (value: unknown): value is SchemaNode =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
const nodes = (value: unknown): SchemaNode[] => (Array.isArray(value) ? value.filter(isNode) : []);
const texts = (value: unknown): string[] =>
  Array.isArray(value) ? value.filter((one) => typeof one === 'string') : [];
const numberOr = (value: unknown, otherwise: number): number =>
  typeof value === 'number' ? value : otherwise;
