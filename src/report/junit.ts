/** JUnit XML, as every build server reads it: valid for both schemas in use, that of Ant and that of Jenkins. */
import { visible } from '../rules/visible.js';
import { findingDetails, findingLine, inLine } from './finding-text.js';
import { notProvenLines, notProvenRule, notProvenTitle } from './not-proven.js';
import type { Finding, Report } from './report.js';
import type { Reporter } from './reporters.js';
import { type ReportStream, type SummaryEnd, streaming, wholeText } from './stream.js';
import type { Unchecked } from './summary.js';

/** The schema of Ant demands a time. Nothing in a report depends on the time, so it is always this one. */
const noTime = '1970-01-01T00:00:00';

/**
 * One suite for each card, one test for each rule that applies to it. A rule that failed is a failure, one that could
 * not be judged an error, so that both are red; advice is neither. What does not apply is no test: only one of the two
 * schemas knows tests that were skipped.
 */
export const junitReport: Reporter = streaming(
  (report) => wholeText(new JunitStream(), report.tool, [report], { verdict: report.verdict, unchecked: [] }),
  () => new JunitStream(),
);

interface Test {
  readonly group: string;
  readonly name: string;
  /** Why it is red; null when it is not. */
  readonly red: { readonly tag: 'failure' | 'error'; readonly type: string; readonly text: string } | null;
}

class JunitStream implements ReportStream {
  private suites = 0;

  begin(): string {
    return '<?xml version="1.0" encoding="UTF-8"?>\n<testsuites>\n';
  }

  next(report: Report): string {
    return this.suite(report.target.path, propertiesOf(report), testsOf(report), remarksOf(report));
  }

  end({ unchecked }: SummaryEnd): string {
    return `${unchecked.map((each) => this.notChecked(each)).join('')}</testsuites>\n`;
  }

  private notChecked({ path, exit, text }: Unchecked): string {
    const red = { tag: 'error', type: 'not-checked', text: visible(text) } as const;
    return this.suite(path, { exit: String(exit) }, [{ group: 'verdict', name: 'Checked', red }], []);
  }

  private suite(
    path: string,
    properties: Readonly<Record<string, string>>,
    tests: readonly Test[],
    remarks: readonly string[],
  ): string {
    const count = (tag: string): number => tests.filter(({ red }) => red?.tag === tag).length;
    const name = attribute(visible(path));
    return [
      `  <testsuite name="${name}" package="flashworthy" id="${this.suites++}" timestamp="${noTime}" hostname="localhost" tests="${tests.length}" failures="${count('failure')}" errors="${count('error')}" time="0">`,
      '    <properties>',
      ...Object.entries(properties).map(
        ([key, value]) => `      <property name="${key}" value="${attribute(value)}"/>`,
      ),
      '    </properties>',
      ...tests.flatMap((test) => testLines(test, name)),
      `    <system-out>${content(remarks.join('\n'))}</system-out>`,
      '    <system-err></system-err>',
      '  </testsuite>\n',
    ].join('\n');
  }
}

/** The card stands in the class, or build servers take the tests of several cards for one. */
function testLines({ group, name, red }: Test, card: string): string[] {
  const open = `    <testcase classname="${card}.${attribute(group)}" name="${attribute(name)}" time="0"`;
  if (red === null) return [`${open}/>`];
  const [first = '', ...rest] = red.text.split('\n');
  return [
    `${open}>`,
    `      <${red.tag} type="${attribute(red.type)}" message="${attribute(first)}">${content([first, ...rest].join('\n'))}</${red.tag}>`,
    '    </testcase>',
  ];
}

function testsOf(report: Report): Test[] {
  const tests = report.findings.filter(({ outcome }) => outcome !== 'not-applicable').map(testOf);
  // However it came about: what is not fit is never all green.
  if (report.verdict !== 'fit' && tests.every(({ red }) => red === null)) {
    const text = notProvenLines(report).map(visible).join('\n');
    tests.unshift({
      group: 'verdict',
      name: `${notProvenTitle} [${notProvenRule}]`,
      red: { tag: 'error', type: 'not-proven', text },
    });
  }
  return tests;
}

function testOf(finding: Finding): Test {
  const { rule, title, outcome, hazard } = finding;
  const text = `${findingLine(finding)}\n${findingDetails(finding)}`;
  const isRed = hazard !== 'advice' && (outcome === 'failed' || outcome === 'unknown');
  return {
    group: rule.split('/')[0] ?? rule,
    name: visible(`${title} [${rule}]`),
    red: !isRed
      ? null
      : outcome === 'failed'
        ? { tag: 'failure', type: hazard, text }
        : { tag: 'error', type: 'not-proven', text },
  };
}

const propertiesOf = ({
  verdict,
  hazard,
  tool,
  rules,
  target,
  board,
  counts,
}: Report): Record<string, string> => ({
  verdict,
  ...(hazard === null ? {} : { hazard }),
  target: target.kind,
  ...(board === null ? {} : { board: visible(`${board.id}, revision ${board.revision}`) }),
  flashworthy: visible(tool.version),
  rules: rules.sha256,
  notApplicable: String(counts.notApplicable),
});

/** What is said beside the tests: what the owner must ensure, what was waived, and advice. */
function remarksOf({ provided, findings }: Report): string[] {
  return [
    ...provided.map(({ text }) => `Provided that: ${inLine(text)}`),
    ...findings
      .filter(({ outcome }) => outcome === 'waived')
      .map((finding) =>
        `Waived (${finding.rule}): ${findingLine(finding)} ${inLine(finding.because ?? '')}`.trimEnd(),
      ),
    ...findings
      .filter(({ outcome, hazard }) => outcome === 'failed' && hazard === 'advice')
      .map((finding) => `Advice (${finding.rule}): ${findingLine(finding)}`),
  ].map(visible);
}

/** What XML 1.0 can hold at all (section 2.2, Char); `visible` has written out the controls already. */
const legal = (text: string): string =>
  text.replaceAll(/[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\u{10000}-\u{10ffff}]/gu, '\ufffd');

const content = (text: string): string =>
  legal(text).replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;');

const attribute = (text: string): string =>
  content(text).replaceAll('"', '&quot;').replaceAll('\n', '&#10;').replaceAll('\t', '&#9;');
