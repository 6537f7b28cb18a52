import type { Report, Verdict } from './report.js';

/** A target that could not be checked at all. */
export interface Unchecked {
  path: string;
  /** Exit code that it alone would have given: 64, 66 or 70. */
  exit: number;
  /** A plain sentence. */
  text: string;
}

/** A report that stands in a file of its own. */
export interface ReportFile {
  /** The target, as it was given. */
  path: string;
  verdict: Verdict;
  hazard: Report['hazard'];
  /** Name of the report's file, in the folder of the summary. */
  file: string;
}

/** `flashworthy-summary/1`: several targets checked in one run, in the order in which they were given. */
export interface Summary {
  schema: 'flashworthy-summary/1';
  tool: { name: 'flashworthy'; version: string };
  /** The worst of all verdicts; `not-proven` at best when a target could not be checked. */
  verdict: Verdict;
  reports: Report[];
  /** Set in place of `reports` when each report has a file of its own. */
  files?: ReportFile[];
  unchecked: Unchecked[];
}

/** The verdict over several targets. */
export function worstVerdict(verdicts: ReadonlySet<Verdict>, unchecked: readonly Unchecked[]): Verdict {
  if (verdicts.has('refused')) return 'refused';
  return verdicts.has('not-proven') || unchecked.length > 0 || verdicts.size === 0 ? 'not-proven' : 'fit';
}

/** Puts the reports of several targets together. */
export function summarise(version: string, reports: Report[], unchecked: Unchecked[]): Summary {
  return {
    schema: 'flashworthy-summary/1',
    tool: { name: 'flashworthy', version },
    verdict: worstVerdict(new Set(reports.map(({ verdict }) => verdict)), unchecked),
    reports,
    unchecked,
  };
}
