import { describe, expect, it } from 'vitest';
import { hazardsOf, rulePage, ruleTable } from '../../src/report/rule-page.js';
import { conditionText, templateText } from '../../src/report/rule-text.js';
import { compileCondition, compileTemplate } from '../../src/rules/compile.js';
import type { Rule } from '../../src/rules/rule.js';

const rule: Rule = {
  id: 'volume/cluster-size',
  title: 'Cluster size the boot loader can read',
  hazard: [
    { if: compileCondition('board.loader.erases == "before-reading"'), is: 'unbootable' },
    { is: 'ignored' },
  ],
  keystone: 'volume-found',
  after: ['volume/found'],
  when: compileCondition('present(volume.clusterBytes)'),
  must: compileCondition('volume.clusterBytes in board.loader.clusterBytes'),
  each: null,
  show: null,
  settledBy: null,
  provided: [],
  found: compileTemplate('clusters of {sizeText(volume.clusterBytes)}'),
  needed: compileTemplate('clusters of {sizesText(board.loader.clusterBytes)}'),
  why: ['A card hands out its space\nin pieces of one size.'],
  remedy: [
    { system: 'windows', rights: 'none', erases: true, do: ['1. Open it.\n2. Format it.'] },
    { system: 'linux', rights: 'administrator', erases: true, do: ['Type:\n     mkfs.fat'] },
    { system: 'any', rights: 'none', erases: false, do: ['Use another card.'] },
  ],
  where: null,
  sources: [{ title: 'FAT specification', section: '3.1', url: 'https://example.org/fat' }],
  catalogue: ['2.7'],
  touches: [],
};

describe('the page of a rule', () => {
  it('says everything an owner asks, and no row of the catalogue', () => {
    const page = rulePage(rule, { width: 80, color: false });
    expect(page).toMatch(/^Cluster size the boot loader can read\nvolume\/cluster-size\n/);
    for (const text of [
      'A card hands out its space in pieces of one size.',
      'Found:   clusters of <bytes in a cluster (allocation unit)>',
      'Needed:  clusters of <cluster sizes that the loader reads>',
      'When board.loader.erases == "before-reading":',
      'unbootable: The board would lose its old program',
      'Otherwise:',
      'Nothing is lost',
      'cannot be waived',
      'Windows, no administrator rights:\n  THIS ERASES THE CARD.\n    1. Open it.',
      'Linux, as an administrator:',
      'only when these did not fail: volume/found',
      'must: volume.clusterBytes in board.loader.clusterBytes',
      '- FAT specification, 3.1, https://example.org/fat',
    ])
      expect(page).toContain(text);
    expect(page).not.toContain('2.7');
    for (const line of page.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
  });

  it('is the same with colour and without', () => {
    const colored = rulePage(rule, { width: 80, color: true });
    expect(colored).toContain('\u001b[');
    expect(colored.replaceAll(/\u001b\[\d+m/g, '')).toBe(rulePage(rule, { width: 80, color: false }));
  });
});

describe('the table of rules', () => {
  it('fits 80 columns, with every hazard and a mark where a rule must hold', () => {
    const other = {
      ...rule,
      id: 'file/present',
      keystone: null,
      hazard: [{ is: 'advice' as const }],
      title: 'x'.repeat(30),
    };
    const table = ruleTable([rule, other], { width: 80, color: false });
    for (const line of table.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
    expect(table).toMatch(/^\* volume\/cluster-size {2}unbootable {5}Cluster size/m);
    expect(table).toMatch(/^ {23}ignored/m);
    expect(table).toMatch(/^ {2}file\/present {9}advice/m);
    expect(hazardsOf(rule)).toEqual(['unbootable', 'ignored']);
  });
});

describe('conditions written out again', () => {
  const sources = [
    'volume.clusterBytes in board.loader.clusterBytes',
    'present(volume.label) && !present(volume.serial)',
    '(volume.fatCount == 1 || volume.fatCount == 2) && volume.clusterBytes >= 512',
    'volume.fatCount == 1 || volume.fatCount == 2 && volume.clusterBytes >= 512',
    '!(volume.fatCount == 1 && volume.fatCount > 2)',
    'files.all(f, f.bytes > 0 || f.isFolder)',
    'files.exists(f, f.name.startsWith("._"))',
    'size(files) - (filesTotal - 1) < 3',
    '(filesTotal - 1) * 2 % 3 == 0',
    'volume.fatCount == (present(volume.label) ? 1 : 2)',
    'updateFile.path in ["a", "b\\"c"]',
    'updateFile.candidates[0] == updateFile.path',
    '-volume.fatCount < 0',
  ];
  for (const source of sources)
    it(`mean the same: ${source}`, () => {
      const compiled = compileCondition(source);
      expect(compileCondition(conditionText(compiled))).toEqual(compiled);
      expect(conditionText(compiled).length).toBeLessThanOrEqual(source.length + 2);
    });
});

describe('texts without a card at hand', () => {
  const plain = (source: string): string => templateText(compileTemplate(source));
  it('name what would be filled in', () => {
    expect(plain('{sizeText(volume.bytes)} big')).toBe('<size of the volume, as the boot sector says> big');
    expect(plain('{"FAT32" in board.loader.fileSystems ? "FAT32" : "FAT"}')).toBe('FAT32/FAT');
    expect(plain('format{present(volume.label) ? " -n " + volume.label : ""}')).toBe(
      'format [-n <volume label>]',
    );
    expect(plain('{filesTotal} {plural(filesTotal, "file", "files")}')).toBe(
      '<files and folders on the volume> files',
    );
    expect(plain('-s {volume.clusterBytes / 512}')).toBe('-s <bytes in a cluster (allocation unit) / 512>');
    expect(plain('{quote(updateFile.name)}')).toBe('"<its long name, or the short one in its stored case>"');
    expect(plain('{present(volume.label) ? "one word" : "two words"}')).toBe('one word or two words');
  });
});
