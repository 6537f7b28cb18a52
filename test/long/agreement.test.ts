import { existsSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { recipes, withCard } from '../support/cards.js';
import { rehearseCardFile } from '../support/check-card.js';

/** A sample; test/long goes through all of them. Every tenth good card, and of the others those named here. */
const good = recipes('ok').filter((_card, at) => at % 10 === 0);
/** What happens to the machine, as the recipes expect it of the rules, and how the rehearsal has to end. */
const bad: readonly [name: string, outcome: string][] = [
  ['image-checksum-wrong-older-loader', 'dead'],
  ['image-checksum-wrong', 'stops'],
  ['image-reset-at-blank', 'dead'],
  ['file-missing', 'stops'],
  ['read-only', 'repeats'],
  ['done-marker-in-the-way', 'repeats'],
  ['image-over-settings', 'dead'],
  ['profile-silent-about-erasing', 'unknown'],
];

describe('rules and rehearsal', () => {
  test.concurrent.each(good.map((card) => [card.name, card] as const))(
    'a fit card starts: %s',
    async (_name, card) => {
      await withCard(card.recipe, async (image) => {
        const path = existsSync(`${image}.gz`) ? `${image}.gz` : image;
        const { check, rehearsal } = await rehearseCardFile(path, card.options);
        expect(check.verdict).toBe(card.expected.verdict);
        if (check.verdict === 'fit') expect(rehearsal.answer).toBe('starts');
      });
    },
  );

  test.concurrent.each(bad)('%s: %s', async (name, outcome) => {
    const card = recipes('err').find((one) => one.name === name)!;
    await withCard(card.recipe, async (image) => {
      const { check, rehearsal } = await rehearseCardFile(image, card.options);
      expect(check.verdict).not.toBe('fit');
      expect(rehearsal.steps.map((step) => step.outcome)).toContain(outcome);
    });
  });
});
