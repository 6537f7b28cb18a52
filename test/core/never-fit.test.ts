import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readProfile } from '../../src/board/read.js';
import { check } from '../../src/core/check.js';
import { Absent, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { factSchema } from '../../src/facts/schema.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { nodeDigests } from '../../src/node/digests.js';
import type { Verdict } from '../../src/report/report.js';
import { judge } from '../../src/rules/judge.js';
import { verdict } from '../../src/rules/verdict.js';
import { recipes, withCard } from '../support/cards.js';
import { builtRules, checkCardFile, sampleBoard } from '../support/check-card.js';
import { memoryTarget } from '../support/memory-target.js';

const burr = readProfile(sampleBoard('burr'), 'burr.yaml').profile;
const { machine } = machineFromOptions({ sets: { panel: 'none' } }, burr);
const ruleSet = builtRules();

function verdictOn(store: FactStore): Verdict {
  return verdict(judge(store, ruleSet).findings, ruleSet.rules).verdict;
}

describe('never fit', () => {
  test.each([
    ['nothing', 0],
    ['one byte', 1],
    ['one sector of zeros', 512],
    ['a mebibyte of zeros', 1024 * 1024],
  ])('an empty card: %s', (_name, size) => {
    const report = check(
      {
        target: memoryTarget(new Uint8Array(size)),
        profile: burr,
        machine,
        stated: {},
        digests: nodeDigests,
      },
      { ruleSet, version: 'test' },
    );
    expect(report.verdict).not.toBe('fit');
  });

  test('no fact at all', () => {
    expect(verdictOn(new FactStore())).toBe('not-proven');
  });

  test.each([
    'not-visible',
    'no-permission',
    'damaged',
    'over-limit',
    'not-told',
    'profile-silent',
    'not-built-yet',
  ] as const)('all facts unseen: %s', (cause) => {
    const store = new FactStore();
    for (const path of Object.keys(factSchema)) store.set(path, new Unseen(cause, 'not seen'));
    expect(verdictOn(store)).toBe('not-proven');
  });

  test('all facts absent', () => {
    const store = new FactStore();
    for (const path of Object.keys(factSchema)) store.set(path, new Absent('not there'));
    expect(verdictOn(store)).not.toBe('fit');
  });
});

describe('a good card', () => {
  const good = recipes('ok').find(({ name }) => name === 'burr-good');
  let folder: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'flashworthy-never-fit-'));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  test('is fit with the rules as they are, and not without rules', async () => {
    await withCard(good!.recipe, async (image) => {
      expect((await checkCardFile(image, good!.options)).verdict).toBe('fit');
      expect((await checkCardFile(image, good!.options, { ...ruleSet, rules: [] })).verdict).toBe(
        'not-proven',
      );
      // Any one carrier of a keystone alone is not enough either.
      for (const rule of ruleSet.rules.filter(({ keystone }) => keystone !== null))
        expect(
          (await checkCardFile(image, good!.options, { ...ruleSet, rules: [{ ...rule, after: [] }] }))
            .verdict,
        ).toBe('not-proven');
    });
  });

  test('is not fit without a board', async () => {
    await withCard(good!.recipe, async (image) => {
      expect((await checkCardFile(image, {})).verdict).toBe('not-proven');
    });
  });

  test('is not fit with an empty profile', async () => {
    const text = 'schema: flashworthy-board/1\nid: silent\ntitle: A board that says nothing\nrevision: 1\n';
    const { profile } = readProfile(text, 'silent.yaml');
    writeFileSync(join(folder, 'silent.yaml'), text);
    await withCard(good!.recipe, async (image) => {
      expect((await checkCardFile(image, { profile: join(folder, 'silent.yaml') })).verdict).toBe(
        'not-proven',
      );
      expect(profile.builds).toBeUndefined();
    });
  });
});
