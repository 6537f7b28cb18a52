import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { MemorySource } from '../../src/bytes/byte-source.js';
import { secondReader } from '../../src/cli/second-reader.js';
import { rehearsalReport, rehearseSubject } from '../../src/core/rehearsal-report.js';
import { nodeDigests } from '../../src/node/digests.js';
import { askFatFs, loadFatFs, pathForDriver, sectorBytesOf } from '../../src/node/fatfs-opinion.js';
import { type DriverAnswer, driverOpinion } from '../../src/rehearsal/driver.js';
import { builtRules, withSubject } from '../support/check-card.js';

const root = join(import.meta.dirname, '../..');
const folder = mkdtempSync(join(tmpdir(), 'flashworthy-reader-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const content = Buffer.from(Array.from({ length: 70_000 }, (_one, at) => (at * 31) % 251));
const sha256 = createHash('sha256').update(content).digest('hex');

/** A volume by mkfs.fat with the content as SUB/NAME.BIN, copied by mcopy. */
function volume(bytes: number, ...options: string[]): MemorySource {
  const image = join(folder, 'volume.img');
  writeFileSync(image, '');
  truncateSync(image, bytes);
  execFileSync('mkfs.fat', [...options, image], { stdio: 'ignore' });
  writeFileSync(join(folder, 'name.bin'), content);
  execFileSync('mmd', ['-i', image, '::SUB']);
  execFileSync('mcopy', ['-i', image, join(folder, 'name.bin'), '::SUB/NAME.BIN']);
  return new MemorySource(new Uint8Array(readFileSync(image)));
}

async function driver(): Promise<Exclude<Awaited<ReturnType<typeof loadFatFs>>, string>> {
  const fatFs = await loadFatFs();
  if (typeof fatFs === 'string') throw new Error(fatFs);
  return fatFs;
}

describe('the driver fatfs', () => {
  it.each([
    [2 * 1024 * 1024, ['-F', '12']],
    [16 * 1024 * 1024, ['-F', '16', '-s', '1']],
    [40 * 1024 * 1024, ['-F', '32', '-s', '1']],
    [64 * 1024 * 1024, ['-F', '16', '-S', '2048']],
  ])('reads a volume of %i bytes made with %j', async (bytes, options) => {
    const source = volume(bytes, ...options);
    const answer = await askFatFs(await driver(), source, sectorBytesOf(source), 'SUB/NAME.BIN', nodeDigests);
    expect(answer).toEqual({
      mount: { code: 0, name: 'FR_OK' },
      open: { code: 0, name: 'FR_OK' },
      file: { bytes: content.length, sha256 },
    });
  });

  it('says so when it finds no volume, no file, or no end', async () => {
    const fatFs = await driver();
    const nothing = new MemorySource(new Uint8Array(1024 * 1024));
    expect(await askFatFs(fatFs, nothing, 512, 'A.BIN', nodeDigests)).toEqual({
      // FRESULT of ff.h.
      mount: { code: 13, name: 'FR_NO_FILESYSTEM' },
      open: null,
      file: null,
    });
    const source = volume(2 * 1024 * 1024, '-F', '12');
    const missing = await askFatFs(fatFs, source, 512, 'NAME.BIN', nodeDigests);
    expect(missing).toMatchObject({ open: { code: 4, name: 'FR_NO_FILE' }, file: null });
    const none = await askFatFs(fatFs, source, 512, null, nodeDigests);
    expect(none).toMatchObject({ mount: { code: 0 }, open: null, file: null });
  });

  it('is given short names, which it compares byte by byte', () => {
    const entry = { name: 'Long file name.bin', shortName: 'LONGFI~1.BIN', folder: 'Ünter', isFolder: false };
    const above = [{ name: 'Ünter', shortName: 'UNTER' }];
    const path = (more: object): string | null => pathForDriver({ ...entry, above, ...more } as never);
    expect(path({})).toBe('UNTER/LONGFI~1.BIN');
    expect(path({ shortName: 'Ü.BIN' })).toBe('UNTER/Long file name.bin');
    expect(path({ shortName: 'Ü.BIN', name: 'Ü.BIN' })).toBeNull();
  });
});

const ok = { code: 0, name: 'FR_OK' };
const good: DriverAnswer = { mount: ok, open: ok, file: { bytes: content.length, sha256 } };
const own = { bytes: content.length, sha256, isDisputed: false };
const refused: DriverAnswer = { mount: { code: 13, name: 'FR_NO_FILESYSTEM' }, open: null, file: null };

describe('two readers of one card', () => {
  it.each([
    ['the same bytes', good, own, true],
    ['other bytes', { ...good, file: { bytes: content.length, sha256: '0'.repeat(64) } }, own, false],
    ['fewer bytes', { ...good, file: { bytes: 1, sha256 } }, own, false],
    ['a file without an end', { ...good, file: null }, own, false],
    ['a file that is not found', { ...good, open: { code: 4, name: 'FR_NO_FILE' }, file: null }, own, false],
    ['a volume that is refused', refused, own, false],
    ['a volume about which drivers disagree', refused, { ...own, isDisputed: true }, null],
    ['no volume, for both', refused, { ...own, bytes: null, sha256: null }, true],
    [
      'a volume without the file',
      { ...good, open: null, file: null },
      { ...own, bytes: null, sha256: null },
      null,
    ],
  ])('%s', (_name, answer, reading, agrees) => {
    expect(driverOpinion('card', answer, reading).agrees).toBe(agrees);
  });

  it('see the sample card alike, and together they say that it starts', async () => {
    const image = join(root, 'samples/cards/tansy-fit.img.gz');
    await withSubject(image, { release: 'tansy-31', supply: 'small', installed: '30' }, async (subject) => {
      const { profile } = subject;
      const done = rehearseSubject(
        { ...subject, profile: profile! },
        { ruleSet: builtRules(), version: 'test' },
      );
      const opinion = await secondReader(subject.target, done, nodeDigests);
      expect(opinion).toMatchObject({ given: 'card', agrees: true, answer: { mount: ok, open: ok } });
      const commands = { check: 'check', rehearse: 'rehearse' };
      expect(rehearsalReport(done, opinion, commands)).toMatchObject({ answer: 'starts' });
      // Where they differ, nobody can say that it starts.
      const differs = driverOpinion('card', refused, own);
      expect(rehearsalReport(done, differs, commands)).toMatchObject({ answer: 'cannot-tell', provided: [] });
    });
  });
});
