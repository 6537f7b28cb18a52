import { describe, expect, it } from 'vitest';
import { hazardsOf, ruleGroups, rulePage, ruleTable } from '../../src/report/rule-page.js';
import { conditionText, templateText } from '../../src/report/rule-text.js';
import { compileCondition, compileTemplate } from '../../src/rules/compile.js';
import { refused } from './sample-reports.js';
import { rule } from './sample-rule.js';

describe('the page of a rule', () => {
  it('says everything an owner asks, and no row of the catalogue', () => {
    const page = rulePage(rule, { width: 80, color: false });
    expect(page).toMatch(/^Cluster size the boot loader can read\nvolume\/cluster-size\n/);
    for (const text of [
      'A card hands out its space in pieces of one size.',
      'Found on a bad card: clusters of <the cluster size of the card>',
      'Needed: clusters of <the cluster size that this board reads>',
      'When the boot loader erases the old program before it has read the new one:',
      'unbootable: The board would lose its old program',
      'Is it permanent? It stays so until',
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

  it('fills in the values of a card that was checked', () => {
    const [finding] = refused.findings;
    const page = rulePage(rule, { width: 80, color: false }, { finding: finding! });
    for (const text of [
      'Outcome: failed',
      'Found: clusters of 32 KiB',
      'Needed: clusters of 4 KiB',
      'A card hands out its space in pieces of one size. This boot loader is written\n  for 4 KiB',
      'sudo mkfs.fat -F 32 -s 8 /dev/sdX1',
      'THIS ERASES THE CARD.\n    1. Type this line',
    ])
      expect(page).toContain(text);
    // Neither what other cards would risk nor anything to be filled in.
    expect(page).not.toMatch(/Otherwise|Nothing is lost|<cluster|angle brackets/);
  });

  it('leaves a condition without plain words to the last section', () => {
    const guard = compileCondition('size(files) > 3');
    const page = rulePage(
      { ...rule, hazard: [{ if: guard, is: 'looped' }, { is: 'advice' }] },
      { width: 80, color: false },
    );
    expect(page).toContain('  In some cases (the test at the end of this page tells which):\n  looped: ');
    expect(page).toContain('  looped when: size(files) > 3\n');
  });

  it('does not frighten when the rule holds', () => {
    const finding = { ...refused.findings[0]!, outcome: 'holds' as const, remedy: [] };
    const page = rulePage(rule, { width: 80, color: false }, { finding });
    expect(page).toContain('Outcome: passed');
    expect(page).not.toContain('Found:');
  });

  it('lets nothing out of a report reach the terminal as it is', () => {
    const finding = { ...refused.findings[0]!, found: 'evil\u001b[2J', shown: ['a\u202eb'], total: 9 };
    const page = rulePage(rule, { width: 80, color: false }, { finding });
    expect(page).not.toMatch(/[\p{Cf}]|[^\P{Cc}\n]/u);
    expect(page).toContain('- a<U+202E>b\n  - and 8 more');
  });

  it('gives examples, and explains the words that it uses', () => {
    const page = rulePage(
      rule,
      { width: 80, color: false },
      {
        examples: [
          { name: 'clusters of 32 KiB', expect: 'failed' },
          { name: 'a folder', expect: 'unknown' },
        ],
        glossary: [
          { term: 'cluster', also: [], means: 'A piece of space.' },
          { term: 'MBR', also: [], means: 'A table.' },
        ],
      },
    );
    expect(page).toContain('  - clusters of 32 KiB: failed\n  - a folder: could not be judged\n');
    expect(page).toMatch(/Words used here\n {2}cluster: A piece of space\.\n$/);
    expect(page).not.toContain('MBR');
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

describe('the list of rules by group', () => {
  it('has every rule once, and says how to go on', () => {
    const own = { ...rule, id: 'own/label', title: 'A label' };
    const text = ruleGroups([rule, own], { width: 60, color: false });
    for (const line of text.split('\n').slice(0, 6)) expect(line.length).toBeLessThanOrEqual(60);
    expect(text).toMatch(/^The file system on it\n {2}volume\/cluster-size {2}Cluster size/);
    expect(text).toMatch(/\nown\n {2}own\/label {12}A label\n/);
    expect(text).toContain('  flashworthy explain --report report.json\n');
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
    expect(plain('{"FAT32" in board.loader.fileSystems ? "FAT32" : "FAT"}')).toBe('<FAT32 or FAT>');
    expect(plain('format{present(volume.label) ? " -n " + volume.label : ""}')).toBe(
      'format [-n <volume label>]',
    );
    expect(plain('{filesTotal} {plural(filesTotal, "file", "files")}')).toBe(
      '<files and folders on the volume> files',
    );
    expect(plain('-s {volume.clusterBytes / 512}')).toBe('-s <the cluster size of the card / 512>');
    expect(plain('{quote(updateFile.name)}')).toBe('"<the name of the update file>"');
    expect(plain('number {updateFile.entryIndex + 1}')).toBe('number <its place in the list>');
    expect(plain('{volume.bytes - partition.bytes}')).toBe(
      '<size of the volume, as the boot sector says - length>',
    );
    expect(plain('{count(filesTotal, "file", "files")}')).toBe('<number> files');
    expect(plain('{present(volume.label) ? "One." : "Two."}')).toBe('One. Or: Two.');
    expect(plain('{present(volume.label) ? "one word" : "two words"}')).toBe('one word or two words');
  });
});
