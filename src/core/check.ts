import { releaseNumbering } from '../board/check.js';
import { coverage } from '../board/coverage.js';
import type { Profile } from '../board/profile.js';
import { compareValues, valueProblem } from '../board/ranges.js';
import type { FactStore } from '../facts/fact-store.js';
import type { Report } from '../report/report.js';
import { type JudgeOptions, judge as judgeRules, type Waiver } from '../rules/judge.js';
import type { RuleSet } from '../rules/rule.js';
import { rulesAbout } from '../rules/subject.js';
import { verdict } from '../rules/verdict.js';
import { collectFacts, type Subject } from './collect.js';
import { measuredPart } from './facts-json.js';

/** How a subject is judged and reported. */
export interface CheckOptions {
  readonly ruleSet: RuleSet;
  /** Waivers of the board profile, compiled; left out, none are used. */
  readonly waivers?: readonly Waiver[];
  readonly useWaivers?: boolean;
  /** Whether a release is past; left out, the release of the manifest tells. */
  readonly isPast?: JudgeOptions['isPast'];
  /** Version of flashworthy; left out, the one that its rules came with. */
  readonly version?: string;
  /** Files that the verdict rests on besides the target: profile, manifest, record. */
  readonly inputs?: Report['inputs'];
  /** True when long lists of facts are not cut. */
  readonly allFacts?: boolean;
}

/** Collects facts, judges them, and says the verdict. Throws only for our own bugs. */
export function check(subject: Subject, options: CheckOptions): Report {
  return judge(collectFacts(subject), subject, options);
}

/** Whether a release lies behind another one; undefined when nobody can tell. */
export function isReleasePast(profile: Profile, release: string, until: string): boolean | undefined {
  const numbering = releaseNumbering(profile);
  if (valueProblem(release, numbering) !== undefined || valueProblem(until, numbering) !== undefined)
    return undefined;
  return compareValues(release, until, numbering) > 0;
}

/** Judges the facts of a subject, and says the verdict. Throws only for our own bugs. */
export function judge(store: FactStore, subject: Subject, options: CheckOptions): Report {
  const { target, profile, manifest } = subject;
  const ruleSet = rulesAbout('card', options.ruleSet);
  const isPast = (until: string): boolean | undefined =>
    profile === null || !manifest ? undefined : isReleasePast(profile, manifest.release, until);
  const judgement = judgeRules(store, ruleSet, { isPast, ...options });
  const result = verdict(judgement.findings, ruleSet.rules);
  return {
    schema: 'flashworthy-report/1',
    tool: { name: 'flashworthy', version: options.version ?? ruleSet.version },
    target: { path: target.path, kind: target.kind, view: target.view, bytes: target.bytes },
    board: profile === null ? null : { id: profile.id, title: profile.title, revision: profile.revision },
    inputs: [...(options.inputs ?? [])],
    rules: { version: ruleSet.version, sha256: ruleSet.sha256 },
    ...result,
    // What the owner must ensure is said with a `fit`; with another verdict it would only distract.
    provided: result.verdict === 'fit' ? judgement.provided : [],
    findings: judgement.findings,
    counts: judgement.counts,
    coverage: profile === null ? { silent: [], coreSilent: [] } : coverage(profile),
    ...measuredPart(store, options.allFacts ?? false),
  };
}
