import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { errorText } from '../node/read-cause.js';
import { NewFile, WriteProblem, writeNewFile } from '../node/write-new-file.js';
import { jsonReport } from '../report/json.js';
import type { Report } from '../report/report.js';
import { type Reporter, type ReportOptions, reporterOf } from '../report/reporters.js';
import type { ReportStream } from '../report/stream.js';
import { type ReportFile, summarise, type Unchecked, worstVerdict } from '../report/summary.js';
import { CommandProblem, exitCodes } from './exit.js';
import { fileOptions, type OutputPlan } from './output.js';
import { summaryName } from './report-names.js';
import type { Surroundings } from './surroundings.js';

/** One place that the reports of a run go to. */
interface Sink {
  /** @param index place of the target among those of the run */
  add(report: Report, index: number): Promise<void>;
  end(unchecked: readonly Unchecked[]): Promise<void>;
  /** Leaves nothing behind of what is not finished. */
  abandon(): void;
}

/** Something that takes text bit by bit. */
interface Place {
  write(text: string): Promise<void>;
  commit(): void;
  abandon(): void;
}

/**
 * Takes the reports of a run as they come and writes them everywhere the plan says. A form that can be written bit by
 * bit is, so that thousands of cards need no more memory than one. A place that fails does not keep a report from the
 * others.
 */
export class ReportSinks {
  private readonly problems: string[] = [];

  private constructor(private readonly sinks: Sink[]) {}

  /** @param several false when there is one card, whose report is no summary */
  static async open(
    plan: OutputPlan,
    several: boolean,
    surroundings: Surroundings,
    options: ReportOptions,
  ): Promise<ReportSinks> {
    const { version } = surroundings;
    const sinks: Sink[] = [];
    const opened = new ReportSinks(sinks);
    const add = async (
      kind: string,
      how: ReportOptions,
      place: () => Place,
      isText: boolean,
    ): Promise<void> => {
      const reporter = await reporterOf(kind);
      await opened.attempt(async () => {
        if (several && reporter.stream)
          sinks.push(await StreamSink.open(reporter.stream(how), version, place()));
        else sinks.push(new WholeSink(reporter, how, version, several, place, isText));
      });
    };
    for (const { kind, file, names } of plan.more) {
      const how = fileOptions(options);
      if (names === undefined) await add(kind, how, () => filePlace(file, plan.force), false);
      else {
        const reporter = await reporterOf(kind);
        await opened.attempt(async () => {
          sinks.push(new FolderSink(reporter, how, version, file, names, plan.force));
        });
      }
    }
    const { file } = plan;
    if (file === undefined) await add(plan.kind, options, () => outPlace(surroundings), plan.kind === 'text');
    else await add(plan.kind, fileOptions(options), () => filePlace(file, plan.force), false);
    return opened;
  }

  async add(report: Report, index: number): Promise<void> {
    await this.each((sink) => sink.add(report, index));
  }

  /** Writes what is left. Ends the command with 74 when something could not be written. */
  async end(unchecked: readonly Unchecked[]): Promise<void> {
    await this.each((sink) => sink.end(unchecked));
    if (this.problems.length > 0) throw new CommandProblem(exitCodes.notWritten, this.problems.join('\n'));
  }

  /** Leaves nothing behind of what is not finished. */
  abandon(): void {
    for (const sink of this.sinks) sink.abandon();
  }

  private async each(work: (sink: Sink) => Promise<void>): Promise<void> {
    for (const sink of [...this.sinks]) {
      if (await this.attempt(() => work(sink))) continue;
      this.sinks.splice(this.sinks.indexOf(sink), 1);
      sink.abandon();
    }
  }

  private async attempt(work: () => Promise<void>): Promise<boolean> {
    try {
      await work();
      return true;
    } catch (error) {
      if (!(error instanceof WriteProblem || error instanceof CommandProblem)) throw error;
      this.problems.push(error.message);
      return false;
    }
  }
}

/** Everything at the end: one report, or a summary in a form that needs all reports together. */
class WholeSink implements Sink {
  private readonly reports: Report[] = [];

  constructor(
    private readonly reporter: Reporter,
    private readonly options: ReportOptions,
    private readonly version: string,
    private readonly several: boolean,
    private readonly place: () => Place,
    /** Text for people on standard output, where a note has told already why there is no report. */
    private readonly isText: boolean,
  ) {}

  async add(report: Report): Promise<void> {
    this.reports.push(report);
  }

  async end(unchecked: readonly Unchecked[]): Promise<void> {
    const [only] = this.reports;
    if (!this.several && !only && this.isText) return;
    // A file of an earlier run must not stay and pass for the report of a card that could not be checked.
    const output = !this.several && only ? only : summarise(this.version, this.reports, [...unchecked]);
    const place = this.place();
    try {
      await place.write(this.reporter(output, this.options));
      place.commit();
    } finally {
      place.abandon();
    }
  }

  abandon(): void {}
}

/** A summary that grows with each report. */
class StreamSink implements Sink {
  private readonly verdicts = new Set<Report['verdict']>();

  private constructor(
    private readonly stream: ReportStream,
    private readonly place: Place,
  ) {}

  static async open(stream: ReportStream, version: string, place: Place): Promise<StreamSink> {
    await place.write(stream.begin({ name: 'flashworthy', version }));
    return new StreamSink(stream, place);
  }

  async add(report: Report): Promise<void> {
    this.verdicts.add(report.verdict);
    await this.place.write(this.stream.next(report));
  }

  async end(unchecked: readonly Unchecked[]): Promise<void> {
    const verdict = worstVerdict(this.verdicts, unchecked);
    await this.place.write(this.stream.end({ verdict, unchecked: [...unchecked] }));
    this.place.commit();
  }

  abandon(): void {
    this.place.abandon();
  }
}

/** A file for each report, and one that says which is whose. */
class FolderSink implements Sink {
  private readonly files: ReportFile[] = [];
  private readonly problems: string[] = [];

  constructor(
    private readonly reporter: Reporter,
    private readonly options: ReportOptions,
    private readonly version: string,
    private readonly folder: string,
    private readonly names: readonly string[],
    private readonly force: boolean,
  ) {
    try {
      mkdirSync(folder);
    } catch (error) {
      if (!(error instanceof Error && 'code' in error && error.code === 'EEXIST'))
        throw new WriteProblem(`${folder} cannot be written: ${errorText(error)}`);
    }
  }

  async add(report: Report, index: number): Promise<void> {
    const file = this.names[index];
    if (file === undefined) throw new Error(`no name for the report of ${report.target.path}`);
    const { verdict, hazard, target } = report;
    try {
      writeNewFile(join(this.folder, file), this.reporter(report, this.options), this.force);
      this.files.push({ path: target.path, verdict, hazard, file });
    } catch (error) {
      // The other cards still get theirs.
      if (!(error instanceof WriteProblem)) throw error;
      this.problems.push(error.message);
    }
  }

  async end(unchecked: readonly Unchecked[]): Promise<void> {
    const { files, folder, version } = this;
    const verdict = worstVerdict(new Set(files.map((each) => each.verdict)), unchecked);
    const summary = { ...summarise(version, [], [...unchecked]), files, verdict };
    if (this.problems.length === 0)
      writeNewFile(join(folder, summaryName), jsonReport(summary, this.options), this.force);
    else throw new WriteProblem(this.problems.join('\n'));
  }

  abandon(): void {}
}

function filePlace(path: string, force: boolean): Place {
  const file = new NewFile(path, force);
  return {
    write: async (text) => file.append(text),
    commit: () => file.commit(),
    abandon: () => file.abandon(),
  };
}

const outPlace = ({ out }: Surroundings): Place => ({
  write: (text) => (text === '' ? Promise.resolve() : out(text)),
  commit: () => {},
  abandon: () => {},
});
