/** From findings to the one word that an owner acts on. */
import type { Finding, Verdict } from '../report/report.js';
import { type Hazard, hazards, type Keystone, type Rule } from './rule.js';
import { keystonesOf, type RuleSubject } from './subject.js';

export interface VerdictResult {
  readonly verdict: Verdict;
  /** The worst hazard that failed; null when none above advice did. */
  readonly hazard: Hazard | null;
  /** Keystones that do not hold, when nothing else keeps the verdict from `fit`; else empty. */
  readonly keystonesMissing: Keystone[];
}

/**
 * `refused` when a rule failed; else `not-proven` when one is unknown, or when a keystone is not carried by a rule
 * or one of the rules that carry it does not hold (waived and not applicable do not count as holding); else `fit`.
 * Rules whose hazard is advice never count. What is judged says which keystones there are. `rules` are all rules that were judged: a rule without a finding does
 * not hold, so no finding can get lost on the way to `fit`.
 */
export function verdict(
  findings: readonly Finding[],
  rules: readonly Rule[],
  subject: RuleSubject = 'card',
): VerdictResult {
  const weighty = findings.filter((each) => each.hazard !== 'advice');
  const failed = weighty.filter((each) => each.outcome === 'failed').map((each) => each.hazard);
  if (failed.length > 0) {
    const worst = hazards.find((hazard) => failed.includes(hazard));
    return { verdict: 'refused', hazard: worst ?? null, keystonesMissing: [] };
  }
  if (weighty.some((each) => each.outcome === 'unknown'))
    return { verdict: 'not-proven', hazard: null, keystonesMissing: [] };
  const keystonesMissing = keystonesOf(subject).filter((keystone) => {
    const carriers = rules.filter((rule) => rule.keystone === keystone);
    return !(
      carriers.length > 0 &&
      carriers.every((rule) => {
        const own = findings.filter((each) => each.rule === rule.id);
        return own.length > 0 && own.every((each) => each.outcome === 'holds');
      })
    );
  });
  return {
    verdict: keystonesMissing.length > 0 ? 'not-proven' : 'fit',
    hazard: null,
    keystonesMissing,
  };
}
