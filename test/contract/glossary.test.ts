import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { readNotJudged, readRows } from '../../src/build/pages.js';
import { readGlossary, wordsUsed } from '../../src/report/glossary.js';
import { hazardText, permanenceText } from '../../src/report/hazard-words.js';
import { templateText } from '../../src/report/rule-text.js';
import { hazards } from '../../src/rules/rule.js';
import { builtRules } from '../support/check-card.js';

const root = join(import.meta.dirname, '..', '..');
const glossary = readGlossary(readFileSync(join(root, 'rules', 'glossary.yaml'), 'utf8'), 'glossary.yaml');
const { rules } = builtRules();

/** Words of the trade that an owner of a machine neither knows nor needs. */
const jargon = [
  /\bBPB\b/i,
  /\bLBA\b/i,
  /\bCHS\b/,
  /\binodes?\b/i,
  /\bLFNs?\b/i,
  /\bSFNs?\b/i,
  /\bdirents?\b/i,
  /\bendian/i,
  /\bNTRes\b/i,
  /\bFSInfo\b/i,
  /\bsuperfloppy\b/i,
  /\bVBR\b/,
  /\bMCU\b/,
  /\bSoC\b/,
  /\bEOF\b/,
  /\bEOC\b/,
  /\bbitmask\b/i,
  /\bnibbles?\b/i,
  /\bmalformed\b/i,
  /\bheuristic/i,
  /\bcross-?link/i,
  /\boff-by-one\b/i,
];

/** What is to be typed must stand as it is. */
const prose = (text: string): string => text.replaceAll(/^ {4,}.*$/gm, '').replaceAll(/\btype: .*$/gim, '');

const texts = rules.flatMap(({ id, title, found, needed, why, show, provided, remedy }) => [
  [`${id} title`, title] as const,
  [`${id} found`, templateText(found)] as const,
  [`${id} needed`, templateText(needed)] as const,
  [`${id} why`, templateText(why)] as const,
  ...(show ? [[`${id} show`, templateText(show)] as const] : []),
  ...provided.map(({ text }) => [`${id} provided`, templateText(text)] as const),
  ...remedy.map((step) => [`${id} remedy`, prose(templateText(step.do))] as const),
]);

describe('texts for owners', () => {
  it.each(texts)('hold no jargon: %s', (_where, text) => {
    expect(jargon.filter((word) => word.test(text)).map(String)).toEqual([]);
  });

  it('hold no jargon: words for hazards, glossary, rows and reasons', () => {
    const others = [
      ...hazards.flatMap((hazard) => [hazardText(hazard), permanenceText(hazard)]),
      ...glossary.flatMap(({ term, also, means }) => [term, ...also, means]),
      ...readRows(root).titles.values(),
      ...readNotJudged(root).values(),
    ];
    for (const text of others)
      expect({ text, found: jargon.filter((word) => word.test(text)).map(String) }).toEqual({
        text,
        found: [],
      });
  });
});

describe('the glossary', () => {
  it('has each word once, with a plain sentence that does not use the word itself to explain it', () => {
    const forms = glossary.flatMap(({ term, also }) => [term, ...also]);
    expect(forms.filter((form, index) => forms.indexOf(form) !== index)).toEqual([]);
    for (const { term, means } of glossary)
      expect({ term, means }).toEqual({ term, means: expect.stringMatching(/^[A-Z].*[.]$/) });
  });

  it('explains the words that every owner meets', () => {
    for (const term of [
      'cluster',
      'partition',
      'partition table',
      'MBR',
      'GPT',
      'FAT',
      'FAT12',
      'FAT16',
      'FAT32',
      'exFAT',
      'boot sector',
      'boot loader',
      'update file',
      'companion file',
      'piece',
      'directory entry',
      'root folder',
      'volume label',
      'sector',
      'manifest',
      'SHA-256',
      'CRC-32',
      'UF2',
      'Intel HEX',
      'vector table',
    ])
      expect([term, glossary.some((word) => word.term === term)]).toEqual([term, true]);
  });

  it('explains every capital abbreviation of the texts', () => {
    // Units, kinds of cards by the word, endings of file names, commands and names of systems explain themselves.
    const plain = /^(?:GB|MB|TB|KB|SD|USB|OK|ID|PC|SHA|CRC|HEX|MS-DOS|CARD|DISK|OLD|NEW|FILE|LOCK|FF|[A-Z])$/;
    const unknown = texts.flatMap(([where, text]) =>
      [...text.matchAll(/(?<![\w.<"/-])[A-Z][A-Z0-9]+(?:-[A-Z0-9]+)*(?![\w.>"/=])/g)]
        .map(([word]) => word)
        .filter((word) => !plain.test(word) && wordsUsed(word, glossary).length === 0)
        .map((word) => `${where}: ${word}`),
    );
    expect(unknown).toEqual([]);
  });
});
