/** The cases that a rule file carries: facts, and what the rule must say about them. */

import { Absent, type FactValue, Unseen } from '../facts/fact.js';
import { FactStore } from '../facts/fact-store.js';
import { judgeRule } from './judge.js';
import type { Hazard, Outcome, Rule } from './rule.js';
import type { RuleProblem } from './rule-error.js';

/** One fact of a case. With `group`, all facts at or below the path have this marker. */
export interface CaseFact {
  readonly path: string;
  readonly group: boolean;
  readonly value: FactValue;
}

/** One case: with these facts the rule has this outcome. Facts that are not named are unseen. */
export interface RuleCase {
  readonly name: string;
  readonly facts: readonly CaseFact[];
  readonly expect: Exclude<Outcome, 'waived'>;
  readonly hazard?: Hazard;
  /** Facts that mend a failing case: together with the others the rule must hold. */
  readonly mend?: readonly CaseFact[];
  /** Where the case stands in its file. */
  readonly line: number;
  readonly column: number;
}

/** A rule with its cases, as it is loaded from its file. */
export interface LoadedRule extends Rule {
  readonly cases: readonly RuleCase[];
}

/** The facts of a case as a store; a later group replaces earlier facts below it. */
export function caseStore(...parts: readonly (readonly CaseFact[])[]): FactStore {
  let facts: CaseFact[] = [];
  for (const fact of parts.flat()) {
    if (fact.group)
      facts = facts.filter((each) => each.path !== fact.path && !each.path.startsWith(`${fact.path}.`));
    facts.push(fact);
  }
  const store = new FactStore();
  for (const { path, group, value } of facts) {
    if (!group) store.set(path, value);
    else if (value instanceof Unseen || value instanceof Absent) store.setGroup(path, value);
    else throw new Error(`a case gives the group ${path} a value`);
  }
  return store;
}

/** Runs the cases of a rule; gives what did not come out. A rule with `settledBy` must have a case that it settles. */
export function runCases(rule: LoadedRule, file: string): RuleProblem[] {
  const problems: RuleProblem[] = [];
  let settled = false;
  for (const each of rule.cases) {
    const report = (message: string, expected: string): void => {
      problems.push({
        file,
        line: each.line,
        column: each.column,
        message: `case "${each.name}": ${message}`,
        expected,
      });
    };
    const result = judgeRule(rule, caseStore(each.facts));
    settled ||= result.settled;
    if (result.outcome !== each.expect) {
      const lacks = result.missing.map((missing) => missing.fact).join(', ');
      report(`the rule gives ${result.outcome}${lacks ? `, for lack of ${lacks}` : ''}`, each.expect);
    } else if (each.hazard && result.hazard !== each.hazard)
      report(`the hazard is ${result.hazard}`, each.hazard);
    if (!each.mend) continue;
    const mended = judgeRule(rule, caseStore(each.facts, each.mend));
    if (mended.outcome !== 'holds') report(`with its mend the rule gives ${mended.outcome}`, 'holds');
  }
  if (rule.settledBy && !settled)
    problems.push({
      file,
      line: 1,
      column: 1,
      message: `no case shows what settledBy of ${rule.id} settles`,
      expected: 'a case that holds only by settledBy',
    });
  return problems;
}
