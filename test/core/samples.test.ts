import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { withCard } from '../support/cards.js';

const folder = join(import.meta.dirname, '../../samples/cards');
const samples = readdirSync(folder)
  .filter((name) => name.endsWith('.sh'))
  .map((name) => name.slice(0, -'.sh'.length));

describe('the cards of samples/cards', () => {
  test('are as many as their recipes', () => {
    const images = readdirSync(folder).filter((name) => name.endsWith('.img.gz'));
    expect(images.map((name) => name.slice(0, -'.img.gz'.length)).sort()).toEqual(samples.sort());
  });

  // mkfs.exfat draws a new serial number each time; every other card comes out of its recipe byte for byte.
  test.concurrent.each(samples)('%s is what its recipe makes', async (name) => {
    const committed = gunzipSync(readFileSync(join(folder, `${name}.img.gz`)));
    const made = await withCard(join(folder, `${name}.sh`), (image) => readFileSync(image));
    expect(made.length).toBe(committed.length);
    if (name === 'burr-exfat')
      expect(made.subarray(1 << 20, (1 << 20) + 11)).toEqual(committed.subarray(1 << 20, (1 << 20) + 11));
    else expect(made.equals(committed)).toBe(true);
  });
});
