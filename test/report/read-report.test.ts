import { describe, expect, it } from 'vitest';
import { jsonReport } from '../../src/report/json.js';
import { NotAReport, readReports } from '../../src/report/read-report.js';
import { summarise } from '../../src/report/summary.js';
import { notProven, refused, samples } from './sample-reports.js';

const options = { width: 80, color: false, verbose: false };

/** Why a text is no report. */
function reason(text: string): string {
  try {
    readReports(text);
  } catch (error) {
    if (error instanceof NotAReport) return error.message;
    throw error;
  }
  return '';
}

describe('a saved report', () => {
  it('comes back with what its pages need', () => {
    for (const report of Object.values(samples)) {
      const [saved, ...others] = readReports(jsonReport(report, options));
      expect(others).toEqual([]);
      expect(saved?.path).toBe(report.target.path);
      expect(saved?.verdict).toBe(report.verdict);
      for (const [
        index,
        { rule, outcome, hazard, found, needed, why, remedy, shown },
      ] of report.findings.entries())
        expect(saved?.findings[index]).toMatchObject({
          rule,
          outcome,
          hazard,
          found,
          needed,
          why,
          remedy,
          ...(shown ? { shown } : {}),
        });
    }
  });

  it('may be one of many cards, and begin with a byte-order mark', () => {
    const summary = summarise('1', [refused, notProven], []);
    expect(readReports(jsonReport(summary, options)).map(({ path }) => path)).toEqual([
      refused.target.path,
      notProven.target.path,
    ]);
    expect(readReports(`\uFEFF${jsonReport(refused, options)}`)).toHaveLength(1);
  });

  it('is told from everything else', () => {
    expect(reason('REFUSED: do not put this card into the machine.')).toMatch(/not JSON.*--report json=FILE/);
    expect(reason('[]')).toMatch(/the file/);
    expect(reason('{"schema": "other/1"}')).toMatch(/no report of flashworthy/);
    expect(reason('null')).not.toBe('');
    const whole = JSON.parse(jsonReport(refused, options));
    for (const broken of [
      { ...whole, verdict: 'good' },
      { ...whole, target: 'card.img' },
      { ...whole, findings: {} },
      { ...whole, findings: [{ ...whole.findings[0], hazard: 'mild' }] },
      { ...whole, findings: [{ ...whole.findings[0], why: 3 }] },
      { ...whole, findings: [{ ...whole.findings[0], remedy: [{ do: 'x' }] }] },
      { ...whole, findings: [{ ...whole.findings[0], shown: [1] }] },
    ])
      expect(reason(JSON.stringify(broken))).not.toBe('');
  });

  it('takes steps that do not say whether they erase for steps that erase', () => {
    const whole = JSON.parse(jsonReport(refused, options));
    delete whole.findings[0].remedy[2].erases;
    expect(readReports(JSON.stringify(whole))[0]?.findings[0]?.remedy[2]?.erases).toBe(true);
  });
});
