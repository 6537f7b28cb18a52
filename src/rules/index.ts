/**
 * What judging needs at run time. Loading rule files and compiling expressions stand apart (`load.js`, `compile.js`),
 * so that a run with compiled rules loads neither the YAML parser nor the expression library.
 */
export {
  type Evaluated,
  type EvaluationContext,
  evaluate,
  expressionText,
  type Missing,
} from './evaluate.js';
export { type RuleFunction, ruleFunctions } from './functions.js';
export {
  type Judgement,
  type JudgeOptions,
  judge,
  judgeRule,
  type Proviso,
  type RuleResult,
  type Waiver,
  type WaiverUse,
} from './judge.js';
export * from './rule.js';
export { keystonesOf, type RuleSubject, rulesAbout, subjectOf } from './subject.js';
export { render } from './template.js';
export { type VerdictResult, verdict } from './verdict.js';
export { visible } from './visible.js';
