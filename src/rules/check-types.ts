/**
 * What the type checker of the expression library is told: every fact of the schema, and the functions of rules.
 * Only the loader of rules comes here; a run of compiled rules never does.
 */
import { type ASTNode, Environment, type ObjectSchema, type TypeDeclaration } from '@marcbachmann/cel-js';
import type { FactDeclaration } from '../facts/schema.js';
import { factSchema } from '../facts/schema.js';
import { ruleFunctions } from './functions.js';

/** What is known of an expression's value besides its type: vocabulary, fields, unit. */
export interface Info {
  /** Every word that it can be, when that is fixed. For a list: that its items can be. */
  readonly words?: readonly string[];
  /** Fields of a record, or of the records in a list. */
  readonly fields?: Readonly<Record<string, FactDeclaration>>;
  readonly unit?: string;
}

/** A variable that an expression may name besides the facts. */
export interface Variable {
  /** Type name as the library knows it. */
  readonly type: string;
  readonly info: Info;
}

const recordType = (path: string): string => `record_${path.replaceAll('.', '_')}`;

/** Vocabulary, fields and unit of a declared fact or field. */
export function infoOf(declaration: FactDeclaration): Info {
  return {
    ...(declaration.words ? { words: declaration.words } : {}),
    ...(declaration.item ? { fields: declaration.item } : {}),
    ...(declaration.unit ? { unit: declaration.unit } : {}),
  };
}

type Tree = { [name: string]: string | Tree };

let shared: { environment: Environment; roots: ReadonlySet<string>; groups: ReadonlySet<string> } | undefined;

function build(): NonNullable<typeof shared> {
  const environment = new Environment({
    limits: { maxDepth: 60, maxAstNodes: 2000, maxListElements: 300, maxCallArguments: 4 },
  });
  const declare = (path: string, declaration: FactDeclaration): string => {
    if (declaration.type !== 'list<record>') return declaration.type;
    const schema: ObjectSchema = {};
    for (const [field, each] of Object.entries(declaration.item ?? {}))
      schema[field] = declare(`${path}.${field}`, each);
    environment.registerType({ name: recordType(path), schema });
    return `list<${recordType(path)}>`;
  };
  const tree: Tree = {};
  const groups = new Set<string>();
  for (const [path, declaration] of Object.entries(factSchema)) {
    const names = path.split('.');
    const last = names.pop()!;
    let at = tree;
    let group = '';
    for (const name of names) {
      group = group ? `${group}.${name}` : name;
      groups.add(group);
      at[name] ??= {};
      const next = at[name];
      if (typeof next === 'string') throw new Error(`${group} is a fact and a group of facts`);
      at = next;
    }
    if (typeof at[last] === 'object') throw new Error(`${path} is a fact and a group of facts`);
    at[last] = declare(path, declaration);
  }
  for (const [name, entry] of Object.entries(tree)) {
    if (typeof entry === 'string') environment.registerVariable(name, entry);
    else environment.registerVariable({ name, schema: entry });
  }
  // The handlers are never called: this environment checks types and evaluates nothing.
  const never = (): never => {
    throw new Error('the type checker evaluates nothing');
  };
  environment.registerFunction('present(dyn): bool', never);
  for (const each of ruleFunctions)
    for (const signature of each.signatures) environment.registerFunction(signature, never);
  return { environment, roots: new Set(Object.keys(tree)), groups };
}

const facts = (): NonNullable<typeof shared> => {
  shared ??= build();
  return shared;
};

/** The environment in which an expression is checked, with `item` when there is one. */
export function environmentFor(item: Variable | undefined): Environment {
  const { environment } = facts();
  return item ? environment.clone().registerVariable('item', item.type) : environment;
}

/** True for the first name of a fact's path. */
export const isRoot = (name: string): boolean => facts().roots.has(name);

/** True for a path above facts: `volume`, `board.loader`. */
export const isGroup = (path: string): boolean => facts().groups.has(path);

/** The type that the library found for a node; undefined before its check. */
export function checkedType(node: ASTNode): TypeDeclaration | undefined {
  return (node as ASTNode & { checkedType?: TypeDeclaration }).checkedType;
}

/** Single steps between two words: characters changed, lost or added (Levenshtein distance). */
function distance(one: string, other: string): number {
  let row = Array.from({ length: other.length + 1 }, (_, index) => index);
  for (let i = 1; i <= one.length; i++) {
    const next = [i];
    for (let j = 1; j <= other.length; j++)
      next.push(Math.min(next[j - 1]! + 1, row[j]! + 1, row[j - 1]! + (one[i - 1] === other[j - 1] ? 0 : 1)));
    row = next;
  }
  return row[other.length]!;
}

/** The candidate that was probably meant, or undefined. */
export function nearest(name: string, candidates: Iterable<string>): string | undefined {
  if (name.length > 60) return undefined;
  let best: string | undefined;
  let least = Math.max(2, Math.floor(name.length / 5)) + 1;
  for (const candidate of candidates) {
    const steps = distance(name.toLowerCase(), candidate.toLowerCase());
    if (steps < least) {
      best = candidate;
      least = steps;
    }
  }
  return best;
}
