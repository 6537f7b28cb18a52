/** The core: from bytes to a verdict, with neither Node nor a browser. */

export { type Manifest, ManifestError, readManifest } from '../board/manifest.js';
export type { Profile } from '../board/profile.js';
export { ProfileError, readProfile } from '../board/read.js';
export { type ByteSource, MemorySource, type ReadCause, ReadProblem } from '../bytes/byte-source.js';
export type { Digest, Digests } from '../bytes/digests.js';
export { Absent, FactList, type FactValue, Unseen } from '../facts/fact.js';
export { FactStore } from '../facts/fact-store.js';
export { factSchema } from '../facts/schema.js';
export { type Machine, machineFromOptions } from '../machine/machine.js';
export type { Finding, Report, Verdict } from '../report/report.js';
export { type Reporter, type ReportOptions, reporterOf, reporters } from '../report/reporters.js';
export { type Summary, summarise, type Unchecked } from '../report/summary.js';
export type { Waiver } from '../rules/judge.js';
export type { Rule, RuleSet } from '../rules/rule.js';
export { type CheckOptions, check, judge } from './check.js';
export { collectFacts as inspect, type Subject, type Target } from './collect.js';
