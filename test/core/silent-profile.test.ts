import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, test } from 'vitest';
import { coreKeys, profileKeys } from '../../src/board/keys.js';
import type { Profile } from '../../src/board/profile.js';
import { readProfile } from '../../src/board/read.js';
import { check } from '../../src/core/check.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { nodeDigests } from '../../src/node/digests.js';
import type { Report } from '../../src/report/report.js';
import { recipes, withCard } from '../support/cards.js';
import { builtRules, sampleBoard } from '../support/check-card.js';
import { memoryTarget } from '../support/memory-target.js';

/** The profile of the Burr with one key set to `value`; undefined leaves it out. */
function burrWith(key: string, value: 'any' | undefined): Profile {
  const profile = structuredClone(readProfile(sampleBoard('burr'), 'burr.yaml').profile) as unknown as Record<
    string,
    unknown
  >;
  const steps = key.split('.');
  const last = steps.pop() as string;
  let at = profile;
  for (const step of steps) at = at[step] as Record<string, unknown>;
  if (value === undefined) delete at[last];
  else at[last] = value;
  return profile as unknown as Profile;
}

describe('a good card, with one key of the profile left out or of no matter', () => {
  let bytes: Uint8Array;
  beforeAll(async () => {
    const recipe = recipes('ok').find(({ name }) => name === 'burr-good');
    bytes = await withCard(recipe!.recipe, (image) => new Uint8Array(readFileSync(image)));
  });

  function checked(profile: Profile): Report {
    const { machine } = machineFromOptions({ sets: { panel: 'none' } }, profile);
    return check(
      {
        target: memoryTarget(bytes),
        profile,
        machine,
        stated: {},
        digests: nodeDigests,
      },
      { ruleSet: builtRules(), version: 'test' },
    );
  }

  const optional = profileKeys().filter(
    (key) =>
      !(coreKeys as readonly string[]).includes(key) && /^(loader|card|application|update)\./.test(key),
  );

  test.each(optional)('%s left out: still fit', (key) => {
    const report = checked(burrWith(key, undefined));
    expect(unknownOrFailed(report)).toEqual([]);
    expect(report.verdict).toBe('fit');
    expect(report.coverage.silent).toContain(key);
  });

  test.each(optional)('%s any: still fit', (key) => {
    const report = checked(burrWith(key, 'any'));
    expect(unknownOrFailed(report)).toEqual([]);
    expect(report.verdict).toBe('fit');
  });

  const core = coreKeys.filter((key) => /^(loader|update|memory)\./.test(key) || key === 'builds');
  test.each(core)('the core key %s left out: never fit', (key) => {
    const report = checked(burrWith(key, undefined));
    expect(report.verdict).toBe('not-proven');
    expect(report.coverage.coreSilent).toContain(key);
  });
});

function unknownOrFailed(report: Report): string[] {
  return report.findings
    .filter(({ outcome, hazard }) => (outcome === 'unknown' || outcome === 'failed') && hazard !== 'advice')
    .map(
      ({ rule, outcome, missing }) =>
        `${rule} ${outcome} ${(missing ?? []).map(({ fact }) => fact).join(' ')}`,
    );
}
