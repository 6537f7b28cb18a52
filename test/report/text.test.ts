import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { hazardText, permanenceText } from '../../src/report/hazard-words.js';
import { summarise } from '../../src/report/summary.js';
import { textReport } from '../../src/report/text.js';
import { reflow, wrap } from '../../src/report/wrap.js';
import { hazards } from '../../src/rules/rule.js';
import { fit, nothing, notProven, refused, samples } from './sample-reports.js';

const plain = { width: 80, color: false, verbose: false };

/** Compares with the kept text; `UPDATE=1` writes it anew, and the difference is then read in review. */
function expectGolden(name: string, text: string): void {
  const path = join(import.meta.dirname, 'golden', `${name}.golden.txt`);
  if (process.env.UPDATE) writeFileSync(path, text);
  expect(existsSync(path)).toBe(true);
  expect(text).toBe(readFileSync(path, 'utf8'));
}

describe('the report for people', () => {
  for (const [name, report] of Object.entries(samples))
    it(`reads as it did: ${name}`, () => expectGolden(name, textReport(report, plain)));

  it('fits the width, but for what is to be typed', () => {
    for (const report of Object.values(samples))
      for (const width of [60, 80, 100]) {
        const long = textReport(report, { ...plain, width, verbose: true })
          .split('\n')
          .filter((line) => line.length > width && !/sudo mkfs|[0-9a-f]{64}/.test(line));
        expect(long).toEqual([]);
      }
  });

  it('begins with the verdict and what would happen', () => {
    expect(textReport(refused, plain)).toMatch(
      /^REFUSED: do not put this card into the machine\. \(waived: volume\/label\)\n2 faults\./,
    );
    expect(textReport(fit, plain)).toMatch(/^FIT TO FLASH\n/);
    expect(textReport(nothing, plain)).toMatch(/^NOT PROVEN/);
    expect(textReport({ ...fit, target: { ...fit.target, kind: 'staging' } }, plain)).toMatch(
      /^FILES FIT, NO CARD CHECKED\n/,
    );
  });

  it('prints what the owner stated as a statement', () => {
    const stated = [
      { fact: 'machine.nothingInstalled', text: 'true' },
      { fact: 'machine.supply', text: '24V/6.5A' },
      { fact: 'target.changed', text: 'false' },
    ];
    const text = textReport({ ...fit, stated }, plain);
    expect(text).toContain('You said: no program runs now\n');
    expect(text).toMatch(/You said: id of the fitted supply.*: 24V\/6\.5A\n/);
    expect(text).toContain('You said: not so: the target changed while it was read\n');
  });

  it('never says that a card is fit unless the verdict does', () => {
    for (const report of [refused, notProven, nothing])
      expect(textReport(report, plain)).not.toMatch(/\bFIT\b|Fit, /);
  });

  it('says that steps erase before the steps', () => {
    const text = textReport(refused, plain);
    expect(text.match(/THIS ERASES THE CARD\.\n +1\. /g)).toHaveLength(2);
    // The second fault has the same steps: printed once.
    expect(text).toContain('the same as for fault 1');
  });

  it('shows the steps of one system when told to, and where the others are', () => {
    const text = textReport(refused, { ...plain, system: 'windows' });
    expect(text).toContain('Right-click the drive');
    expect(text).not.toContain('mkfs');
    expect(text).toContain('Use another card.');
    expect(text).toContain('flashworthy explain volume/cluster-size');
  });

  it('names one cause once, however many rules wait for it', () => {
    const text = textReport(notProven, plain);
    expect(text.match(/Nobody said which power supply is fitted/g)).toHaveLength(1);
    expect(text).toContain('--supply 24V/6.5A');
    expect(text).toContain('and 1 more');
  });

  it('lets no name from a card reach the terminal as it is', () => {
    for (const color of [false, true]) {
      const text = textReport(refused, { ...plain, color, verbose: true });
      // Only the colours of our own: bold, red, yellow, green, and their ends.
      const rest = text.replaceAll(/\u001b\[(?:1|22|31|32|33|39)m/g, '');
      expect(rest).not.toMatch(/[\p{Cf}\p{Co}]|[^\P{Cc}\n]/u);
      expect(rest).toContain('evil<U+001B>[2J.lkf');
      expect(text.includes('\u001b')).toBe(color);
    }
  });

  it('says the same with colour and without', () => {
    for (const report of Object.values(samples))
      expect(textReport(report, { ...plain, color: true }).replaceAll(/\u001b\[\d+m/g, '')).toBe(
        textReport(report, plain),
      );
  });

  it('puts several targets under each other, with a list at the end', () => {
    const summary = summarise(
      '0.1.0',
      [fit, refused],
      [{ path: 'gone.img', exit: 66, text: 'there is no such file' }],
    );
    const text = textReport(summary, plain);
    expect(summary.verdict).toBe('refused');
    expect(text).toMatch(
      /3 targets:\n {2}fit {9}card.img\n {2}refused {5}card.img\n {2}not checked gone.img: there is/,
    );
  });
});

describe('the verdict over several targets', () => {
  it('is the worst one, and never fit when something was not checked', () => {
    const gone = [{ path: 'x', exit: 66, text: '' }];
    expect(summarise('1', [fit, fit], []).verdict).toBe('fit');
    expect(summarise('1', [fit, notProven], []).verdict).toBe('not-proven');
    expect(summarise('1', [refused, notProven], gone).verdict).toBe('refused');
    expect(summarise('1', [fit], gone).verdict).toBe('not-proven');
    expect(summarise('1', [], []).verdict).toBe('not-proven');
  });
});

describe('words for hazards', () => {
  it('are one sentence each, all different', () => {
    const texts = hazards.flatMap((hazard) => [hazardText(hazard), permanenceText(hazard)]);
    for (const text of texts) expect(text).toMatch(/^[A-Z][^.]*\.$/);
    expect(new Set(hazards.map(hazardText)).size).toBe(hazards.length);
  });
});

describe('wrapping', () => {
  it('breaks at blanks, hangs numbered lines, keeps what is to be typed', () => {
    expect(wrap('aaa bbb ccc', 7)).toEqual(['aaa bbb', 'ccc']);
    expect(wrap('1. aaa bbb ccc', 10, '- ')).toEqual(['- 1. aaa', '     bbb', '     ccc']);
    expect(wrap('a\n     one two three four\nb', 8)).toEqual(['a', '     one two three four', 'b']);
    expect(wrap('incomprehensibilities', 8)).toEqual(['incomprehensibilities']);
    expect(wrap('', 8, '- ')).toEqual(['-']);
  });

  it('joins what its author broke', () => {
    expect(reflow('a\nb\n\nc\n  d\n')).toBe('a b\n\nc d');
  });
});
