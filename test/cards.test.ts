import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { validateReport } from '../src/board/schema/validators.js';
import { jsonReport } from '../src/report/json.js';
import { type RecipeCard, recipes, withCard } from './support/cards.js';
import { checkCardFile } from './support/check-card.js';

const plain = { width: 80, color: false, verbose: false };

/** Every recipe below test/ok and test/err, made by real formatters and checked with the rules as they are. */
for (const kind of ['ok', 'err'] as const) {
  describe(`cards under test/${kind}`, () => {
    test.concurrent.each(recipes(kind).map((card) => [card.name, card] as const))(
      '%s',
      async (_name, card) => {
        await withCard(card.recipe, async (image) => {
          const report = await checkCardFile(existsSync(`${image}.gz`) ? `${image}.gz` : image, card.options);
          expect(
            validateReport(JSON.parse(jsonReport(report, plain))),
            JSON.stringify(validateReport.errors),
          ).toBe(true);
          expect(
            validateReport(JSON.parse(jsonReport(report, plain))),
            JSON.stringify(validateReport.errors),
          ).toBe(true);
          const outcome = (rule: string) => report.findings.find((finding) => finding.rule === rule)?.outcome;
          expect({
            verdict: report.verdict,
            failed: report.findings
              .filter((finding) => finding.outcome === 'failed' && finding.hazard !== 'advice')
              .map((finding) => `${finding.rule} ${finding.hazard}`)
              .sort(),
            passes: card.expected.passes.filter((rule) =>
              ['holds', 'not-applicable'].includes(String(outcome(rule))),
            ),
            holds: card.expected.holds.filter((rule) => outcome(rule) === 'holds'),
            unknown: card.expected.unknown.filter((rule) => outcome(rule) === 'unknown'),
            advice: card.expected.advice.filter((rule) =>
              report.findings.some(
                (finding) =>
                  finding.rule === rule && finding.outcome === 'failed' && finding.hazard === 'advice',
              ),
            ),
          }).toEqual(expectedOf(card));
        });
      },
    );
  });
}

function expectedOf({ expected }: RecipeCard) {
  return {
    verdict: expected.verdict,
    failed: expected.failed,
    passes: expected.passes,
    holds: expected.holds,
    unknown: expected.unknown,
    advice: expected.advice,
  };
}

/**
 * A profile that leaves something out proves nothing either way: the first can only be unknown, or hold. What would
 * fail the second fails a rule that says more; it is there so that no card is fit of which that was not judged.
 */
const neverFails = ['board/core-keys', 'machine/build-fits'];

describe('each rule', () => {
  const cards = [...recipes('err'), ...recipes('ok')];
  const rules = JSON.parse(readFileSync(join(import.meta.dirname, '../dist/rules.json'), 'utf8')).rules as {
    id: string;
    hazard: { is: string }[];
  }[];
  const failing = new Set(cards.flatMap(({ expected }) => expected.failed.map((line) => line.split(' ')[0])));
  const holding = new Set(cards.flatMap(({ expected }) => [...expected.holds, ...expected.passes]));

  test.each(
    rules
      // Rules about releases have folders of their own in test/release.
      .filter(({ id }) => !id.startsWith('release/'))
      .filter(({ id, hazard }) => !neverFails.includes(id) && hazard.some(({ is }) => is !== 'advice'))
      .map(({ id }) => id),
  )('%s has a card that fails it and a near miss that passes', (id) => {
    expect({ failing: failing.has(id), holding: holding.has(id) }).toEqual({ failing: true, holding: true });
  });
});
