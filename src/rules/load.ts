/**
 * Rule files: YAML text to compiled rules. Every problem is found with its file, line and column, and all problems
 * of all files are told at once. A run with the rules of the package never comes here.
 */
import { isMap, isScalar, Scalar } from 'yaml';
import { factSchema } from '../facts/schema.js';
import { readFacts } from './case-facts.js';
import { type LoadedRule, type RuleCase, runCases } from './cases.js';
import { nearest, type Variable } from './check-types.js';
import {
  type Compiled,
  type CompileOptions,
  compileExpression,
  compileTemplate,
  ExpressionError,
} from './compile.js';
import {
  type Expression,
  type Hazard,
  hazards,
  type Keystone,
  outcomes,
  type RemedyStep,
  type Rule,
  type RuleSet,
  type Source,
  type Template,
} from './rule.js';
import { RuleError, type RuleProblem } from './rule-error.js';
import { keystonesOf, type RuleSubject, subjectOf } from './subject.js';
import { type Entries, startOf, type YamlNode, YamlSource } from './yaml-source.js';

export { type LoadedRule, type RuleCase, runCases } from './cases.js';
export { problemText, RuleError, type RuleProblem } from './rule-error.js';

/** A YAML file of a folder of rules. */
export interface RuleFile {
  /** Path from the folder of rules, `/` between names: `volume/cluster-size.yaml`. */
  readonly name: string;
  readonly text: string;
  /** How the file is called in messages; its name when left out. */
  readonly shown?: string;
}

/** Steps that rules share, by the name that they write in `remedy`. */
export type SharedRemedies = ReadonlyMap<string, readonly RemedyStep[]>;

/** File beside the groups of rules with the shared steps. */
const remediesFile = 'remedies.yaml';
/** Files beside the groups of rules that hold other data. */
const otherFiles: readonly string[] = ['processors.yaml', 'glossary.yaml', 'rows.yaml', 'not-judged.yaml'];

const requiredKeys = [
  'id',
  'title',
  'hazard',
  'must',
  'found',
  'needed',
  'why',
  'remedy',
  'sources',
  'catalogue',
  'cases',
] as const;
const ruleKeys = [
  ...requiredKeys,
  'keystone',
  'after',
  'when',
  'each',
  'show',
  'settledBy',
  'provided',
  'where',
];

const ruleId = /^[a-z][a-z0-9]*(-[a-z0-9]+)*\/[a-z][a-z0-9]*(-[a-z0-9]+)*$/;

class RuleReader {
  private readonly source: YamlSource;

  constructor(
    text: string,
    file: string,
    private readonly shared: SharedRemedies,
  ) {
    this.source = new YamlSource(text, file);
  }

  get problems(): readonly RuleProblem[] {
    return this.source.problems;
  }

  readRemedies(): Map<string, RemedyStep[]> {
    const found = new Map<string, RemedyStep[]>();
    const map = this.source.parse();
    if (map)
      for (const [name, { value }] of this.source.entries(map, 'the file', null, []))
        found.set(name, this.steps(value));
    return found;
  }

  readRule(): LoadedRule | undefined {
    const map = this.source.parse();
    if (!map) return undefined;
    const entries = this.source.entries(map, 'the rule', ruleKeys, requiredKeys);
    const rule = this.rule(entries);
    return this.problems.length === 0 ? rule : undefined;
  }

  private rule(entries: Entries): LoadedRule {
    const { source } = this;
    const node = (key: string): YamlNode => entries.get(key)?.value;
    const read = <Result>(key: string, how: (value: YamlNode) => Result, otherwise: Result): Result => {
      const entry = entries.get(key);
      if (!entry) return otherwise;
      if (entry.value && !(isScalar(entry.value) && entry.value.value === null && !entry.value.tag))
        return how(entry.value);
      source.report(entry.offset, `${key} is empty`, 'a value, or leave the key out');
      return otherwise;
    };

    const id = read('id', (value) => source.string(value, 'id', 'group/what-is-checked'), undefined) ?? '';
    if (id !== '' && !ruleId.test(id))
      source.report(startOf(node('id')), `${id} is no id of a rule`, 'group/what-is-checked, in lower case');

    const each = read('each', (value) => this.compiled(value, 'each', { gives: 'list' }), undefined);
    const item = each?.items;
    const broken = entries.has('each') && !item;
    for (const [key, other] of [
      ['each', 'show'],
      ['show', 'each'],
    ] as const)
      if (entries.has(key) && !entries.has(other))
        source.report(entries.get(key)!.offset, `${key} stands without ${other}`, 'both, or neither');

    const when = read('when', (value) => this.compiled(value, 'when', { gives: 'bool' }), undefined);
    // Without the type of the items, everything that names them would be reported for the wrong reason.
    const must = broken
      ? undefined
      : read('must', (value) => this.compiled(value, 'must', { gives: 'bool', item }), undefined);
    const settledBy = read(
      'settledBy',
      (value) => this.compiled(value, 'settledBy', { gives: 'bool' }),
      undefined,
    );
    const never: Expression = ['value', false];
    const template = (key: string, variable?: Variable): Template =>
      read(key, (value) => this.template(value, key, variable), []);
    const touches = new Set([...(when?.touches ?? []), ...(must?.touches ?? []), ...(each?.touches ?? [])]);

    return {
      id,
      title: read('title', (value) => source.string(value, 'title'), undefined) ?? '',
      hazard: read('hazard', (value) => this.hazard(value), []),
      keystone: read('keystone', (value) => this.keystone(value, subjectOf(id)), null),
      after: read('after', (value) => this.strings(value, 'after', 'a list of ids of rules'), []),
      when: when?.expression ?? null,
      must: must?.expression ?? never,
      each: each?.expression ?? null,
      show: entries.has('show') && !broken ? template('show', item) : null,
      settledBy: settledBy?.expression ?? null,
      provided: read('provided', (value) => this.provided(value), []),
      found: template('found'),
      needed: template('needed'),
      why: template('why'),
      remedy: read('remedy', (value) => this.remedy(value), []),
      where: read('where', (value) => this.where(value), null),
      sources: read('sources', (value) => this.sources(value), []),
      catalogue: read('catalogue', (value) => this.strings(value, 'catalogue', 'a list of texts'), []),
      touches: [...touches].sort(),
      cases: read('cases', (value) => this.cases(value), []),
    };
  }

  /** An expression of its own key: only a literal block, in which YAML changes nothing. */
  private compiled(value: YamlNode, key: string, options: CompileOptions): Compiled | undefined {
    if (!isScalar(value) || value.type !== Scalar.BLOCK_LITERAL || value.tag) {
      this.source.report(
        startOf(value),
        `${key} is not a literal block; outside one, YAML takes a leading ! for a tag and drops what follows " #"`,
        `${key}: |- and the expression on the next line, indented`,
      );
      return undefined;
    }
    return this.compileScalar(value, options);
  }

  /**
   * A guard inside a list, where a literal block may not be possible: any scalar on one line that YAML demonstrably
   * took whole.
   */
  private guard(value: YamlNode, key: string): Expression | undefined {
    const whole =
      isScalar(value) &&
      typeof value.value === 'string' &&
      !value.tag &&
      (value.type === Scalar.BLOCK_LITERAL ||
        (value.type !== Scalar.BLOCK_FOLDED &&
          !this.source.commentFollows(value) &&
          !value.value.includes('\n')));
    if (!isScalar(value) || !whole) {
      this.source.report(
        startOf(value),
        `${key} is not an expression that YAML took whole (a leading !, or something after " #")`,
        `${key}: |- and the expression on the next line, indented`,
      );
      return undefined;
    }
    return this.compileScalar(value, { gives: 'bool' })?.expression;
  }

  private compileScalar(value: Scalar, options: CompileOptions): Compiled | undefined {
    return this.collect(value, () => compileExpression(String(value.value), options));
  }

  private template(value: YamlNode, what: string, item?: Variable): Template {
    const text = this.source.string(value, what);
    if (text === undefined || !isScalar(value)) return [];
    return this.collect(value, () => compileTemplate(text, item)) ?? [];
  }

  /** Runs a compilation; its problems are reported at their place in the file. */
  private collect<Result>(value: Scalar, compile: () => Result): Result | undefined {
    try {
      return compile();
    } catch (error) {
      if (!(error instanceof ExpressionError)) throw error;
      for (const { offset, message, expected } of error.problems)
        this.source.report(this.source.offsetIn(value, offset), message, expected);
      return undefined;
    }
  }

  private hazard(value: YamlNode): Rule['hazard'] {
    if (isScalar(value)) {
      const word = this.source.word(value, 'hazard', hazards);
      return word ? [{ is: word }] : [];
    }
    const expected = 'a hazard, or a list of { if: expression, is: hazard } that ends with { is: hazard }';
    const items = this.source.items(value, 'hazard', expected) ?? [];
    if (items.length === 0) this.source.report(startOf(value), 'hazard is empty', expected);
    return items.flatMap((node, index) => {
      const entries = this.source.entries(node, 'an entry of hazard', ['if', 'is'], ['is']);
      const last = index === items.length - 1;
      const guard = entries.get('if');
      if (last && guard)
        this.source.report(guard.offset, 'the last hazard has a guard', '{ is: hazard } at the end');
      if (!last && !guard)
        this.source.report(
          startOf(node),
          'a hazard without guard hides those after it',
          'if, except in the last',
        );
      const expression = guard ? this.guard(guard.value, 'if') : undefined;
      const is: Hazard | undefined = entries.has('is')
        ? this.source.word(entries.get('is')?.value, 'is', hazards)
        : undefined;
      return is ? [expression ? { if: expression, is } : { is }] : [];
    });
  }

  private keystone(value: YamlNode, about: RuleSubject): Keystone | null {
    if (isScalar(value) && value.value === false) return null;
    return this.source.word(value, 'keystone', keystonesOf(about)) ?? null;
  }

  private where(value: YamlNode): string | null {
    const path = this.source.string(value, 'where', 'the path of a fact');
    if (path === undefined || Object.hasOwn(factSchema, path)) return path ?? null;
    const meant = nearest(path, Object.keys(factSchema));
    this.source.report(startOf(value), `there is no fact ${path}`, meant ? meant : 'a fact of the schema');
    return null;
  }

  private strings(value: YamlNode, what: string, expected: string): string[] {
    const texts: string[] = [];
    for (const node of this.source.items(value, what, expected) ?? []) {
      const text = this.source.string(node, `an entry of ${what}`);
      if (text === undefined) continue;
      if (texts.includes(text))
        this.source.report(startOf(node), `${text} stands twice in ${what}`, 'each once');
      texts.push(text);
    }
    return texts;
  }

  private provided(value: YamlNode): Rule['provided'] {
    if (isScalar(value)) return [{ text: this.template(value, 'provided') }];
    const items =
      this.source.items(value, 'provided', 'a text, or a list of { if: expression, text: text }') ?? [];
    return items.map((node) => {
      const entries = this.source.entries(node, 'an entry of provided', ['if', 'text'], ['text']);
      const guard = entries.get('if');
      const expression = guard ? this.guard(guard.value, 'if') : undefined;
      const text = entries.has('text') ? this.template(entries.get('text')?.value, 'text') : [];
      return expression ? { if: expression, text } : { text };
    });
  }

  private remedy(value: YamlNode): readonly RemedyStep[] {
    if (!isScalar(value)) return this.steps(value);
    const name = this.source.string(value, 'remedy', 'a list of steps, or the name of shared ones');
    if (name === undefined) return [];
    const steps = this.shared.get(name);
    if (steps) return steps;
    const known = [...this.shared.keys()];
    this.source.report(
      startOf(value),
      `there are no shared steps called ${name}`,
      known.length > 0 ? `a list of steps, or one of ${known.join(', ')}` : 'a list of steps',
    );
    return [];
  }

  private steps(value: YamlNode): RemedyStep[] {
    const items = this.source.items(value, 'remedy', 'a list of { system, rights, erases, do }') ?? [];
    const keys = ['system', 'rights', 'erases', 'do'];
    const steps = items.map((node): RemedyStep => {
      const entries = this.source.entries(node, 'a remedy', keys, keys);
      const at = (key: string): YamlNode => entries.get(key)?.value;
      const system = entries.has('system')
        ? this.source.word(at('system'), 'system', ['windows', 'macos', 'linux', 'any'] as const)
        : undefined;
      const rights = entries.has('rights')
        ? this.source.word(at('rights'), 'rights', ['none', 'administrator'] as const)
        : undefined;
      const erases = entries.has('erases') ? this.source.boolean(at('erases'), 'erases') : undefined;
      const steps = entries.has('do') ? this.template(at('do'), 'do') : [];
      return {
        system: system ?? 'any',
        rights: rights ?? 'administrator',
        erases: erases ?? true,
        do: steps,
      };
    });
    if (!steps.some((step) => step.rights === 'none'))
      this.source.report(
        startOf(value),
        'every remedy needs an administrator',
        'one remedy or more with rights: none',
      );
    return steps;
  }

  private sources(value: YamlNode): Source[] {
    const items =
      this.source.items(value, 'sources', 'a list of { title, section, url } or { practice }') ?? [];
    if (items.length === 0) this.source.report(startOf(value), 'no source is named', 'one source or more');
    const keys = ['title', 'section', 'url', 'practice'] as const;
    return items.map((node) => {
      const entries = this.source.entries(node, 'a source', keys, []);
      const source: { -readonly [key in keyof Source]: Source[key] } = {};
      for (const key of keys) {
        if (!entries.has(key)) continue;
        const text = this.source.string(entries.get(key)?.value, key);
        if (text !== undefined) source[key] = text;
      }
      if (isMap(node) && entries.has('title') === entries.has('practice'))
        this.source.report(startOf(node), 'a source is a title or a practice', 'one of title and practice');
      return source;
    });
  }

  private cases(value: YamlNode): RuleCase[] {
    const expected = 'a list of { name, facts, expect }';
    const items = this.source.items(value, 'cases', expected) ?? [];
    const names = new Set<string>();
    const keys = ['name', 'facts', 'expect', 'hazard', 'mend'];
    const cases = items.map((node): RuleCase => {
      const entries = this.source.entries(node, 'a case', keys, ['name', 'facts', 'expect']);
      const at = (key: string): YamlNode => entries.get(key)?.value;
      const name = entries.has('name') ? this.source.string(at('name'), 'name') : undefined;
      if (name !== undefined && names.has(name))
        this.source.report(startOf(at('name')), `two cases are called "${name}"`, 'a name of its own');
      if (name !== undefined) names.add(name);
      const expect = entries.has('expect')
        ? this.source.word(
            at('expect'),
            'expect',
            outcomes.filter((outcome) => outcome !== 'waived'),
          )
        : undefined;
      const hazard = entries.has('hazard') ? this.source.word(at('hazard'), 'hazard', hazards) : undefined;
      const mend = entries.get('mend');
      if (expect === 'failed' && !mend)
        this.source.report(
          startOf(node),
          'a failing case has no mend',
          'mend: facts with which the rule holds',
        );
      if (expect !== undefined && expect !== 'failed' && mend)
        this.source.report(
          mend.offset,
          'a case that does not fail has a mend',
          'mend only with expect: failed',
        );
      return {
        name: name ?? '',
        facts: entries.has('facts') ? readFacts(this.source, at('facts'), 'facts') : [],
        expect: expect ?? 'unknown',
        ...(hazard ? { hazard } : {}),
        ...(mend ? { mend: readFacts(this.source, mend.value, 'mend') } : {}),
        ...this.source.position(startOf(node)),
      };
    });
    for (const outcome of ['failed', 'holds'] as const)
      if (!cases.some((each) => each.expect === outcome))
        this.source.report(
          startOf(value),
          `no case expects ${outcome}`,
          'cases that fail and cases that hold',
        );
    return cases;
  }
}

/**
 * Compiles one rule file. Throws `RuleError` with everything that is wrong with it; its cases are read and not run.
 * `file` is how the file is called in messages.
 */
export function loadRule(text: string, file: string, shared: SharedRemedies = new Map()): LoadedRule {
  const reader = new RuleReader(text, file, shared);
  const rule = reader.readRule();
  if (!rule) throw new RuleError(reader.problems);
  return rule;
}

/** Compiles a file of steps that rules share, by name. Throws `RuleError` with everything that is wrong with it. */
export function loadRemedies(text: string, file: string): SharedRemedies {
  const reader = new RuleReader(text, file, new Map());
  const remedies = reader.readRemedies();
  if (reader.problems.length > 0) throw new RuleError(reader.problems);
  return remedies;
}

/** What a folder of rules holds after loading, cases included. */
interface Loaded {
  readonly rule: LoadedRule;
  readonly file: string;
}

/**
 * Compiles the rules of one folder or more, without running their cases: `remedies.yaml` first, then every
 * `group/rule.yaml`. Throws `RuleError` with the problems of all files and of the rules as a whole.
 */
export function loadRules(files: readonly RuleFile[]): LoadedRule[] {
  return load(files).map(({ rule }) => rule);
}

/**
 * Compiles a set of rules and runs their cases. The result is plain data without the cases, to be written as JSON.
 * Throws `RuleError` with everything that is wrong in any file, with the set as a whole (ids that are not the path,
 * stand twice or do not exist, rules after one another in a circle, a keystone that no rule carries), or with a case
 * that does not come out. `sha256` identifies the files.
 */
export function loadRuleSet(files: readonly RuleFile[], version: string, sha256: string): RuleSet {
  const loaded = load(files);
  const problems = loaded.flatMap(({ rule, file }) => runCases(rule, file));
  if (problems.length > 0) throw new RuleError(problems);
  return { version, sha256, rules: loaded.map(({ rule }) => withoutCases(rule)) };
}

function load(files: readonly RuleFile[]): Loaded[] {
  const problems: RuleProblem[] = [];
  const attempt = <Result>(read: () => Result): Result | undefined => {
    try {
      return read();
    } catch (error) {
      if (!(error instanceof RuleError)) throw error;
      problems.push(...error.problems);
      return undefined;
    }
  };
  const at = (file: RuleFile): string => file.shown ?? file.name;

  const shared = new Map<string, readonly RemedyStep[]>();
  for (const file of files.filter(({ name }) => name === remediesFile))
    for (const [name, steps] of attempt(() => loadRemedies(file.text, at(file))) ?? []) {
      if (shared.has(name))
        problems.push(wholeFile(at(file), `the steps ${name} exist already`, 'another name'));
      shared.set(name, steps);
    }

  const loaded: Loaded[] = [];
  for (const file of files) {
    if (file.name === remediesFile || otherFiles.includes(file.name)) continue;
    const rule = attempt(() => loadRule(file.text, at(file), shared));
    if (!rule) continue;
    const id = file.name.replace(/\.ya?ml$/, '');
    if (rule.id !== id)
      problems.push(
        wholeFile(at(file), `the file of the rule ${rule.id} is called ${file.name}`, `${rule.id}.yaml`),
      );
    loaded.push({ rule, file: at(file) });
  }
  // Rules that could not be read would look like rules that do not exist.
  if (problems.length === 0) problems.push(...wholeProblems(loaded));
  if (problems.length > 0) throw new RuleError(problems);
  return loaded;
}

const wholeFile = (file: string, message: string, expected: string): RuleProblem => ({
  file,
  line: 1,
  column: 1,
  message,
  expected,
});

/** What is wrong with the rules as a whole. */
function wholeProblems(loaded: readonly Loaded[]): RuleProblem[] {
  const problems: RuleProblem[] = [];
  const byId = new Map<string, Loaded>();
  for (const each of loaded) {
    const first = byId.get(each.rule.id);
    if (first)
      problems.push(
        wholeFile(each.file, `the rule ${each.rule.id} stands in ${first.file} already`, 'an id of its own'),
      );
    else byId.set(each.rule.id, each);
  }
  for (const { rule, file } of loaded)
    for (const id of rule.after)
      if (!byId.has(id)) {
        const meant = nearest(id, byId.keys());
        problems.push(
          wholeFile(file, `${rule.id} comes after ${id}, which does not exist`, meant ?? 'an id of a rule'),
        );
      } else if (subjectOf(id) !== subjectOf(rule.id))
        problems.push(
          wholeFile(
            file,
            `${rule.id} comes after ${id}, with which it is never judged`,
            `a rule about a ${subjectOf(rule.id)}`,
          ),
        );
  problems.push(...circles(byId));
  // Without any rule about releases none is ever called complete, so nothing can get lost there.
  const isAboutReleases = loaded.some(({ rule }) => subjectOf(rule.id) === 'release');
  for (const keystone of [...keystonesOf('card'), ...(isAboutReleases ? keystonesOf('release') : [])])
    if (!loaded.some(({ rule }) => rule.keystone === keystone))
      problems.push(
        wholeFile(
          'the rules',
          `no rule carries the keystone ${keystone}`,
          'one rule or more for each keystone',
        ),
      );
  return problems;
}

/** Each circle of rules that come after one another, once. */
function circles(byId: ReadonlyMap<string, Loaded>): RuleProblem[] {
  const problems: RuleProblem[] = [];
  const done = new Set<string>();
  const visit = (id: string, path: readonly string[]): void => {
    const start = path.indexOf(id);
    const each = byId.get(id);
    if (start >= 0 && each) {
      const circle = [...path.slice(start), id].join(' after ');
      problems.push(wholeFile(each.file, `rules come after one another in a circle: ${circle}`, 'no circle'));
      return;
    }
    if (done.has(id) || !each) return;
    for (const before of each.rule.after) visit(before, [...path, id]);
    done.add(id);
  };
  for (const id of byId.keys()) visit(id, []);
  return problems;
}

/** The rule as plain data, as it is written to JSON. */
function withoutCases({ cases: _cases, ...rule }: LoadedRule): Rule {
  return rule;
}
