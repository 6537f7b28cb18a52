/** From rules and facts to findings. Rules never read anything: all that they know is in the store of facts. */
import { limits } from '../bytes/limits.js';
import { FactList, type FactValue, type UnseenCause } from '../facts/fact.js';
import type { FactStore } from '../facts/fact-store.js';
import type { Finding } from '../report/report.js';
import {
  condition,
  type EvaluationContext,
  expressionText,
  ListValue,
  type Missing,
  run,
  Unknown,
  unite,
} from './evaluate.js';
import {
  type Expression,
  type Hazard,
  hazards,
  type MissingFact,
  type Outcome,
  outcomes,
  type Rule,
  type RuleSet,
} from './rule.js';
import { render } from './template.js';

/** A board profile's word that a failed rule is accepted. */
export interface Waiver {
  readonly rule: string;
  /** Only where this is true; unknown is not true. */
  readonly only?: Expression;
  readonly because: string;
  /** The release up to which it was meant. */
  readonly until?: string;
}

/** What became of one waiver, in the order in which they were given. */
export interface WaiverUse {
  readonly rule: string;
  readonly because: string;
  readonly used: boolean;
  /** Plain words: why it was not used. */
  readonly unused?: string;
}

/** What the owner must ensure, said with a `fit`. */
export interface Proviso {
  readonly id: string;
  readonly text: string;
}

export interface JudgeOptions {
  readonly waivers?: readonly Waiver[];
  /** False for `--no-waivers`; true when left out. */
  readonly useWaivers?: boolean;
  /** Whether the release of a waiver's `until` is past; a waiver whose `until` nobody can place is not used. */
  readonly isPast?: (until: string) => boolean | undefined;
  /** Provisos that do not come from a rule; they stand first. */
  readonly provisos?: readonly Proviso[];
}

/** Everything that rules say about one store of facts. `verdict` makes one word of it. */
export interface Judgement {
  /** Failed ones first, worst hazard first; then unknown, waived, holding and not applicable ones; then by rule. */
  readonly findings: Finding[];
  readonly provided: Proviso[];
  readonly counts: { holds: number; failed: number; unknown: number; notApplicable: number; waived: number };
  readonly waivers: WaiverUse[];
}

/** What one rule says by itself, before other rules and waivers come in. */
export interface RuleResult {
  readonly outcome: Exclude<Outcome, 'waived'>;
  readonly hazard: Hazard;
  /** Facts that kept it from being judged; empty unless the outcome is unknown. */
  readonly missing: readonly MissingFact[];
  /** True when `settledBy` turned unknown into holds. */
  readonly settled: boolean;
  /** Items that fail, for a rule with `each`: printed ones, capped, and all. */
  readonly shown?: string[];
  readonly total?: number;
}

/** True when either word counts: the worse one. */
const worst = (of: readonly Hazard[]): Hazard =>
  of.reduce((one, other) => (hazards.indexOf(other) < hazards.indexOf(one) ? other : one));

/**
 * The hazard of a rule on these facts: the first whose guard is true, the last when none is. A guard that cannot be
 * decided counts as the worst word of the whole list.
 */
export function hazardOf(rule: Rule, context: EvaluationContext): Hazard {
  for (const { if: guard, is } of rule.hazard) {
    const decided = guard ? condition(guard, context) : true;
    if (decided instanceof Unknown) return worst(rule.hazard.map((each) => each.is));
    if (decided) return is;
  }
  throw new Error(`the hazards of ${rule.id} do not end with one that always applies`);
}

interface Asked {
  readonly must: boolean | Unknown;
  readonly offenders?: readonly (FactValue | Unknown)[];
  readonly path?: string;
}

function ask(rule: Rule, facts: FactStore): Asked {
  if (!rule.each) return { must: condition(rule.must, { facts }) };
  const over = run(rule.each, { facts });
  if (over instanceof Unknown) return { must: over };
  if (!(over instanceof ListValue)) throw new Error(`each of ${rule.id} gives no list`);
  const path = `${over.path}[]`;
  const offenders: (FactValue | Unknown)[] = [];
  const missing = new Map<string, Missing>();
  for (const value of over.items) {
    const result = condition(rule.must, { facts, item: { value, path } });
    if (result instanceof Unknown) {
      for (const [key, each] of result.missing) if (!missing.has(key)) missing.set(key, each);
    } else if (!result) offenders.push(value);
  }
  if (offenders.length > 0) return { must: false, offenders, path };
  return { must: missing.size > 0 || over.incomplete ? unite(new Unknown(missing), over.incomplete) : true };
}

/**
 * Causes that an owner's word can make up for: the thing is there to be seen, only not from here. What the profile
 * does not say, what is damaged or past a limit, no owner can vouch for. A keystone is stricter: only what this kind
 * of target never shows, since a proviso never replaces a keystone.
 */
const settleable: readonly UnseenCause[] = ['not-visible', 'no-permission'];
const settleableInKeystone: readonly UnseenCause[] = ['not-visible'];

function settles(rule: Rule, missing: readonly Missing[], context: EvaluationContext): boolean {
  if (!rule.settledBy) return false;
  const causes = rule.keystone ? settleableInKeystone : settleable;
  if (!missing.every((each) => each.kind === 'unseen' && causes.includes(each.cause))) return false;
  return condition(rule.settledBy, context) === true;
}

/** Missing facts as a report lists them: each path once for each cause, without the evaluator's own word. */
function listed(missing: readonly Missing[]): MissingFact[] {
  const found = new Map<string, MissingFact>();
  for (const { fact, cause, text, settle } of missing) {
    const key = `${fact} ${cause}`;
    if (!found.has(key)) found.set(key, { fact, cause, text, ...(settle === undefined ? {} : { settle }) });
  }
  return [...found.values()];
}

/** What one rule says about these facts, with `settledBy`, without `after` and waivers. Throws only for our own bugs. */
export function judgeRule(rule: Rule, facts: FactStore): RuleResult {
  const context: EvaluationContext = { facts };
  const hazard = hazardOf(rule, context);
  const plain = { hazard, missing: [], settled: false };
  const when = rule.when ? condition(rule.when, context) : true;
  if (when === false) return { outcome: 'not-applicable', ...plain };
  const { must, offenders, path } = ask(rule, facts);
  if (must === true) return { outcome: 'holds', ...plain };
  if (must === false && when === true) {
    const seen = onlySeen(rule, facts);
    if (seen) return { outcome: 'unknown', hazard, missing: seen, settled: false };
    if (!offenders || !path) return { outcome: 'failed', ...plain };
    const shown = offenders
      .slice(0, limits.listed)
      .map((value) => (rule.show ? render(rule.show, { facts, item: { value, path } }) : ''));
    return { outcome: 'failed', ...plain, shown, total: offenders.length };
  }
  const lost = unite(when instanceof Unknown ? when : undefined, must instanceof Unknown ? must : undefined);
  const missing = [...lost.missing.values()];
  if (settles(rule, missing, context)) return { outcome: 'holds', hazard, missing: [], settled: true };
  return { outcome: 'unknown', hazard, missing: listed(missing), settled: false };
}

/**
 * The keys of the profile that a rule rests on and whose author knows only what was seen to work: what differs from
 * them was never tried, which proves nothing against it. Null when there is none.
 */
function onlySeen(rule: Rule, facts: FactStore): MissingFact[] | null {
  const seenKeys = facts.value('board.seenKeys');
  if (!(seenKeys instanceof FactList)) return null;
  const touched = rule.touches.filter((path) =>
    seenKeys.items.some((key) => path === `board.${key}` || path.startsWith(`board.${key}.`)),
  );
  if (touched.length === 0) return null;
  return touched.map((fact) => ({
    fact,
    cause: 'profile-silent',
    text: 'the board profile lists what was seen to work, and this card differs from it; nobody has tried',
    settle: 'use a card like those that the profile lists, or ask its author',
  }));
}

/** Facts that an expression names, in order, each once. */
function factsOf(expression: Expression): string[] {
  const found = new Set<string>();
  const look = (part: unknown): void => {
    if (!Array.isArray(part)) return;
    if (part[0] === 'fact' && typeof part[1] === 'string') found.add(part[1]);
    else if (part[0] !== 'value') part.forEach(look);
  };
  look(expression);
  return [...found];
}

function settledText(settledBy: Expression, facts: FactStore): string {
  const words = factsOf(settledBy).map((path) => {
    const { value, origin } = facts.get(path);
    const shown = typeof value === 'object' ? '' : ` is ${typeof value === 'string' ? `"${value}"` : value}`;
    return `${path}${shown}${origin === 'stated' ? " (the owner's word)" : ''}`;
  });
  return `could not be seen, and is settled because ${words.join(' and ') || expressionText(settledBy)}`;
}

/** Rules so that each stands behind those it comes after. A circle is a load error, so here it is our own bug. */
function inOrder(rules: readonly Rule[]): Rule[] {
  const byId = new Map(rules.map((rule) => [rule.id, rule]));
  const state = new Map<string, 'open' | 'done'>();
  const ordered: Rule[] = [];
  const visit = (rule: Rule): void => {
    const now = state.get(rule.id);
    if (now === 'done') return;
    if (now === 'open') throw new Error(`rules come after one another in a circle: ${rule.id}`);
    state.set(rule.id, 'open');
    for (const id of rule.after) {
      const before = byId.get(id);
      if (!before) throw new Error(`${rule.id} comes after ${id}, which does not exist`);
      visit(before);
    }
    state.set(rule.id, 'done');
    ordered.push(rule);
  };
  for (const rule of rules) visit(rule);
  return ordered;
}

interface Weighed {
  readonly outcome: Outcome;
  readonly because?: string;
}

/**
 * Judges all rules over one store of facts. Deterministic: equal rules and facts give equal findings in equal order.
 * Throws only for our own bugs; what was not seen becomes an unknown outcome.
 */
export function judge(facts: FactStore, ruleSet: RuleSet, options: JudgeOptions = {}): Judgement {
  const context: EvaluationContext = { facts };
  const waivers = options.waivers ?? [];
  const uses: WaiverUse[] = waivers.map(({ rule, because }) => ({
    rule,
    because,
    used: false,
    unused: ruleSet.rules.some((each) => each.id === rule)
      ? 'the rule did not fail'
      : 'there is no such rule',
  }));
  const failedRules = new Map<string, { rule: Rule; hazard: Hazard }>();
  const findings: Finding[] = [];
  const ruleProvisos: Proviso[] = [];

  const weigh = (rule: Rule, result: RuleResult): Weighed => {
    if (result.settled && rule.settledBy)
      return { outcome: result.outcome, because: settledText(rule.settledBy, facts) };
    if (result.outcome !== 'failed') return { outcome: result.outcome };
    for (const [index, waiver] of waivers.entries()) {
      if (waiver.rule !== rule.id) continue;
      const unused = whyUnused(waiver, rule, result.hazard, context, options);
      const { because } = waiver;
      uses[index] = unused
        ? { rule: rule.id, because, used: false, unused }
        : { rule: rule.id, because, used: true };
      if (!unused) return { outcome: 'waived', because };
    }
    return { outcome: 'failed' };
  };

  for (const rule of inOrder(ruleSet.rules)) {
    const cause = rule.after
      .map((id) => failedRules.get(id))
      .find((each) => each && covers(each.hazard, rule));
    let result: RuleResult;
    let weighed: Weighed;
    if (cause) {
      result = { outcome: 'not-applicable', hazard: hazardOf(rule, context), missing: [], settled: false };
      weighed = { outcome: 'not-applicable', because: `${cause.rule.title} (${cause.rule.id}) failed` };
    } else {
      result = judgeRule(rule, facts);
      weighed = weigh(rule, result);
    }
    if (weighed.outcome === 'failed') failedRules.set(rule.id, { rule, hazard: result.hazard });
    findings.push(finding(rule, result, weighed, facts));
    ruleProvisos.push(...provisosOf(rule, weighed.outcome, context));
  }

  findings.sort(
    (one, other) =>
      outcomes.indexOf(one.outcome) - outcomes.indexOf(other.outcome) ||
      (one.outcome === 'failed' ? hazards.indexOf(one.hazard) - hazards.indexOf(other.hazard) : 0) ||
      compareText(one.rule, other.rule),
  );
  ruleProvisos.sort((one, other) => compareText(one.id, other.id));
  const said = new Set<string>();
  const provided = [...(options.provisos ?? []), ...ruleProvisos].filter(
    ({ text }) => !said.has(text) && said.add(text),
  );
  const count = (outcome: Outcome): number => findings.filter((each) => each.outcome === outcome).length;
  return {
    findings,
    provided,
    counts: {
      holds: count('holds'),
      failed: count('failed'),
      unknown: count('unknown'),
      notApplicable: count('not-applicable'),
      waived: count('waived'),
    },
    waivers: uses,
  };
}

/**
 * Whether a failed rule makes one after it not applicable. A failure that is only advice refuses nothing, so it must
 * not hide a rule that would.
 */
const covers = (failed: Hazard, rule: Rule): boolean =>
  failed !== 'advice' || rule.hazard.every((each) => each.is === 'advice');

function whyUnused(
  waiver: Waiver,
  rule: Rule,
  hazard: Hazard,
  context: EvaluationContext,
  options: JudgeOptions,
): string | undefined {
  if (options.useWaivers === false) return 'waivers are switched off';
  if (rule.keystone) return 'the rule carries a keystone';
  if (hazard === 'unsafe') return 'the hazard is unsafe';
  if (waiver.until !== undefined && options.isPast?.(waiver.until) !== false)
    return `it was meant until release ${waiver.until}`;
  if (waiver.only && condition(waiver.only, context) !== true) return 'its condition is not true here';
  return undefined;
}

function finding(rule: Rule, result: RuleResult, weighed: Weighed, facts: FactStore): Finding {
  const context: EvaluationContext = { facts };
  const where = rule.where === null ? undefined : facts.get(rule.where).where;
  return {
    rule: rule.id,
    outcome: weighed.outcome,
    hazard: result.hazard,
    ...(rule.keystone ? { keystone: rule.keystone } : {}),
    title: rule.title,
    found: render(rule.found, context),
    needed: render(rule.needed, context),
    why: render(rule.why, context),
    // Steps are for what is to be mended or looked at; filling them in for every rule that holds takes its time.
    remedy: ['holds', 'not-applicable'].includes(weighed.outcome)
      ? []
      : rule.remedy.map(({ system, rights, erases, do: steps }) => ({
          system,
          rights,
          erases,
          do: render(steps, context),
        })),
    ...(weighed.because === undefined ? {} : { because: weighed.because }),
    ...(where ? { where: { ...where } } : {}),
    ...(result.shown ? { shown: result.shown } : {}),
    ...(result.total === undefined ? {} : { total: result.total }),
    ...(result.missing.length > 0 ? { missing: [...result.missing] } : {}),
    sources: rule.sources.map((source) => ({ ...source })),
  };
}

/**
 * What the owner must ensure on behalf of a rule. A guard decides by itself, and one that cannot be decided is said;
 * without a guard it is said unless the rule is not applicable.
 */
function provisosOf(rule: Rule, outcome: Outcome, context: EvaluationContext): Proviso[] {
  return rule.provided
    .filter(({ if: guard }) => (guard ? condition(guard, context) !== false : outcome !== 'not-applicable'))
    .map(({ text }) => ({ id: rule.id, text: render(text, context) }));
}

const compareText = (one: string, other: string): number => (one < other ? -1 : one > other ? 1 : 0);
