import type { Finding, Report } from './report.js';
import type { Reporter } from './reporters.js';
import { type ReportStream, type SummaryEnd, streaming } from './stream.js';
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
/**
 * `flashworthy-report/1` or `flashworthy-summary/1` as JSON, indented by two, keys always in the same order. Of a
 * summary the verdict comes last, since it is known last.
 */
export const jsonReport: Reporter = streaming(
  (report) => jsonText(orderedReport(report)),
  () => new JsonStream(),
);

class JsonStream implements ReportStream {
  private count = 0;

  begin(tool: Summary['tool']): string {
    const head = [`"schema": "flashworthy-summary/1"`, `"tool": ${jsonPart(tool, 2)}`];
    return `{\n  ${head.join(',\n  ')},\n  "reports": [`;
  }

  next(report: Report): string {
    this.count++;
    return `${this.count > 1 ? ',' : ''}\n    ${jsonPart(orderedReport(report), 4)}`;
  }

  end({ files, unchecked, verdict }: SummaryEnd): string {
    const tail = [
      ...(files === undefined ? [] : [`"files": ${jsonPart(files, 2)}`]),
      `"unchecked": ${jsonPart(unchecked, 2)}`,
      `"verdict": ${jsonPart(verdict, 2)}`,
    ];
    return `${this.count > 0 ? '\n  ' : ''}],\n  ${tail.join(',\n  ')}\n}\n`;
  }
}

/** The same as a part of a larger text whose lines are indented by so many blanks; without a line break at the end. */
export const jsonPart = (value: unknown, indent: number): string =>
  jsonText(value)
    .trimEnd()
    .replaceAll('\n', `\n${' '.repeat(indent)}`);

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
