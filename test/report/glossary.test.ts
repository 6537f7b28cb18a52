import { describe, expect, it } from 'vitest';
import { readGlossary, wordsUsed } from '../../src/report/glossary.js';
import { RuleError } from '../../src/rules/rule-error.js';

const head = 'schema: flashworthy-glossary/1\nwords:\n';
const glossary = readGlossary(
  `${head}  - { term: FAT, means: A family. }
  - { term: FAT32, means: One of them. }
  - { term: cluster, also: [allocation unit, long-name], means: A piece. }
  - { term: flash, also: [flashed], means: To write. }\n`,
  'glossary.yaml',
);
const terms = (text: string): string[] => wordsUsed(text, glossary).map(({ term }) => term);

describe('words of the glossary in a text', () => {
  it('are found as words, in the plural, in their other forms and over a line break', () => {
    expect(terms('Clusters of 4 KiB')).toEqual(['cluster']);
    expect(terms('the allocation\n  units')).toEqual(['cluster']);
    expect(terms('a long-name entry')).toEqual(['cluster']);
    expect(terms('FAT32 only')).toEqual(['FAT32']);
    expect(terms('exFAT, a fat file, clustered, flashworthy')).toEqual([]);
    expect(terms('(FAT), was flashed')).toEqual(['FAT', 'flash']);
    expect(terms('')).toEqual([]);
  });
});

describe('a glossary file that is wrong', () => {
  it.each([
    ['', /1:1/],
    ['schema: other\nwords: []\n', /schema/],
    [`${head}  - { term: FAT }\n`, /means/],
    [`${head}  - { term: FAT, means: '' }\n`, /empty/],
    [`${head}  - { term: FAT, means: x, see: y }\n`, /see/],
    [`${head}  - { term: 12, means: x }\n`, /term/],
  ])('is told with its place: %j', (text, message) => {
    let problem: unknown;
    try {
      readGlossary(text, 'glossary.yaml');
    } catch (error) {
      problem = error;
    }
    expect(problem).toBeInstanceOf(RuleError);
    expect(String((problem as RuleError).message)).toMatch(message);
  });
});
