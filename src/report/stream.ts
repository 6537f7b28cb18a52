import type { Report } from './report.js';
import type { Reporter, ReportOptions } from './reporters.js';
import type { Summary } from './summary.js';

/** What stands behind the reports of a summary. */
export type SummaryEnd = Omit<Summary, 'schema' | 'tool' | 'reports'>;

/**
 * A summary written piece by piece, so that no more than one report is held however many cards there are. The pieces
 * one after the other are the whole text.
 */
export interface ReportStream {
  begin(tool: Summary['tool']): string;
  next(report: Report): string;
  end(rest: SummaryEnd): string;
}

/** A reporter that writes summaries piece by piece, from how it writes one report and how it writes several. */
export function streaming(
  one: (report: Report, options: ReportOptions) => string,
  stream: (options: ReportOptions) => ReportStream,
): Reporter {
  const whole = (report: Report | Summary, options: ReportOptions): string => {
    if (report.schema === 'flashworthy-report/1') return one(report, options);
    const { tool, reports, ...rest } = report;
    return wholeText(stream(options), tool, reports, rest);
  };
  return Object.assign(whole, { stream });
}

/** All pieces of a stream at once. */
export const wholeText = (
  stream: ReportStream,
  tool: Summary['tool'],
  reports: readonly Report[],
  rest: SummaryEnd,
): string => [stream.begin(tool), ...reports.map((each) => stream.next(each)), stream.end(rest)].join('');
