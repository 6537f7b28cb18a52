import { Chalk, type ChalkInstance } from 'chalk';
import type { Hazard } from '../rules/rule.js';
import { visible } from '../rules/visible.js';
import { culpritOf, mendOrder } from './blame.js';
import { buildTable } from './build-table.js';
import { cardStrip, stripText } from './card-strip.js';
import { guideOf } from './guide.js';
import { hazardText, releaseHazardText } from './hazard-words.js';
import { keystoneText } from './keystone-words.js';
import { openCauses } from './open-causes.js';
import type { Finding, RemedyText, Report } from './report.js';
import type { Reporter, ReportOptions } from './reporters.js';
import { type ReportStream, type SummaryEnd, streaming } from './stream.js';
import { statedText, systemWords, targetText } from './target-words.js';
import { countsText, verdictWords } from './verdict-words.js';
import { waysToSettle } from './ways-to-settle.js';
import { reflow, sentence, wrap } from './wrap.js';

/** The report for people: the verdict and what to do first, everything else after it. */
export const textReport: Reporter = streaming(
  (report, options) => pageText(report, options),
  (options) => new TextStream(options),
);

const pageText = (report: Report, options: ReportOptions): string =>
  `${new Page(report, options).lines().join('\n')}\n`;

const shortWords = { fit: 'fit', refused: 'refused', 'not-proven': 'not proven' } as const;

/** One page after the other, and at last one line for each target. */
class TextStream implements ReportStream {
  private readonly results: { path: string; result: string }[] = [];

  constructor(private readonly options: ReportOptions) {}

  begin(): string {
    return '';
  }

  next(report: Report): string {
    this.results.push({ path: report.target.path, result: shortWords[report.verdict] });
    return `${pageText(report, this.options)}\n${'-'.repeat(40)}\n\n`;
  }

  end({ unchecked, files = [] }: SummaryEnd): string {
    for (const { path, verdict, file } of files)
      this.results.push({ path: `${path} (${file})`, result: shortWords[verdict] });
    // The reason often begins with the path, and it was told once on standard error.
    for (const { path, text } of unchecked)
      this.results.push({
        path: text.startsWith(path) ? text : `${path}: ${text}`,
        result: 'not checked',
      });
    const { bold } = new Chalk({ level: this.options.color ? 1 : 0 });
    const count = this.results.length;
    const lines = [bold(`${count} ${count === 1 ? 'target' : 'targets'}:`)];
    for (const { path, result } of this.results)
      lines.push(...wrap(visible(path), this.options.width, `  ${result.padEnd(12)}`));
    const counts = [...Object.values(shortWords), 'not checked'].map(
      (word) => `${this.results.filter(({ result }) => result === word).length} ${word}`,
    );
    lines.push('', `${counts.join(', ')}.`);
    return `${lines.join('\n')}\n`;
  }
}

/** Writes one report. Indents: 0 for headings, 2 for items, 5 for what belongs to an item. */
class Page {
  private readonly out: string[] = [];
  private readonly paint: ChalkInstance;
  private readonly width: number;
  /** Steps that were printed already, and the number of the fault that they stand under. */
  private readonly printed = new Map<string, number>();

  constructor(
    private readonly report: Report,
    private readonly options: ReportOptions,
  ) {
    this.paint = new Chalk({ level: options.color ? 1 : 0 });
    // Below forty characters wrapping only makes it worse.
    this.width = Math.max(40, options.width);
  }

  lines(): string[] {
    const { findings } = this.report;
    const failed = findings.filter(({ outcome }) => outcome === 'failed');
    const judged = ({ hazard }: Finding): boolean => hazard !== 'advice';
    this.verdict();
    this.head();
    this.provisos();
    this.guide();
    this.failed(mendOrder(failed.filter(judged)));
    this.strip();
    this.notJudged(findings.filter((finding) => finding.outcome === 'unknown' && judged(finding)));
    this.keystones();
    this.builds();
    this.ways();
    this.waived(findings.filter(({ outcome }) => outcome === 'waived'));
    this.advice(failed.filter((finding) => !judged(finding)));
    if (this.options.verbose) this.others();
    this.silent();
    this.out.push('');
    this.add(countsText(this.report));
    return this.out;
  }

  private verdict(): void {
    const { headline, waivers, sentences } = verdictWords(this.report);
    const color = { fit: this.paint.green, refused: this.paint.red, 'not-proven': this.paint.yellow };
    this.heading(headline + waivers, color[this.report.verdict]);
    for (const each of sentences) this.add(each);
    this.out.push('');
  }

  /** Which build is for which machine: what a maintainer compares with what was meant. */
  private builds(): void {
    const lines = this.report.target.kind === 'release' ? buildTable(this.report, this.width) : [];
    if (lines.length === 0) return;
    this.section('Which build is for which machine');
    for (const line of lines) this.out.push(visible(line));
  }

  private risk(hazard: Hazard): string {
    return this.report.target.kind === 'release' ? releaseHazardText(hazard) : hazardText(hazard);
  }

  private head(): void {
    const { target, board, stated, inputs } = this.report;
    this.entry('Checked', `${visible(target.path)} (${targetText(target)})`);
    this.entry(
      'Board',
      board
        ? `${visible(board.title)} (profile ${visible(board.id)}, revision ${board.revision})`
        : 'no board profile was given; say which board it is with --board',
    );
    if (this.options.verbose)
      for (const { role, path, sha256 } of inputs)
        this.entry('Read', `${role} ${visible(path)}, SHA-256 ${sha256}`);
    for (const each of stated) if (each.text !== '') this.entry('You said', visible(statedText(each)));
  }

  private provisos(): void {
    const { provided, verdict } = this.report;
    if (verdict !== 'fit' || provided.length === 0) return;
    this.section(
      this.report.target.kind === 'staging' ? 'These files are fit, provided that:' : 'Fit, provided that:',
    );
    for (const { text } of provided) this.add(reflow(text), '  - ');
    const { target } = this.report;
    const again = this.options.line?.(target.path, ['reinserted']);
    const shows = target.kind !== 'staging' && target.view === 'cached' && !this.said('media.reinserted');
    if (again !== undefined && shows) this.add(`To check it once more, type:\n    ${again}`, '    ');
  }

  private said(fact: string): boolean {
    return this.report.stated.some((each) => each.fact === fact);
  }

  /** What to do at the machine and what will be seen there: worth reading only when the card may be put in. */
  private guide(): void {
    const { verdict, target } = this.report;
    const isCard = target.kind !== 'staging' && target.kind !== 'release';
    const guide = verdict === 'fit' && isCard ? guideOf(this.report) : null;
    if (guide === null) return;
    if (guide.steps.length > 0) {
      this.section('At the machine');
      for (const [at, step] of guide.steps.entries()) this.add(visible(step), `  ${at + 1}. `);
    }
    if (guide.signs.length > 0) {
      this.section('What you will see');
      for (const { after, sees, means } of guide.signs)
        this.add(`${visible(after)}: ${visible(sees)} - ${visible(means)}`, '  - ');
    }
    if (guide.wayBack !== null) {
      this.section('If it fails');
      this.add(visible(guide.wayBack), '  ');
    }
  }

  private failed(findings: readonly Finding[]): void {
    if (findings.length === 0) return;
    this.section(
      findings.length === 1
        ? 'What is not as it must be'
        : `What is not as it must be: ${findings.length} faults, in the order in which to mend them`,
    );
    findings.forEach((finding, index) => {
      if (index > 0) this.out.push('');
      const number = `${index + 1}. `.padStart(5);
      const title = wrap(`${finding.title} [${finding.rule}]`, this.width, number);
      this.out.push(...title.map((line) => this.paint.bold(line)));
      this.measured(finding);
      this.detail('Why', reflow(finding.why));
      this.detail('Risk', this.risk(finding.hazard));
      this.remedy(finding, index + 1);
    });
  }

  private measured(finding: Finding): void {
    this.detail('Found', reflow(finding.found));
    const { shown = [], total = shown.length, where } = finding;
    for (const offender of shown) this.add(offender, `${' '.repeat(14)}- `);
    if (total > shown.length) this.add(`and ${total - shown.length} more`, `${' '.repeat(14)}- `);
    this.detail('Needed', reflow(finding.needed));
    if (where && (where.path !== undefined || where.offset !== undefined)) {
      const at = where.offset === undefined ? [] : [`byte ${where.offset} (0x${where.offset.toString(16)})`];
      this.detail('Where', [...(where.path === undefined ? [] : [visible(where.path)]), ...at].join(', '));
    }
  }

  private remedy(finding: Finding, number: number): void {
    const { system } = this.options;
    const steps = finding.remedy.filter((step) => !system || step.system === 'any' || step.system === system);
    const hidden = finding.remedy.length - steps.length;
    if (steps.length > 0) {
      const key = JSON.stringify(steps);
      const before = this.printed.get(key);
      if (before !== undefined) this.detail('Do this', `the same as for fault ${before}`);
      else {
        this.printed.set(key, number);
        this.out.push('     Do this:');
        for (const step of steps) this.step(step, finding.remedy.length > 1);
      }
    }
    if (hidden > 0) this.add(`Steps for other systems: flashworthy explain ${finding.rule}`, '     ');
  }

  private step(step: RemedyText, named: boolean): void {
    const rights = step.rights === 'administrator' ? 'as an administrator' : 'no administrator rights needed';
    if (named) this.add(`${systemWords[step.system]}, ${rights}:`, '       ');
    if (step.erases) this.add('THIS ERASES THE CARD.', '       ', this.paint.red.bold);
    this.add(step.do, '         ');
  }

  /** The card drawn as one line, where that helps to understand a fault, or when everything is asked for. */
  private strip(): void {
    const { verdict, findings } = this.report;
    const helps = findings.some(
      ({ rule, outcome, hazard }) =>
        outcome === 'failed' && hazard !== 'advice' && culpritOf(rule) === 'card',
    );
    if (!this.options.verbose && (verdict === 'fit' || !helps)) return;
    const segments = cardStrip(this.report);
    const lines = segments === null ? [] : stripText(segments, this.width);
    if (lines.length === 0) return;
    this.section('The card from its first byte to its last (not to scale)');
    for (const line of lines) this.out.push(visible(line));
  }

  /** One entry a cause, however many rules wait for it. */
  private notJudged(findings: readonly Finding[]): void {
    if (findings.length === 0) return;
    this.section('What could not be judged');
    for (const { text, settle, rules } of openCauses(findings)) {
      this.add(sentence(reflow(text)), '  - ');
      if (settle) this.add(reflow(settle), '    To settle it: ', undefined, ' '.repeat(6));
      const waiting =
        rules.length > 3 ? `${rules.slice(0, 3).join(', ')} and ${rules.length - 3} more` : rules.join(', ');
      this.add(waiting, `    ${rules.length === 1 ? 'Rule' : 'Rules'}: `, undefined, ' '.repeat(6));
    }
  }

  private keystones(): void {
    const { keystonesMissing, verdict } = this.report;
    if (verdict !== 'not-proven' || keystonesMissing.length === 0) return;
    this.section('It could not be shown that');
    for (const name of keystonesMissing) this.add(keystoneText(name), '  - ');
  }

  /** What a mounted folder does not show can be found out in other ways. */
  private ways(): void {
    const ways = waysToSettle(this.report, this.options);
    if (ways.length === 0) return;
    this.section(
      `A mounted folder does not show all of a card. ${ways.length === 2 ? 'Two' : 'Three'} ways to find out the rest, the easiest first:`,
    );
    for (const [at, { title, erases, steps }] of ways.entries()) {
      this.add(visible(title), `  ${at + 1}. `);
      if (erases) this.add('THIS ERASES THE CARD.', '     ', this.paint.red.bold);
      this.add(steps, '     ');
    }
  }

  private waived(findings: readonly Finding[]): void {
    if (findings.length === 0) return;
    this.section('Waived: these rules failed, and the board profile says that they may');
    for (const { rule, title, found, because } of findings) {
      this.add(`${title} [${rule}]: ${reflow(found)}`, '  - ');
      if (because) this.add(reflow(because), '    ');
    }
  }

  private advice(findings: readonly Finding[]): void {
    if (findings.length === 0) return;
    this.section('Worth knowing; it does not change the verdict');
    for (const finding of findings) {
      this.add(`${finding.title} [${finding.rule}]: ${reflow(finding.found)}`, '  - ');
      for (const offender of finding.shown ?? []) this.add(offender, '      - ');
    }
  }

  private others(): void {
    const words = { holds: 'What holds', 'not-applicable': 'What does not apply' } as const;
    for (const outcome of ['holds', 'not-applicable'] as const) {
      const findings = this.report.findings.filter((finding) => finding.outcome === outcome);
      if (findings.length > 0) this.section(words[outcome]);
      for (const { rule, title, found, because } of findings) {
        const more = because ?? (outcome === 'holds' ? found : '');
        this.add(`${title} [${rule}]${more === '' ? '' : `: ${reflow(more)}`}`, '  - ');
      }
    }
  }

  private silent(): void {
    const { coverage, board } = this.report;
    const all = [
      ...coverage.coreSilent,
      ...coverage.silent.filter((key) => !coverage.coreSilent.includes(key)),
    ];
    if (board === null || all.length === 0) return;
    this.out.push('');
    const list =
      this.options.verbose || all.length <= 12 ? all : [...all.slice(0, 12), `and ${all.length - 12} more`];
    this.add(`This profile does not say: ${list.join(', ')}.`, '', undefined, '  ');
  }

  private heading(text: string, color: (text: string) => string): void {
    for (const line of wrap(text, this.width)) this.out.push(this.paint.bold(color(line)));
  }

  private section(title: string): void {
    this.out.push('');
    for (const line of wrap(title, this.width)) this.out.push(this.paint.bold(line));
  }

  private entry(name: string, text: string): void {
    this.add(text, `${name}:`.padEnd(10));
  }

  private detail(name: string, text: string): void {
    if (text !== '') this.add(text, `     ${`${name}:`.padEnd(9)}`);
  }

  private add(text: string, first = '', color?: (text: string) => string, rest?: string): void {
    // The last gate before a terminal: whatever text came from the card, no line holds a control character.
    for (const line of wrap(text, this.width, first, rest).map(visible))
      this.out.push(color ? color(line) : line);
  }
}
