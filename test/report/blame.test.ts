import { describe, expect, it } from 'vitest';
import { blame, blameText, culpritOf, mendOrder } from '../../src/report/blame.js';
import type { Finding } from '../../src/report/report.js';
import { builtRules } from '../support/check-card.js';

const finding = (
  rule: string,
  outcome: Finding['outcome'] = 'failed',
  hazard: Finding['hazard'] = 'ignored',
  more: Partial<Finding> = {},
): Finding => ({
  rule,
  outcome,
  hazard,
  title: '',
  found: '',
  needed: '',
  why: '',
  remedy: [],
  sources: [],
  ...more,
});

const sentence = (...findings: Finding[]): string | null => blameText(blame({ findings }), 'image');

describe('who is to blame', () => {
  it('is counted by the group of each failed rule, without advice', () => {
    const findings = [
      finding('card/partition-table'),
      finding('volume/cluster-size'),
      finding('file/misnamed'),
      finding('companion/size'),
      finding('companion/complete'),
      finding('image/sound'),
      finding('machine/build-fits', 'failed', 'unsafe'),
      finding('card/litter', 'failed', 'advice'),
      finding('file/whole', 'unknown'),
      finding('own/label'),
    ];
    expect(blame({ findings })).toMatchObject({
      card: 2,
      files: 3,
      image: 1,
      choice: 1,
      profile: 0,
      other: 1,
      first: 'card',
    });
    expect(blame({ findings: [finding('file/whole', 'unknown')] }).first).toBeNull();
  });

  it('is known for every rule of the package', () => {
    for (const { id } of builtRules().rules) expect([id, culpritOf(id)]).not.toEqual([id, 'other']);
  });

  it('counts what only has to be removed from a card among the files', () => {
    for (const rule of ['card/litter', 'card/other-files', 'card/other-loader']) {
      expect(builtRules().rules.some(({ id }) => id === rule)).toBe(true);
      expect(culpritOf(rule)).toBe('files');
    }
  });

  it('says "not the file" only when the file was judged and passed', () => {
    const bad = finding('volume/fragments');
    expect(sentence(bad, finding('image/whole', 'holds'))).toBe('The card is to blame, not the file.');
    for (const open of [
      finding('image/whole', 'unknown'),
      finding('image/whole', 'not-applicable', 'ignored', { because: 'another rule failed' }),
    ])
      expect(sentence(bad, finding('image/encoding', 'holds'), open)).toMatch(
        /will show when the card is mended/,
      );
    expect(sentence(bad)).toMatch(/will show when the card is mended/);
    // A rule that does not concern this board leaves nothing open.
    expect(
      sentence(bad, finding('image/whole', 'holds'), finding('image/known-build', 'not-applicable')),
    ).toBe('The card is to blame, not the file.');
  });

  it('says "not the card" only when the card was judged and passed', () => {
    const good = finding('volume/found', 'holds');
    expect(sentence(finding('file/misnamed'), good)).toMatch(
      /files on the card are to blame, not the card\.$/,
    );
    expect(sentence(finding('file/misnamed'), good, finding('volume/fragments', 'unknown'))).toMatch(
      /files on the card are to blame\.$/,
    );
    expect(sentence(finding('image/sound'), good)).toBe('The update file itself is to blame, not the card.');
    expect(sentence(finding('machine/build-fits'), good, finding('image/sound', 'holds'))).toBe(
      'The choice of build for this machine and its supply is to blame, not the file and not the card.',
    );
    expect(sentence(finding('machine/build-fits'), good)).toBe(
      'The choice of build for this machine and its supply is to blame, not the card.',
    );
    expect(blameText(blame({ findings: [finding('file/misnamed'), good] }), 'staging')).not.toMatch(/card/);
  });

  it('names all, first what to mend first', () => {
    expect(sentence(finding('machine/build-fits'), finding('file/misnamed'), finding('card/boot-flag'))).toBe(
      'To blame: the card (1 fault), the files on it (1 fault) and the choice of build for this machine and its supply (1 fault). Mend them in the order below.',
    );
    expect(sentence(finding('image/sound'), finding('file/misnamed'), finding('companion/size'))).toBe(
      'To blame: the files on the card (2 faults) and the update file itself (1 fault). Mend them in the order below.',
    );
    expect(sentence(finding('own/label'))).toBeNull();
    expect(sentence()).toBeNull();
  });
});

describe('the order in which to mend', () => {
  it('is card, files, update file, build; among equals the worst hazard first', () => {
    const given = [
      finding('own/label', 'failed', 'unsafe'),
      finding('machine/build-fits', 'failed', 'unsafe'),
      finding('image/sound', 'failed', 'unbootable'),
      finding('companion/size', 'failed', 'ignored'),
      finding('file/misnamed', 'failed', 'ignored'),
      finding('file/whole', 'failed', 'unbootable'),
      finding('volume/fragments', 'failed', 'unbootable'),
      finding('card/partition-type', 'failed', 'ignored'),
    ];
    expect(mendOrder(given).map(({ rule }) => rule)).toEqual([
      'volume/fragments',
      'card/partition-type',
      'file/whole',
      'companion/size',
      'file/misnamed',
      'image/sound',
      'machine/build-fits',
      'own/label',
    ]);
    expect(given[0]?.rule).toBe('own/label');
  });
});
