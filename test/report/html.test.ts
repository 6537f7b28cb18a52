import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { htmlReport } from '../../src/report/html/page.js';
import { styleHash, styleText } from '../../src/report/html/style.js';
import type { Json, Report } from '../../src/report/report.js';
import { summarise } from '../../src/report/summary.js';
import { visible } from '../../src/rules/visible.js';
import { recipes, withCard } from '../support/cards.js';
import { checkCardFile } from '../support/check-card.js';
import { hostile, hostileNames } from './hostile-report.js';
import { fit, nothing, notProven, refused, samples } from './sample-reports.js';

const html = (report: Parameters<typeof htmlReport>[0]): string =>
  htmlReport(report, { width: 80, color: false, verbose: false });
/** What a reader reads, roughly: the text between the tags of the body. */
const words = (report: Parameters<typeof htmlReport>[0]): string =>
  html(report)
    .replace(/^[\s\S]*<body>/, '')
    .replace(/<[^>]*>/g, '|')
    .replace(/\|+/g, '|');
const all = { ...samples, hostile, summary: summarise('0.1.0', [fit, refused, hostile], []) };

describe('the HTML report', () => {
  it('names the digest of its style in its policy', () => {
    // SHA-256 in Base64, as Content Security Policy Level 3, 2.3.1, wants it. `UPDATE=1` writes it anew.
    const digest = `sha256-${createHash('sha256').update(styleText).digest('base64')}`;
    const file = join(import.meta.dirname, '../../src/report/html/style.ts');
    if (process.env.UPDATE)
      writeFileSync(file, readFileSync(file, 'utf8').replace(/(styleHash =\s*)'[^']*'/, `$1'${digest}'`));
    expect(styleHash).toBe(digest);
    expect(html(fit)).toContain(
      `content="default-src &#39;none&#39;; style-src &#39;${digest}&#39;; base-uri &#39;none&#39;; form-action &#39;none&#39;"`,
    );
    expect(styleText).not.toMatch(/url\(|@import|<\//);
  });

  it('is well-formed, and holds no script, no style attribute, no handler and nothing to load', () => {
    for (const report of Object.values(all)) {
      const text = html(report);
      const open: string[] = [];
      for (const [, end, name = ''] of text
        .replace('<!doctype html>', '')
        .matchAll(/<(\/?)([a-z][a-z0-9]*)(?: [a-z:-]+(?:="[^"<>]*")?)*>/gi)) {
        if (end) expect(open.pop()).toBe(name);
        else if (name !== 'meta' && name !== 'br') open.push(name);
      }
      expect(open).toEqual([]);
      // Every `<` of the page begins one of those tags: no other can have slipped in.
      const known = /<(?:!doctype html|\/?[a-z][a-z0-9]*(?: [a-z:-]+(?:="[^"<>]*")?)*)>/gi;
      expect(text.replace(known, '').match(/</g)).toBeNull();
      expect(text).not.toMatch(/<(script|link|img|iframe|object|embed|base|form|image|use)\b/i);
      expect(text).not.toMatch(/<[^>]* (style|on[a-z]+|src|srcset|xlink:href|ping|action)=/i);
      const ids = [...text.matchAll(/ id="([^"]*)"/g)].map(([, id]) => id);
      expect(new Set(ids).size).toBe(ids.length);
      for (const [, to] of text.matchAll(/ href="#([^"]*)"/g)) expect(ids).toContain(to);
    }
  });

  it('writes out every character of a name that cannot be seen, and shortens none', () => {
    const text = html(hostile);
    expect(text.replaceAll('\n', '')).not.toMatch(/[\p{Cc}\p{Cf}\p{Zl}\p{Zp}\p{Cs}]/u);
    const escaped = (name: string): string =>
      visible(name)
        .replaceAll('&', '&amp;')
        .replaceAll('<', '&lt;')
        .replaceAll('>', '&gt;')
        .replaceAll('"', '&quot;')
        .replaceAll("'", '&#39;');
    for (const name of hostileNames) expect(text).toContain(`<bdi>${escaped(name)}</bdi>`);
  });

  it('takes any text whatever as a text', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (name) => {
        const text = html({ ...fit, target: { ...fit.target, path: name } });
        const mark = '\u{e000}';
        const frame = html({ ...fit, target: { ...fit.target, path: mark } }).split(mark);
        for (const part of frame) expect(text).toContain(part);
        const rest = frame.reduce((left, part) => left.replace(part, ''), text);
        expect(rest).not.toMatch(/[<>"']/);
      }),
      { numRuns: 60 },
    );
  });

  it('says the verdict first, then what to do, then every fault, and never FIT when it is not', () => {
    const text = words(refused);
    const order = [
      'REFUSED:',
      'Do not put this card',
      '2 faults. The worst one',
      'What to do now',
      'What is not as it must be',
    ];
    const places = order.map((each) => text.indexOf(each));
    expect(places).not.toContain(-1);
    expect(places).toEqual([...places].sort((one, other) => one - other));
    for (const report of [refused, notProven, nothing])
      expect(words(report).replaceAll('Only when the report says FIT TO FLASH', '')).not.toMatch(
        /\bFIT\b|Fit, provided/,
      );
    expect(words(fit)).toMatch(/^[^A-Z]*Skip to the report[\s\S]*?FIT TO FLASH/);
    expect(words(fit)).toContain('the card is 32 GB or smaller');
    expect(words({ ...fit, target: { ...fit.target, kind: 'staging' } })).toContain(
      'FILES FIT, NO CARD CHECKED',
    );
  });

  it('says that steps erase in the line that folds them and before the steps', () => {
    const text = words(refused);
    expect(text).toMatch(
      /Windows\| \|no administrator rights needed\| \|erases the card\|This erases the card\./,
    );
    expect(text).toMatch(/Any computer\| \|no administrator rights needed\|Use another card\./);
    // Ways without rights stand before those that want them; the same steps stand once.
    expect(text.indexOf('Any computer')).toBeLessThan(text.indexOf('as an administrator'));
    expect(text.match(/Right-click the drive/g)).toHaveLength(1);
    expect(text).toContain('The same steps as for |fault 1|');
    expect(html(refused)).toContain('<pre><code>sudo mkfs.fat -F 32 -s 8 /dev/sdX1 #');
  });

  it('tells two builds apart that both end with their own CRC-32', async () => {
    const [small, large] = await Promise.all(
      ['tansy-fit', 'tansy-large-supply'].map((name) =>
        checkCardFile(join(import.meta.dirname, '../../samples/cards', `${name}.img.gz`), {
          release: 'tansy-31',
          installed: '31',
          supply: '24V/6.5A',
        }),
      ),
    );
    const digest = (report: Report | undefined): string | undefined =>
      /fingerprint \(SHA-256\)\|([0-9a-f]{64})\|/.exec(words(report ?? fit))?.[1];
    // As the manifest of the sample release says them.
    const { files } = JSON.parse(
      readFileSync(join(import.meta.dirname, '../../samples/releases/tansy-31/manifest.json'), 'utf8'),
    ) as { files: { path: string; sha256: string }[] };
    const published = (path: string) => files.find((each) => each.path === path)?.sha256;
    expect(digest(small)).toBe(published('builds/TANSY-065N.LKF'));
    expect(digest(large)).toBe(published('builds/TANSY-150N.LKF'));
  });

  it('names one cause once, however many rules wait for it, and how to settle it', () => {
    const text = words(notProven);
    expect(text.match(/Nobody said which power supply is fitted\./g)).toHaveLength(1);
    expect(text).toContain('To settle it: read the label of the supply');
    expect(text).toContain('4 rules wait for it');
  });

  it('is the same for a report that was saved and read back', () => {
    for (const report of Object.values(all))
      expect(html(JSON.parse(JSON.stringify(report)))).toBe(html(report));
  });

  it('draws what it can of facts of any form', () => {
    const json: fc.Arbitrary<Json> = fc.jsonValue() as fc.Arbitrary<Json>;
    const facts = fc.record(
      {
        media: fc.oneof(json, fc.record({ bytes: json, readErrors: json })),
        volume: fc.oneof(json, fc.constant(hostile.facts.volume ?? null)),
        damage: fc.record({ list: json }),
        updateFile: json,
        image: fc.oneof(json, fc.record({ segments: json, flashAreas: json })),
        board: fc.oneof(json, fc.constant(hostile.facts.board ?? null)),
        power: fc.oneof(
          json,
          fc.record({ peakWatts: json, supplyWatts: json, heating: json, notKnown: json }),
        ),
      },
      { requiredKeys: [] },
    );
    fc.assert(
      fc.property(facts, (own) => {
        const text = html({ ...refused, facts: { ...hostile.facts, ...own } });
        expect(text).not.toMatch(/NaN|Infinity|undefined|\[object|="-[\d.]+%/);
      }),
      { numRuns: 150 },
    );
  });

  it('puts several cards into one table, those that were not checked too, and every report under it', () => {
    const unchecked = [{ path: 'gone.img', exit: 66, text: 'gone.img: there is no such file' }];
    const text = words(summarise('0.1.0', [fit, refused, notProven], unchecked));
    expect(text).toContain('4 cards: 1 refused, 1 not proven, 1 not checked, 1 fit to flash');
    expect(text).toContain('|gone.img|');
    expect(text).toContain('Not checked');
    expect(text.match(/What was checked/g)).toHaveLength(3);
    expect(words(summarise('0.1.0', [], unchecked))).toContain('1 card: 1 not checked');
  });
});

const mib = 1024 * 1024;

describe('the pictures of the HTML report', () => {
  /** Places and widths of boxes of a kind, in percent. */
  const drawn = (text: string, kind: string): { left: number; width: number }[] =>
    [...text.matchAll(new RegExp(`k-${kind}"><rect x="([\\d.]+)%" y="\\d+" width="([\\d.]+)%"`, 'g'))].map(
      ([, left, width]) => ({ left: Number(left), width: Number(width) }),
    );
  const pins = /class="pin"/g;

  it('fill the whole width, without a gap', () => {
    const text = html(hostile);
    const card = text.slice(text.indexOf('card-title'), text.indexOf('class="volume"'));
    const row = [...card.matchAll(/<rect x="([\d.]+)%" y="28" width="([\d.]+)%"/g)];
    let at = 0;
    for (const [, left, width] of row) {
      expect(Number(left)).toBeCloseTo(at, 1);
      at = Number(left) + Number(width);
    }
    expect(at).toBeCloseTo(100, 1);
    expect(drawn(card, 'update-file')).toHaveLength(2);
    expect(drawn(card, 'fat')).toHaveLength(2);
  });

  it('show where the card is damaged and where it could not be read', () => {
    const text = html(hostile);
    expect(text.match(pins)).toHaveLength(2);
    expect(words(hostile)).toContain(`could not be read: &lt;img src=x`);
    const many = Array.from({ length: 30 }, (_, index) => ({ at: mib + 512 * index, text: 'a loop' }));
    const crowded = words({ ...hostile, facts: { ...hostile.facts, damage: { list: many } } });
    // Two faults, thirty damages and one read error; twelve are drawn.
    expect(crowded).toContain('and 21 more places');
    expect(words({ ...refused, facts: {} })).not.toContain('The card from its first byte');
  });

  it('show what of the program lies outside its place', () => {
    // Application area 0x08008000 to 0x08018000; the program fills 0x08000000 to 0x08020000: before it, in it, behind it.
    const text = html(hostile);
    expect(drawn(text, 'program')).toHaveLength(1);
    expect(drawn(text, 'program-bad')).toHaveLength(2);
    expect(drawn(text, 'program')).toEqual(drawn(text, 'application'));
    expect(drawn(text, 'flash')).toHaveLength(1);
    const good = structuredClone(hostile);
    good.facts.image = { segments: [{ start: 0x0800_8000, bytes: 4096 }] };
    expect(drawn(html(good), 'program-bad')).toHaveLength(0);
    expect(drawn(html(good), 'program')).toHaveLength(1);
    const scattered = structuredClone(hostile);
    const segments = Array.from({ length: 50 }, (_, index) => ({
      start: 0x0800_8000 + index * 1024,
      bytes: 512,
    }));
    scattered.facts.image = { segments, endAddress: 0x0801_9000 };
    expect(drawn(html(scattered), 'program')).toHaveLength(1);
    expect(drawn(html(scattered), 'program-bad')).toHaveLength(1);
    scattered.facts.image = { segments, endAddress: 0x0801_9000, inApplicationArea: true };
    expect(drawn(html(scattered), 'program-bad')).toHaveLength(0);
  });

  it('show what is over the rating of the supply', () => {
    const power = (peakWatts: number, peakMarginWatts: number): Report => ({
      ...refused,
      facts: { power: { peakWatts, supplyWatts: 156, peakMarginWatts } },
    });
    expect(html(power(200, -44))).toContain('class="bar-over"');
    expect(words(power(200, -44))).toContain('That is 44 W too much.');
    expect(html(power(146, 10))).not.toContain('class="bar-over"');
    expect(words(power(146, 10))).toContain('10 W to spare.');
  });

  it('are drawn from the facts of real cards', async () => {
    const recipe = (name: string) => recipes('err').find((each) => each.name === name)!;
    const report = await withCard(recipe('image-over-settings').recipe, (path) =>
      checkCardFile(path, recipe('image-over-settings').options),
    );
    expect(drawn(html(report), 'program-bad').length).toBeGreaterThan(0);
    const damaged = await withCard(recipe('lost-clusters').recipe, (path) =>
      checkCardFile(path, recipe('lost-clusters').options),
    );
    expect(words(damaged)).toMatch(/\|!\| \|damage: /);
  });
});
