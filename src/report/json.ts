import type { Finding, Report } from './report.js';
import type { Reporter } from './reporters.js';
import type { Summary } from './summary.js';

/** Keys of a report in the order in which they are printed. */
const reportKeys: readonly (keyof Report)[] = [
  'schema',
  'tool',
  'target',
  'board',
  'inputs',
  'rules',
  'verdict',
  'hazard',
  'keystonesMissing',
  'provided',
  'stated',
  'findings',
  'counts',
  'coverage',
  'facts',
  'filesTotal',
  'unseen',
  'absent',
];
const findingKeys: readonly (keyof Finding)[] = [
  'rule',
  'outcome',
  'hazard',
  'keystone',
  'title',
  'found',
  'needed',
  'why',
  'remedy',
  'because',
  'where',
  'shown',
  'total',
  'missing',
  'sources',
];
const summaryKeys: readonly (keyof Summary)[] = ['schema', 'tool', 'verdict', 'reports', 'unchecked'];

/** `flashworthy-report/1` or `flashworthy-summary/1` as JSON, indented by two, keys always in the same order. */
export const jsonReport: Reporter = (report) =>
  jsonText(report.schema === 'flashworthy-summary/1' ? orderedSummary(report) : orderedReport(report));

/**
 * JSON that may be printed on a terminal: control, bidirectional and invisible characters, which come from names on
 * a stranger's card, stand as escapes. The data are the same.
 */
export function jsonText(value: unknown): string {
  const text = JSON.stringify(value, null, 2).replace(/[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/gu, (character) =>
    character === '\n' ? character : escapes(character),
  );
  return `${text}\n`;
}

function escapes(character: string): string {
  let text = '';
  for (let at = 0; at < character.length; at++)
    text += `\\u${character.charCodeAt(at).toString(16).padStart(4, '0')}`;
  return text;
}

const orderedSummary = (summary: Summary): object => ({
  ...inOrder(summary, summaryKeys),
  reports: summary.reports.map(orderedReport),
});

const orderedReport = (report: Report): object => ({
  ...inOrder(report, reportKeys),
  findings: report.findings.map((finding) => inOrder(finding, findingKeys)),
});

/** The object with its keys in this order; those that are left out stay left out. */
function inOrder<T extends object>(value: T, keys: readonly (keyof T)[]): Partial<T> {
  const ordered: Partial<T> = {};
  for (const key of keys) if (value[key] !== undefined) ordered[key] = value[key];
  return ordered;
}
