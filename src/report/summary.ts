import type { Report, Verdict } from './report.js';

/** A target that could not be checked at all. */
export interface Unchecked {
  path: string;
  /** Exit code that it alone would have given: 64, 66 or 70. */
  exit: number;
  /** A plain sentence. */
  text: string;
}

/** `flashworthy-summary/1`: several targets checked in one run, in the order in which they were given. */
export interface Summary {
  schema: 'flashworthy-summary/1';
  tool: { name: 'flashworthy'; version: string };
  /** The worst of all verdicts; `not-proven` at best when a target could not be checked. */
  verdict: Verdict;
  reports: Report[];
  unchecked: Unchecked[];
}

/** Puts the reports of several targets together. */
export function summarise(version: string, reports: Report[], unchecked: Unchecked[]): Summary {
  const has = (verdict: Verdict): boolean => reports.some((report) => report.verdict === verdict);
  const verdict = has('refused')
    ? 'refused'
    : has('not-proven') || unchecked.length > 0 || reports.length === 0
      ? 'not-proven'
      : 'fit';
  return {
    schema: 'flashworthy-summary/1',
    tool: { name: 'flashworthy', version },
    verdict,
    reports,
    unchecked,
  };
}
