import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { generatePages } from '../../src/build/pages.js';
import { generatedMark } from '../../src/report/rule-markdown.js';

const root = join(import.meta.dirname, '..', '..');
const folder = join(root, 'rules', 'pages');
const pages = generatePages(root);

describe('the pages of rules', () => {
  it('are those that npm run pages makes, no more and no fewer', () => {
    expect(readdirSync(folder).sort()).toEqual([...pages.keys()].sort());
  });

  it.each([...pages.keys()])('%s is not stale', (name) => {
    expect(readFileSync(join(folder, name), 'utf8')).toBe(pages.get(name));
  });

  it('say that they are generated, and lead nowhere else than to what is there', () => {
    for (const [name, text] of pages) {
      expect(text.startsWith(generatedMark)).toBe(true);
      const links = [...text.matchAll(/\]\(([^)]+)\)/g)].map(([, target]) => target ?? '');
      for (const link of links) {
        const file = link.startsWith('../../test/')
          ? readFileSync(join(folder, link), 'utf8')
          : pages.get(link);
        expect({ name, link, there: file !== undefined }).toEqual({ name, link, there: true });
      }
    }
  });

  it('say before the steps when these erase the card', () => {
    const erasing =
      /\bmkfs|\bnewfs|\bsfdisk\b.*--wipe|\bdiskpart\b|Press Erase|Format Disk|^\d+\. Format the card/m;
    let seen = 0;
    for (const [name, text] of pages)
      for (const part of text.split(/^(?=##)/m).filter((each) => each.startsWith('### '))) {
        const [, warning, ...steps] = part.split('\n\n');
        if (!erasing.test(warning + steps.join('\n\n'))) continue;
        seen++;
        expect({ name, warning }).toEqual({ name, warning: '**This erases the card.**' });
      }
    expect(seen).toBeGreaterThan(10);
  });
});
