import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { renewed } from '../../src/build/readme.js';

const root = join(import.meta.dirname, '../..');

test('README.md shows what the commands print today; else: npm run readme', () => {
  expect(readFileSync(join(root, 'README.md'), 'utf8')).toBe(renewed(root));
}, 60_000);
