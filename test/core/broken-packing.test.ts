import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { checkCardFile } from '../support/check-card.js';

const sample = readFileSync(join(import.meta.dirname, '../../samples/cards/burr-good.img.gz'));

// RFC 1952 section 2.3.1.2: reserved bits of FLG must be zero. Section 2.3.1: the method is 8.
test.each([
  ['reserved flags in its header', 3, 0xe0],
  ['an unknown method in its header', 2, 0x01],
])('a packed image with %s is not proven, and the card is not blamed', async (_name, at, bits) => {
  const folder = mkdtempSync(join(tmpdir(), 'flashworthy-packing-'));
  try {
    const bytes = Buffer.from(sample);
    bytes[at]! ^= bits;
    const path = join(folder, 'card.img.gz');
    writeFileSync(path, bytes);
    const report = await checkCardFile(path, { board: 'burr', set: 'panel=none' });
    expect(report.verdict).toBe('not-proven');
    expect(report.findings.filter(({ outcome }) => outcome === 'failed')).toEqual([]);
    const causes = report.findings.flatMap(({ missing }) => missing ?? []).map(({ text }) => text);
    expect(causes.some((text) => text.includes('damaged in the image file'))).toBe(true);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
