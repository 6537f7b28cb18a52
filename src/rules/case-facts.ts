/** Facts of a case, from YAML: dotted paths or nested maps, with the tags `!absent`, `!unseen` and `!incomplete`. */
import { isMap, isScalar, isSeq } from 'yaml';
import { Absent, FactList, type FactValue, Unseen, type UnseenCause } from '../facts/fact.js';
import { type FactDeclaration, factSchema } from '../facts/schema.js';
import type { CaseFact } from './cases.js';
import { isGroup, nearest } from './check-types.js';
import { startOf, type YamlNode, type YamlSource } from './yaml-source.js';

const causes: readonly UnseenCause[] = [
  'not-visible',
  'no-permission',
  'damaged',
  'over-limit',
  'not-told',
  'profile-silent',
  'not-built-yet',
];

/** Reads the facts of a case; what is wrong is reported to `source`. */
export function readFacts(source: YamlSource, node: YamlNode, what: string): CaseFact[] {
  const facts: CaseFact[] = [];
  readGroup(source, node, '', what, facts);
  return facts;
}

function readGroup(
  source: YamlSource,
  node: YamlNode,
  prefix: string,
  what: string,
  facts: CaseFact[],
): void {
  for (const [key, { offset, value }] of source.entries(node, what, null, [])) {
    const path = prefix ? `${prefix}.${key}` : key;
    const declaration = Object.hasOwn(factSchema, path) ? factSchema[path] : undefined;
    if (declaration) {
      if (facts.some((fact) => fact.path === path))
        source.report(offset, `${path} is given twice`, 'each fact once');
      const read = readValue(source, value, path, declaration, offset);
      if (read !== undefined) facts.push({ path, group: false, value: read });
    } else if (isGroup(path)) {
      const marker = readMarker(source, value, path);
      if (marker) facts.push({ path, group: true, value: marker });
      else readGroup(source, value, path, path, facts);
    } else {
      const meant = nearest(path, Object.keys(factSchema));
      source.report(offset, `there is no fact ${path}`, meant ? meant : 'a fact of the schema');
    }
  }
}

/** `!absent` or `!unseen`, or undefined when the node has no such tag. */
function readMarker(source: YamlSource, node: YamlNode, path: string): Unseen | Absent | undefined {
  if (!isScalar(node) || (node.tag !== '!absent' && node.tag !== '!unseen')) return undefined;
  const word = String(node.value ?? '');
  if (node.tag === '!absent') {
    if (word !== '') source.report(startOf(node), '!absent takes no word', '!absent alone');
    return new Absent(`${path} does not exist`);
  }
  const cause = word === '' ? 'not-visible' : causes.find((each) => each === word);
  if (!cause) source.report(startOf(node), `${word} is no cause`, `one of ${causes.join(', ')}`);
  return new Unseen(cause ?? 'not-visible', `${path} was not seen`);
}

const scalarTypes = {
  bool: 'true or false',
  int: 'a whole number',
  double: 'a number',
  string: 'a text',
  dyn: 'a whole number or a text',
} as const;

function readValue(
  source: YamlSource,
  node: YamlNode,
  path: string,
  declaration: FactDeclaration,
  keyOffset: number,
): FactValue | undefined {
  const at = node ? startOf(node) : keyOffset;
  const marker = readMarker(source, node, path);
  if (marker) return marker;
  const { type } = declaration;
  if (type === 'list<int>' || type === 'list<string>' || type === 'list<record>') {
    if (!isSeq(node)) {
      source.report(at, `${path} is not a list`, 'a list');
      return undefined;
    }
    if (node.tag && node.tag !== '!incomplete')
      source.report(at, `the tag ${node.tag} is not known here`, '!incomplete or no tag');
    const items: FactValue[] = [];
    for (const item of node.items as YamlNode[]) {
      const value =
        type === 'list<record>'
          ? readRecord(source, item, `${path}[]`, declaration, at)
          : readValue(
              source,
              item,
              `${path}[]`,
              {
                type: type === 'list<int>' ? 'int' : 'string',
                meaning: declaration.meaning,
                ...(declaration.words ? { words: declaration.words } : {}),
              },
              at,
            );
      if (value !== undefined) items.push(value);
    }
    const lost = node.tag === '!incomplete' ? new Unseen('not-visible', `${path} may lack items`) : undefined;
    return lost ? new FactList(items, lost) : new FactList(items);
  }
  const value = isScalar(node) && !node.tag ? node.value : undefined;
  const fits =
    (type === 'bool' && typeof value === 'boolean') ||
    (type === 'string' && typeof value === 'string') ||
    (type === 'double' && typeof value === 'number' && Number.isFinite(value)) ||
    ((type === 'int' || type === 'dyn') && Number.isSafeInteger(value)) ||
    (type === 'dyn' && typeof value === 'string');
  if (!fits || (typeof value !== 'boolean' && typeof value !== 'number' && typeof value !== 'string')) {
    const quoted = type === 'string' && value !== undefined && value !== null ? ', in quotes' : '';
    source.report(at, `${path} is of type ${type}`, `${scalarTypes[type]}${quoted}`);
    return undefined;
  }
  if (declaration.words && !declaration.words.includes(String(value))) {
    source.report(at, `"${value}" is not a word of ${path}`, `one of ${declaration.words.join(', ')}`);
    return undefined;
  }
  return value;
}

function readRecord(
  source: YamlSource,
  node: YamlNode,
  path: string,
  declaration: FactDeclaration,
  listOffset: number,
): FactValue | undefined {
  const marker = readMarker(source, node, path);
  if (marker) return marker;
  if (!isMap(node)) {
    source.report(node ? startOf(node) : listOffset, `${path} is not a map`, 'a map of its fields');
    return undefined;
  }
  const record: Record<string, FactValue> = {};
  const fields = declaration.item ?? {};
  for (const [key, { offset, value }] of source.entries(node, path, Object.keys(fields), [])) {
    const field = Object.hasOwn(fields, key) ? fields[key] : undefined;
    const read = field && readValue(source, value, `${path}.${key}`, field, offset);
    if (read !== undefined) record[key] = read;
  }
  return record;
}
