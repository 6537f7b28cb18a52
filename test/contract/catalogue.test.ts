import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { readNotJudged, readRows, rowCoverage } from '../../src/build/pages.js';
import { builtRules } from '../support/check-card.js';

const root = join(import.meta.dirname, '..', '..');
const { rules } = builtRules();
const { groups, titles } = readRows(root);
const reasons = readNotJudged(root);
const coverage = rowCoverage(root, rules);

/** Rows in each group. */
const counts = { '1': 16, '2': 23, '3': 20, '4': 11, '5': 23, '6': 15, '7': 17 };
/** How a reason begins when a rule is still to be written. */
const later = 'No rule yet: ';

describe('what can go wrong', () => {
  it('is a table of all rows, in order, each with a title of its own', () => {
    expect([...groups.keys()]).toEqual(Object.keys(counts));
    expect([...titles.keys()]).toEqual(
      Object.entries(counts).flatMap(([group, count]) =>
        Array.from({ length: count }, (_, index) => `${group}.${index + 1}`),
      ),
    );
    expect(new Set(titles.values()).size).toBe(titles.size);
    for (const file of ['rows.yaml', 'not-judged.yaml'])
      expect(parse(readFileSync(join(root, 'rules', file), 'utf8')).schema).toBe(
        `flashworthy-${file.replace('.yaml', '')}/1`,
      );
  });

  it.each(coverage.map((each) => [each.row, each] as const))(
    '%s has a rule, or a reason why none can judge it',
    (_row, { rules: own, reason }) => {
      expect(own.length > 0 || (reason ?? '').length > 20).toBe(true);
      // A rule that has been written makes such a reason untrue.
      expect(own.length > 0 && reason?.startsWith(later)).not.toBe(true);
    },
  );

  it('is named by every rule with rows that exist', () => {
    for (const { id, catalogue } of rules)
      for (const row of catalogue)
        expect({ id, row, there: titles.has(row) }).toEqual({ id, row, there: true });
    for (const row of reasons.keys()) expect([row, titles.has(row)]).toEqual([row, true]);
  });
});
