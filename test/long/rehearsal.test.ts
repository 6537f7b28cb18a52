import { existsSync, readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { rehearseSubject } from '../../src/core/rehearsal-report.js';
import { recipes, withCard } from '../support/cards.js';
import { builtRules, rehearseCardFile, withSubject } from '../support/check-card.js';
import { memoryTarget } from '../support/memory-target.js';

/**
 * The rules and the rehearsal are two opinions about one card. Where the rules say fit, the program starts; where the
 * machine would be lost, they never say fit, and `rehearseSubject` itself throws.
 */
for (const kind of ['ok', 'err'] as const)
  describe(`rehearsed, the cards under test/${kind}`, () => {
    const cards = recipes(kind).filter(
      ({ options }) => (options.board ?? options.release ?? options.profile) !== undefined,
    );
    test('are nearly all of them', () => expect(cards.length).toBeGreaterThan(100));
    test.concurrent.each(cards.map((card) => [card.name, card] as const))('%s', async (_name, card) => {
      await withCard(card.recipe, async (image) => {
        const path = existsSync(`${image}.gz`) ? `${image}.gz` : image;
        const { check, rehearsal } = await rehearseCardFile(path, card.options);
        expect(check.verdict).toBe(card.expected.verdict);
        if (check.verdict === 'fit') expect(rehearsal.answer).toBe('starts');
        // Where the rules see the old program lost, the rehearsal does not say that nothing is lost.
        const outcomes = rehearsal.steps.map(({ outcome }) => outcome);
        if (check.hazard === 'unbootable') expect(outcomes).not.toContain('stops');
      });
    });
  });

/** Cards of two boards with loaders of different kinds, and where their metadata and their program lie. */
const volume = 1024 * 1024;
const mutated = [
  {
    name: 'burr-good',
    regions: [
      { at: 446, length: 66 },
      { at: volume, length: 512 },
      { at: volume + 8 * 512, length: 48 },
      { at: volume + 56 * 512, length: 64 },
      { at: volume + 88 * 512, length: 160 },
      { at: volume + 96 * 512, length: 4096 },
    ],
  },
  {
    name: 'build-for-its-older-loader',
    regions: [
      { at: 446, length: 66 },
      { at: volume, length: 512 },
      // FAT32 with clusters of 512 bytes: 32 reserved sectors, two FATs of 552, then the root folder and the file.
      { at: volume + 32 * 512, length: 64 },
      { at: volume + 1136 * 512, length: 96 },
      { at: volume + 1137 * 512, length: 4096 },
    ],
  },
];

describe.each(mutated)('$name with changed bytes', ({ name, regions }) => {
  test('never ends as fit and not started', async () => {
    const card = recipes('ok').find((one) => one.name === name)!;
    await withCard(card.recipe, (image) =>
      withSubject(image, card.options, (subject) => {
        const bytes = new Uint8Array(readFileSync(image));
        const profile = subject.profile!;
        const ruleSet = builtRules();
        const ends = new Set<string>();
        const rehearsed = (): void => {
          const target = memoryTarget(bytes);
          const { check, rehearsal } = rehearseSubject(
            { ...subject, target, profile },
            { ruleSet, version: 'test' },
          );
          ends.add(`${check.verdict} ${rehearsal.answer}`);
          if (check.verdict === 'fit') expect(rehearsal.answer).toBe('starts');
        };
        rehearsed();
        expect([...ends]).toEqual(['fit starts']);
        for (const { at, length } of regions)
          fc.assert(
            fc.property(
              fc.integer({ min: 0, max: length - 1 }),
              fc.integer({ min: 1, max: 255 }),
              (offset, flip) => {
                bytes[at + offset]! ^= flip;
                try {
                  rehearsed();
                } finally {
                  bytes[at + offset]! ^= flip;
                }
              },
            ),
            { numRuns: Number(process.env.FLIPS ?? 300), seed: 20261125 },
          );
        // The test would prove nothing if no change mattered.
        expect(ends).toContain('refused does-not');
      }),
    );
  });
});
