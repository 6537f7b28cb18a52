import { describe, expect, it } from 'vitest';
import {
  glossaryMarkdown,
  markdownText,
  pageName,
  rowsMarkdown,
  ruleMarkdown,
} from '../../src/report/rule-markdown.js';
import { rule } from './sample-rule.js';

const page = ruleMarkdown(
  rule,
  {
    examples: [{ name: 'clusters of 32 KiB', expect: 'failed' }],
    glossary: [{ term: 'card', also: [], means: 'A *thing*.' }],
  },
  new Map([['2.7', 'Another size']]),
);

describe('a page in Markdown', () => {
  it('has a section for every question of an owner', () => {
    expect([...page.matchAll(/^## (.+)$/gm)].map(([, title]) => title)).toEqual([
      'What this is about',
      'What is compared',
      'What happens if you flash anyway',
      'How to mend it',
      'Examples',
      'Sources',
      'The test itself, in the language of rules',
      'Words used here',
      'What can go wrong',
    ]);
    for (const text of [
      '# Cluster size the boot loader can read\n',
      'When the boot loader erases the old program before it has read the new one:\n\n- **unbootable:**',
      '- **Is it permanent?** ',
      '- clusters of 32 KiB: failed\n',
      '- 2.7 Another size\n',
      '- **card:** A \\*thing\\*.\n',
      '- must: `volume.clusterBytes in board.loader.clusterBytes`\n',
    ])
      expect(page).toContain(text);
  });

  it('says that steps erase before the steps, and keeps what is to be typed as it is', () => {
    expect(page).toContain(
      '### Windows, no administrator rights\n\n**This erases the card.**\n\n1. Open it.\n2. Format it.\n',
    );
    expect(page).toContain('\n\n   ```text\n   mkfs.fat\n   ```\n');
    expect(page).toContain('### Any computer, no administrator rights\n\n   Use another card.');
    for (const line of page.split('\n')) expect(line).toBe(line.trimEnd());
  });

  it('lets no text become markup', () => {
    expect(markdownText('a <b> [c](d) *e* _f_ `g` | # h \\')).toBe(
      'a \\<b\\> \\[c\\](d) \\*e\\* \\_f\\_ \\`g\\` \\| \\# h \\\\',
    );
    expect(markdownText('1. no list')).toBe('1\\. no list');
  });
});

describe('tables in Markdown', () => {
  it('name rules, cards and reasons of a row', () => {
    const table = rowsMarkdown(new Map([['2', 'File system']]), [
      {
        row: '2.7',
        title: 'A | B',
        rules: ['volume/cluster-size'],
        failing: ['big'],
        passing: [],
        reason: null,
      },
      { row: '2.9', title: 'C', rules: [], failing: [], passing: [], reason: 'Nobody can see it.' },
      { row: '3.1', title: 'D', rules: [], failing: [], passing: [], reason: 'x' },
    ]);
    expect(table).toContain(
      '| 2.7 | A \\| B | [volume/cluster-size](volume-cluster-size.md) | [big](../../test/err/big/card.sh) |  |\n',
    );
    expect(table).toContain('| 2.9 | C | Nobody can see it. |  |  |\n');
    expect(table).not.toContain('3.1');
    expect(pageName('volume/cluster-size')).toBe('volume-cluster-size.md');
  });

  it('list words in alphabetical order', () => {
    const words = glossaryMarkdown([
      { term: 'volume', also: ['drive'], means: 'V.' },
      { term: 'FAT', also: [], means: 'F.' },
    ]);
    expect(words).toMatch(/\*\*FAT\*\*: F\.\n- \*\*volume\*\* \(also: drive\): V\.\n$/);
  });
});
