import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { jsonReport, jsonText } from '../../src/report/json.js';
import { reporters } from '../../src/report/reporters.js';
import { summarise } from '../../src/report/summary.js';
import { fit, refused, samples } from './sample-reports.js';

const options = { width: 80, color: false, verbose: false };
const schemaOf = (name: string): object =>
  JSON.parse(
    readFileSync(join(import.meta.dirname, '../../src/report/schema', `${name}.schema.json`), 'utf8'),
  );
const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true });
const isReport = ajv.compile(schemaOf('report'));
const isSummary = ajv.compile(schemaOf('summary'));

describe('the report as JSON', () => {
  for (const [name, report] of Object.entries(samples))
    it(`has the published shape and stays as it was: ${name}`, () => {
      const text = jsonReport(report, options);
      const path = join(import.meta.dirname, 'golden', `${name}.golden.json`);
      if (process.env.UPDATE) writeFileSync(path, text);
      expect(text).toBe(readFileSync(path, 'utf8'));
      isReport(JSON.parse(text));
      expect(isReport.errors).toBeNull();
      expect(JSON.parse(text)).toEqual(report);
    });

  it('has a shape that refuses anything else', () => {
    const broken: object[] = [
      { ...fit, verdict: 'ok' },
      { ...fit, more: 1 },
      { ...fit, schema: 'flashworthy-report/2' },
      { ...fit, findings: [{ ...fit.findings[0], outcome: 'passed' }] },
      { ...fit, unseen: { 'media.bytes': { cause: 'no idea', text: '' } } },
      Object.fromEntries(Object.entries(fit).filter(([key]) => key !== 'unseen')),
    ];
    for (const value of broken) expect(isReport(value)).toBe(false);
  });

  it('orders keys the same way whatever the order they came in', () => {
    const turned = Object.fromEntries(Object.entries(refused).reverse()) as unknown as typeof refused;
    expect(jsonReport(turned, options)).toBe(jsonReport(refused, options));
  });

  it('holds no character that a terminal would obey, and the same data', () => {
    const text = jsonReport(refused, options);
    expect(text).not.toMatch(/[\p{Cf}\p{Zl}\p{Zp}]|[^\P{Cc}\n]/u);
    const odd = { name: 'a\u007f\u0085\u202e\u{e0041}\ufeff', lone: '\ud800' };
    expect(JSON.parse(jsonText(odd))).toEqual(odd);
    expect(jsonText(odd)).not.toMatch(/[\p{Cf}\p{Zl}\p{Zp}\p{Cs}]|[^\P{Cc}\n]/u);
  });

  it('puts several targets into a summary', () => {
    const summary = summarise(
      '0.1.0',
      [fit, refused],
      [{ path: 'gone.img', exit: 66, text: 'there is no such file' }],
    );
    const value = JSON.parse(jsonReport(summary, options));
    isSummary(value);
    expect(isSummary.errors).toBeNull();
    expect(value).toEqual(summary);
    expect(isSummary({ ...value, unchecked: [{ path: 'x', exit: 0, text: '' }] })).toBe(false);
  });
});

describe('the registry of reporters', () => {
  it('loads each kind, and each ends its text with a line break', async () => {
    expect(Object.keys(reporters)).toEqual(expect.arrayContaining(['text', 'json']));
    for (const load of Object.values(reporters)) {
      const reporter = await load();
      expect(reporter(fit, options)).toMatch(/[^\n]\n$/);
    }
  });
});
