import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gunzipSync } from 'node:zlib';
import type { Ajv } from 'ajv';
import draft04 from 'ajv-draft-04';
import formats from 'ajv-formats';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Report } from '../../src/report/report.js';
import { sarifReport } from '../../src/report/sarif.js';
import { summarise } from '../../src/report/summary.js';
import { targetUri } from '../../src/report/target-uri.js';
import { builtRules, checkCardFile } from '../support/check-card.js';
import { anyText, hostileReports, withText } from './hostile.js';
import { fit, nothing, notProven, refused, samples } from './sample-reports.js';

const options = { width: 80, color: false, verbose: false, rules: builtRules().rules };

/**
 * The schema of SARIF 2.1.0, `rtm.5`. The final file of errata 01 was found in no package. This one lets a region leave
 * out where it begins and takes more names of languages (of which we write none); the former is asked for below.
 */
const schemaFile = createRequire(import.meta.url).resolve(
  '@microsoft/jest-sarif/lib/schemas/sarif-2.1.0-rtm.5.json',
);
// The schema is JSON Schema draft 04; one of its patterns is none under the flag `u`.
const AjvDraft04 = draft04 as unknown as typeof Ajv;
const ajv = new AjvDraft04({ strict: false, allErrors: true, unicodeRegExp: false });
(formats as unknown as (to: Ajv) => void)(ajv);
const isSarif = ajv.compile(JSON.parse(readFileSync(schemaFile, 'utf8')));

interface Location {
  physicalLocation: {
    artifactLocation: { uri: string; uriBaseId?: string; index?: number };
    region?: { byteOffset: number; byteLength?: number };
  };
  logicalLocations?: { fullyQualifiedName: string; kind: string }[];
}
interface Result {
  ruleId: string;
  ruleIndex: number;
  kind: string;
  level: string;
  rank?: number;
  message: { text: string };
  locations: Location[];
  partialFingerprints: Record<string, string>;
  suppressions?: { kind: string; status: string; justification: string }[];
}
interface Descriptor {
  id: string;
  name: string;
  shortDescription: { text: string };
  fullDescription?: { text: string };
  help?: { text: string; markdown: string };
  defaultConfiguration: { level: string };
}
interface Run {
  tool: { driver: { name: string; version: string; rules: Descriptor[] } };
  results: Result[];
  artifacts: { location: { uri: string }; roles: string[]; properties?: { verdict?: string } }[];
  invocations: {
    executionSuccessful: boolean;
    toolExecutionNotifications?: { message: { text: string } }[];
  }[];
}

/** The one run of a log that the schema takes, and of which the words of the standard hold that no schema can say. */
function runOf(text: string): Run {
  const log = JSON.parse(text);
  isSarif(log);
  expect(isSarif.errors).toBeNull();
  expect(log.runs).toHaveLength(1);
  const run = log.runs[0] as Run;
  const { rules } = run.tool.driver;
  expect(new Set(rules.map(({ id }) => id)).size).toBe(rules.length);
  for (const result of run.results) {
    expect(rules[result.ruleIndex]?.id).toBe(result.ruleId);
    // Section 3.27.10: a level goes with a failure only.
    expect(result.level === 'none').toBe(result.kind !== 'fail');
    // Section 3.11.5: a brace alone would begin a placeholder. Section 3.11.6: nothing becomes a link.
    expect(result.message.text.replaceAll(/\{\{|\}\}/g, '')).not.toMatch(/[{}]|\]\(/);
    for (const { physicalLocation } of result.locations) {
      const { uri, index } = physicalLocation.artifactLocation;
      if (index !== undefined) expect(run.artifacts[index]?.location.uri).toBe(uri);
      // Section 3.30.1 of errata 01: a region says where it begins.
      if (physicalLocation.region) expect(physicalLocation.region.byteOffset).toBeGreaterThanOrEqual(0);
    }
  }
  return run;
}

const sarif = (report: Report, more: object = {}): Run => runOf(sarifReport(report, { ...options, ...more }));
const isOpenError = ({ level, suppressions }: Result): boolean => level === 'error' && !suppressions;

describe('the report as SARIF', () => {
  it.each(Object.entries(samples))(
    'is valid, and shows an error unless the card is fit: %s',
    (_name, report) => {
      expect(sarif(report).results.some(isOpenError)).toBe(report.verdict !== 'fit');
      sarif(report, { verbose: true });
      sarif(report, { rules: undefined });
    },
  );

  it('is what a real card gives: rules with help, and the bytes in the image', async () => {
    const cards = join(import.meta.dirname, '../../samples/cards');
    const folder = mkdtempSync(join(tmpdir(), 'flashworthy-sarif-'));
    try {
      const image = join(folder, 'card one.img');
      writeFileSync(image, gunzipSync(readFileSync(join(cards, 'burr-cluster-size.img.gz'))));
      const run = sarif(await checkCardFile(image, { board: 'burr', set: 'panel=none' }));
      const result = run.results.find(({ ruleId }) => ruleId === 'volume/cluster-size')!;
      expect(result).toMatchObject({ kind: 'fail', level: 'error' });
      const { physicalLocation } = result.locations[0]!;
      expect(fileURLToPath(physicalLocation.artifactLocation.uri)).toBe(image);
      // FAT specification, section 3.1: BPB_SecPerClus is the byte at offset 13 of the boot sector; 4 sectors are 2 KiB.
      const { byteOffset, byteLength } = physicalLocation.region!;
      expect(byteOffset % 512).toBe(13);
      expect(byteLength).toBe(1);
      expect(readFileSync(image)[byteOffset]).toBe(4);
      const rule = run.tool.driver.rules[result.ruleIndex]!;
      expect(rule.name).toBe('VolumeClusterSize');
      expect(rule.help?.markdown).toContain('## How to mend it');
      expect(rule.help?.text).toContain('How to mend it');
      expect(rule.fullDescription?.text).toMatch(/^A card hands out its space/);
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });

  it('has no region in a packed image, whose bytes are others', () => {
    const packed = { ...refused, facts: { media: { container: 'gzip' } } };
    for (const { locations } of sarif(packed).results)
      expect(locations[0]?.physicalLocation.region).toBeUndefined();
    expect(sarif(refused).results.some(({ locations }) => locations[0]?.physicalLocation.region)).toBe(true);
  });

  it('tells outcomes apart: failed, advice, not judged, waived; what holds only when asked', () => {
    const { results } = sarif(refused);
    const by = (id: string): Result => results.find(({ ruleId }) => ruleId === id)!;
    expect(by('volume/cluster-size')).toMatchObject({ kind: 'fail', level: 'error' });
    expect(by('file/litter')).toMatchObject({ kind: 'fail', level: 'note', rank: 0 });
    expect(by('file/present')).toMatchObject({ kind: 'open', level: 'none' });
    expect(by('volume/label').suppressions).toEqual([
      { kind: 'external', status: 'accepted', justification: 'the loader of revision 3 does not look at it' },
    ]);
    expect(by('volume/found')).toBeUndefined();
    const all = sarif(refused, { verbose: true }).results;
    expect(all).toHaveLength(refused.findings.length);
    expect(all.find(({ ruleId }) => ruleId === 'volume/found')?.kind).toBe('pass');
    expect(all.find(({ ruleId }) => ruleId === 'image/encoding')?.kind).toBe('notApplicable');
    expect(by('volume/cluster-size').rank).toBeGreaterThan(by('file/misnamed').rank!);
  });

  it('has one error more for a card that is not proven, which says what was not seen', () => {
    for (const report of [notProven, nothing]) {
      const errors = sarif(report).results.filter(isOpenError);
      expect(errors.map(({ ruleId }) => ruleId)).toEqual(['verdict/not-proven']);
    }
    expect(sarif(notProven).results[0]?.message.text).toContain('nobody said which power supply is fitted');
    expect(sarif(nothing).results[0]?.message.text).toContain('the update file is a published build');
  });

  it('keeps its fingerprints over runs and over changes elsewhere on the card', () => {
    const prints = (report: Report): string[] =>
      sarif(report).results.map(({ partialFingerprints }) => JSON.stringify(partialFingerprints));
    const moved: Report = {
      ...refused,
      board: { id: 'tansy', title: 'Larkfield Tansy', revision: 4 },
      findings: refused.findings
        .filter(({ rule }) => rule !== 'file/litter')
        .map((finding) =>
          finding.where?.offset === undefined
            ? finding
            : { ...finding, found: 'other', where: { offset: 1 } },
        ),
    };
    expect(new Set(prints(refused)).size).toBe(prints(refused).length);
    expect(prints(refused)).toEqual(expect.arrayContaining(prints(moved)));
    const renamed = { ...refused, target: { ...refused.target, path: 'other.img' } };
    for (const print of prints(renamed)) expect(prints(refused)).not.toContain(print);
  });

  it('puts several cards into one run, and tells those that could not be checked', () => {
    const summary = summarise(
      '0.1.0',
      [fit, refused, notProven],
      [{ path: 'gone.img', exit: 66, text: 'gone.img: there is no such file' }],
    );
    const run = runOf(sarifReport(summary, options));
    expect(run.artifacts.filter(({ roles }) => roles.includes('analysisTarget'))).toHaveLength(3);
    expect(run.invocations[0]?.executionSuccessful).toBe(false);
    expect(run.invocations[0]?.toolExecutionNotifications).toHaveLength(1);
    expect(sarif(fit).invocations).toEqual([{ executionSuccessful: true }]);
    const none = runOf(sarifReport(summarise('0.1.0', [], summary.unchecked), options));
    expect(none.results).toEqual([]);
    expect(none.invocations[0]?.executionSuccessful).toBe(false);
  });

  it('stays valid and harmless whatever a card is called or holds', () => {
    const whole = runOf(sarifReport(summarise('x', hostileReports, []), options));
    expect(whole.results.length).toBeGreaterThan(hostileReports.length);
    fc.assert(
      fc.property(anyText, (text) => {
        const out = sarifReport(withText(refused, text), { ...options, rules: undefined });
        expect(out).not.toMatch(/[\p{Cf}\p{Zl}\p{Zp}\p{Cs}]|[^\P{Cc}\n]/u);
        runOf(out);
      }),
      { numRuns: 50 },
    );
  });

  it('is refused by the schema when something is wrong, so that the tests above say something', () => {
    const text = sarifReport(refused, options);
    const isTaken = (from: string | RegExp, to: string): boolean => {
      expect(text.replace(from, to)).not.toBe(text);
      return isSarif(JSON.parse(text.replace(from, to))) as boolean;
    };
    expect(isSarif(JSON.parse(text))).toBe(true);
    expect(isTaken('"level": "error"', '"level": "severe"')).toBe(false);
    expect(isTaken('"name": "flashworthy",', '')).toBe(false);
    expect(isTaken('"uri": "card.img"', '"uri": "a card.img"')).toBe(false);
    expect(isTaken('"rank": ', '"weight": ')).toBe(false);
    expect(isTaken('"executionSuccessful": true', '')).toBe(false);
  });
});

/** Compared with how Node and the WHATWG URL standard take URIs apart. */
describe('the URI of a target', () => {
  it('leads back to the path, absolute or relative', () => {
    const name = fc
      .string({ unit: 'binary', minLength: 1, maxLength: 12 })
      .filter((text) => !/[/\0]|\p{Cs}/u.test(text) && !/^\.{1,2}$/.test(text));
    const path = fc.array(name, { minLength: 1, maxLength: 4 }).map((names) => names.join('/'));
    fc.assert(
      fc.property(path, (relative) => {
        fc.pre(!/^[A-Za-z]:(?:\\|$)|^\\\\/.test(relative) && !/^[A-Za-z]:$/.test(relative.split('/')[0]!));
        expect(fileURLToPath(targetUri(`/${relative}`, 'linux'))).toBe(`/${relative}`);
        expect(fileURLToPath(new URL(targetUri(relative, 'linux'), 'file:///base/'))).toBe(
          `/base/${relative}`,
        );
      }),
    );
  });

  it('is a file URI for drives and shares of Windows', () => {
    // RFC 8089, appendix E.2 (drive letters) and E.3.1 (UNC strings).
    expect(targetUri('E:\\cards\\card one.img', 'windows')).toBe('file:///E:/cards/card%20one.img');
    expect(targetUri('E:\\', 'windows')).toBe('file:///E:/');
    expect(targetUri('\\\\server\\cards\\a.img', 'windows')).toBe('file://server/cards/a.img');
    expect(targetUri('cards\\a.img', 'windows')).toBe('cards/a.img');
    expect(targetUri('cards\\a.img', 'linux')).toBe('cards%5Ca.img');
    expect(targetUri('./a.img', 'linux')).toBe('a.img');
    expect(targetUri('release', 'linux', 'SUB/a b.bin')).toBe('release/SUB/a%20b.bin');
  });
});
