import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { Target } from '../../src/core/collect.js';
import { openDevice } from '../../src/node/device-target.js';
import { openFolder } from '../../src/node/folder-target.js';
import { linuxSystem } from '../../src/node/systems/linux.js';
import type { Report } from '../../src/report/report.js';
import { type RecipeCard, recipes, withCard } from '../support/cards.js';
import { checkCardFile, checkSubject, withSubject } from '../support/check-card.js';
import { withLoop } from '../support/loop-device.js';
import { shownByLinux } from '../support/mounted-card.js';

/*
 * Every card of test/ok and test/err as an image, as a block device (losetup) and as a mounted folder. The kernel here
 * has no FAT driver, so the folder is what mtools takes out of the image, with tables as the kernel and udev write them.
 */
const system = linuxSystem();

async function checked(
  card: RecipeCard,
  image: string,
  target: Target,
  stated: { fresh?: boolean } = {},
): Promise<Report> {
  return withSubject(image, card.options, (subject) =>
    checkSubject({ ...subject, target, stated: { ...subject.stated, ...stated } }),
  );
}

async function asDevice(card: RecipeCard, image: string): Promise<Report> {
  return withLoop(image, async (path) => {
    const details = system.deviceOf?.(path);
    if (typeof details?.bytes !== 'number' || typeof details.sectorBytes !== 'number')
      throw new Error(`the size of ${path} is not known`);
    const { target, close } = openDevice(
      path,
      { ...details, bytes: details.bytes, sectorBytes: details.sectorBytes },
      system,
    );
    try {
      return await checked(card, image, target);
    } finally {
      close();
    }
  });
}

async function asFolder(card: RecipeCard, image: string, startByte: number, fresh: boolean): Promise<Report> {
  const work = mkdtempSync(join(tmpdir(), 'flashworthy-shown-'));
  try {
    const shown = shownByLinux(image, work, { startByte });
    const volume = linuxSystem(shown.computer).volumeOf(shown.root);
    if (volume === null) throw new Error('the volume was not found in the tables');
    const { target, close } = openFolder(
      shown.root,
      { ...volume, card: null, ...(byShortNames.includes(card.name) ? { driver: 'mtools' } : {}) },
      'linux',
    );
    try {
      return await checked(card, image, target, { fresh });
    } finally {
      close();
    }
  } finally {
    rmSync(work, { recursive: true, force: true });
  }
}

/** Where a computer finds a FAT volume to mount; null where it finds none. */
function mountedAt(report: Report): number | null {
  const { volume } = report.facts as { volume?: { startByte?: number; fileSystem?: string } };
  return volume?.startByte !== undefined && volume.fileSystem?.startsWith('FAT') ? volume.startByte : null;
}

const failed = ({ findings }: Report): string[] =>
  findings
    .filter(({ outcome, hazard }) => outcome === 'failed' && hazard !== 'advice')
    .map(({ rule }) => rule);

/**
 * Cards whose files are found by short names that are not their long ones. The kernel's driver opens files by both; a
 * folder that mtools filled does not, so it is taken for one of an unknown driver.
 */
const byShortNames = ['companion-found-by-its-short-name', 'folder-with-another-long-name'];

const seen = { folders: 0, devices: 0, refusedFolders: 0, fitFolders: 0 };

describe.each(['ok', 'err'] as const)('cards under test/%s', (kind) => {
  test.each(recipes(kind).map((card) => [card.name, card] as const))(
    '%s says the same in every view',
    async (_name, card) => {
      await withCard(card.recipe, async (image) => {
        if (!existsSync(image)) return;
        const report = await checkCardFile(image, card.options);
        // A dying card cannot be made out of a file.
        if (card.options.unreadable === undefined) {
          const device = await asDevice(card, image);
          seen.devices++;
          // A device shows how large the card is, which an image does not: a rule about that may fail there alone.
          const bySize = ['card/capacity-class', 'card/exact-size'];
          expect(failed(device).filter((rule) => !bySize.includes(rule))).toEqual(
            failed(report).filter((rule) => !bySize.includes(rule)),
          );
        }
        const at = mountedAt(report);
        if (at === null) return;
        const folder = await asFolder(card, image, at, false);
        seen.folders++;
        if (folder.verdict === 'refused') seen.refusedFolders++;
        expect(`${report.verdict} ${folder.verdict}: ${failed(folder)}`).not.toMatch(
          /^fit refused|^refused fit/,
        );
        expect(folder.verdict).not.toBe('fit');
        if (kind === 'ok') {
          const fresh = await asFolder(card, image, at, true);
          if (fresh.verdict === 'fit') seen.fitFolders++;
          expect(`${report.verdict} ${fresh.verdict}: ${failed(fresh)}`).not.toMatch(
            /^fit refused|^refused fit/,
          );
        }
      });
    },
  );
});

test('many cards were looked at in every way', () => {
  expect(seen.devices).toBeGreaterThan(100);
  expect(seen.folders).toBeGreaterThan(100);
  expect(seen.refusedFolders).toBeGreaterThan(30);
  expect(seen.fitFolders).toBeGreaterThan(5);
});
