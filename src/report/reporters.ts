import type { Rule } from '../rules/rule.js';
import type { Report } from './report.js';
import type { ReportStream } from './stream.js';
import type { Summary } from './summary.js';

/** How a report is to be written. Width, colour and system are for the text for people only. */
export interface ReportOptions {
  /** Characters in a line. */
  width: number;
  color: boolean;
  /** Also list the rules that hold and those that do not apply. */
  verbose: boolean;
  /** Show the steps for this system only; all when left out. */
  system?: 'windows' | 'macos' | 'linux';
  /** The rules of this run, for a form that describes them; left out, it says of them what the findings say. */
  rules?: readonly Rule[];
}

/** Turns a report into text that ends with a line break. It reads nothing but the report. */
export interface Reporter {
  (report: Report | Summary, options: ReportOptions): string;
  /** Writes a summary report by report; without it, all reports are held until the last one is there. */
  readonly stream?: (options: ReportOptions) => ReportStream;
}

/** Every form of report by its name on the command line, loaded when it is asked for. */
export const reporters: Readonly<Record<string, () => Promise<Reporter>>> = {
  text: async () => (await import('./text.js')).textReport,
  json: async () => (await import('./json.js')).jsonReport,
  sarif: async () => (await import('./sarif.js')).sarifReport,
  junit: async () => (await import('./junit.js')).junitReport,
  html: async () => (await import('./html/page.js')).htmlReport,
};

/** Loads a form of report by its name. Throws when there is none of that name. */
export async function reporterOf(kind: string): Promise<Reporter> {
  const load = Object.hasOwn(reporters, kind) ? reporters[kind] : undefined;
  if (!load) throw new Error(`no report of the form ${kind}`);
  return load();
}
