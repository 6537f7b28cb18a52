import fc from 'fast-check';
import type { Report } from '../../src/report/report.js';
import { notProven, refused } from './sample-reports.js';

/** Texts that break what does not escape them: markup, links, braces, controls, what XML cannot hold, half pairs. */
export const hostileTexts = [
  ']]><x a="1">&amp;&#0;',
  '[click](javascript:alert%281%29) {0} {{1}}',
  'a\u0000b\u001b[2J\u202e\ufffe\uffff\ud800\t\r\n\u0085\u2028',
  '../\\..\\ %00 %zz ?#:\'"`$(x)',
];

export const anyText = fc.oneof(
  fc.constantFrom(...hostileTexts),
  fc.string({ unit: 'binary', maxLength: 30 }),
  // Halves of surrogate pairs, too: a name on a card may hold them.
  fc
    .array(fc.integer({ min: 0, max: 0xffff }), { maxLength: 10 })
    .map((units) => String.fromCharCode(...units)),
);

/** The report with this text in every place that holds something of a stranger's card, profile or file system. */
export function withText(report: Report, text: string): Report {
  return {
    ...report,
    target: { ...report.target, path: `x${text}` },
    board: { id: `x${text}`, title: text, revision: 1 },
    inputs: [{ role: 'board profile', path: `y${text}`, sha256: report.rules.sha256 }],
    provided: [{ id: 'card/x', text }],
    findings: report.findings.map((finding) => ({
      ...finding,
      found: text,
      needed: text,
      because: text,
      shown: [text],
      total: 3,
      where: { path: `x${text}`, offset: 5 },
      missing: (finding.missing ?? []).map((each) => ({ ...each, text, settle: text })),
    })),
  };
}

export const hostileReports: Report[] = hostileTexts.flatMap((text) => [
  withText(refused, text),
  withText(notProven, text),
]);
