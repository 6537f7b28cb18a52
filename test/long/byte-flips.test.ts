import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { beforeAll, describe, expect, test } from 'vitest';
import { readProfile } from '../../src/board/read.js';
import { check } from '../../src/core/check.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { nodeDigests } from '../../src/node/digests.js';
import type { Report } from '../../src/report/report.js';
import { recipes, withCard } from '../support/cards.js';
import { builtRules, sampleBoard } from '../support/check-card.js';
import { memoryTarget } from '../support/memory-target.js';

const profile = readProfile(sampleBoard('burr'), 'burr.yaml').profile;
const { machine } = machineFromOptions({ sets: { panel: 'none' } }, profile);
const ruleSet = builtRules();

function checkBytes(bytes: Uint8Array): Report {
  return check(
    {
      target: memoryTarget(bytes),
      profile,
      machine,
      stated: {},
      digests: nodeDigests,
    },
    { ruleSet, version: 'test' },
  );
}

const sha256Of = (report: Report): unknown =>
  (report.facts.updateFile as Record<string, unknown> | undefined)?.sha256;

/** Places of the card `burr-good`: FAT16 at 1 MiB with 8 reserved sectors, two FATs of 24 sectors, 512 root entries. */
const volume = 1024 * 1024;
const regions = [
  { name: 'partition table', at: 446, length: 66 },
  { name: 'boot sector', at: volume, length: 512 },
  { name: 'first FAT', at: volume + 8 * 512, length: 48 },
  { name: 'second FAT', at: volume + 32 * 512, length: 48 },
  { name: 'root folder', at: volume + 56 * 512, length: 64 },
  { name: 'folder BURR', at: volume + 88 * 512, length: 160 },
];

describe('a byte that changes in the metadata', () => {
  let bytes: Uint8Array;
  let good: unknown;
  beforeAll(async () => {
    const recipe = recipes('ok').find(({ name }) => name === 'burr-good');
    bytes = await withCard(recipe!.recipe, (image) => new Uint8Array(readFileSync(image)));
    const report = checkBytes(bytes);
    expect(report.verdict).toBe('fit');
    good = sha256Of(report);
  });

  test.each(regions)(
    'in the $name never gives "fit" with other bytes in the update file',
    ({ at, length }) => {
      const verdicts = { fit: 0, other: 0 };
      fc.assert(
        fc.property(
          fc.integer({ min: 0, max: length - 1 }),
          fc.integer({ min: 1, max: 255 }),
          (offset, flip) => {
            const place = at + offset;
            bytes[place]! ^= flip;
            try {
              const report = checkBytes(bytes);
              verdicts[report.verdict === 'fit' ? 'fit' : 'other']++;
              if (report.verdict === 'fit') expect(sha256Of(report)).toBe(good);
            } finally {
              bytes[place]! ^= flip;
            }
          },
        ),
        { numRuns: Number(process.env.FLIPS ?? 150), seed: 20261125 },
      );
      // The test would prove nothing if every change were refused, or none.
      expect(verdicts.other).toBeGreaterThan(0);
    },
  );
});
