import type { UnseenCause } from '../facts/fact.js';
import type { Hazard, MissingFact, Outcome, Source } from '../rules/rule.js';

export type Verdict = 'fit' | 'refused' | 'not-proven';

/** One step of a remedy, with sizes and names filled in. */
export interface RemedyText {
  system: 'windows' | 'macos' | 'linux' | 'any';
  rights: 'none' | 'administrator';
  erases: boolean;
  do: string;
}

export interface Finding {
  rule: string;
  outcome: Outcome;
  /** The hazard that applies here; of a guard that cannot be decided, the worst. */
  hazard: Hazard;
  keystone?: string;
  title: string;
  found: string;
  needed: string;
  why: string;
  remedy: RemedyText[];
  /** Plain words: the rule or the waiver that explains this outcome, or the owner's word that settled it. */
  because?: string;
  where?: { path?: string; offset?: number; length?: number };
  /** Offenders, capped at `limits.listed`. */
  shown?: string[];
  /** All offenders. */
  total?: number;
  missing?: MissingFact[];
  sources: Source[];
}

export type Json = boolean | number | string | null | Json[] | { [key: string]: Json };

/** What the owner said on the command line, printed as such. */
export interface Stated {
  fact: string;
  text: string;
}

/** `flashworthy-report/1`: everything that one check says. Reporters turn it into text and read nothing else. */
export interface Report {
  schema: 'flashworthy-report/1';
  tool: { name: 'flashworthy'; version: string };
  target: {
    path: string;
    kind: 'image' | 'device' | 'folder' | 'staging' | 'release';
    view: 'medium' | 'cached';
    bytes: number | null;
  };
  board: { id: string; title: string; revision: number } | null;
  inputs: { role: string; path: string; sha256: string }[];
  rules: { version: string; sha256: string };
  verdict: Verdict;
  /** The worst hazard that failed. */
  hazard: Hazard | null;
  /** Set when the verdict is `not-proven` and no rule is unknown: the keystones that do not hold. */
  keystonesMissing: string[];
  provided: { id: string; text: string }[];
  stated: Stated[];
  findings: Finding[];
  counts: { holds: number; failed: number; unknown: number; notApplicable: number; waived: number };
  coverage: { silent: string[]; coreSilent: string[] };
  facts: { [key: string]: Json };
  /** Number of files on the volume, when `facts.files` is capped; null when not known. */
  filesTotal: number | null;
  unseen: { [path: string]: { cause: UnseenCause; text: string; settle?: string } };
  absent: string[];
}
