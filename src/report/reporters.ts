import type { Report } from './report.js';
import type { Summary } from './summary.js';

/** How a report is to be written. Only the text for people obeys it; the other forms are the same everywhere. */
export interface ReportOptions {
  /** Characters in a line. */
  width: number;
  color: boolean;
  /** Also list the rules that hold and those that do not apply. */
  verbose: boolean;
  /** Show the steps for this system only; all when left out. */
  system?: 'windows' | 'macos' | 'linux';
}

/** Turns a report into text that ends with a line break. It reads nothing but the report. */
export type Reporter = (report: Report | Summary, options: ReportOptions) => string;

/** Every form of report by its name on the command line, loaded when it is asked for. */
export const reporters: Readonly<Record<string, () => Promise<Reporter>>> = {
  text: async () => (await import('./text.js')).textReport,
  json: async () => (await import('./json.js')).jsonReport,
  html: async () => (await import('./html/page.js')).htmlReport,
};
