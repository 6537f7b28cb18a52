import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { validateReport } from '../../src/board/schema/validators.js';
import type { Target } from '../../src/core/collect.js';
import { collectFacts } from '../../src/core/collect.js';
import { rehearseSubject } from '../../src/core/rehearsal-report.js';
import type { StatedMedia } from '../../src/facts/collect-media.js';
import { Absent, FactList, type FactValue, Unseen } from '../../src/facts/fact.js';
import type { FactStore } from '../../src/facts/fact-store.js';
import { openDevice } from '../../src/node/device-target.js';
import { openFolder } from '../../src/node/folder-target.js';
import { linuxSystem } from '../../src/node/systems/linux.js';
import type { MountedVolume } from '../../src/node/systems/system.js';
import { jsonReport } from '../../src/report/json.js';
import type { Report } from '../../src/report/report.js';
import { textReport } from '../../src/report/text.js';
import { withCard } from '../support/cards.js';
import {
  builtRules,
  checkCardFile,
  checkSubject,
  rehearseCardFile,
  withSubject,
} from '../support/check-card.js';
import { poke, run } from '../support/disk-images.js';
import { mayMount, withLoop } from '../support/loop-device.js';
import { type ShownHow, shownByLinux } from '../support/mounted-card.js';

/*
 * This kernel may have no FAT driver: what depends on it is tested with tables as the kernel and udev document them
 * (test/support/mounted-card.ts) and with the files that mtools takes out of the same image.
 */
const samples = join(import.meta.dirname, '../../samples/cards');
const tansy = { release: 'tansy-31', installed: '30', supply: '24V/6.5A' } as const;
const burr = { board: 'burr', set: 'panel=none' } as const;

type Options = Readonly<Record<string, string>>;

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Images by where they come from, unpacked or made once. Nothing here writes to one but what asks for its own. */
const images = new Map<string, string>();

/** The image of a sample card, or of a recipe under test/. */
async function imageOf(name: string): Promise<string> {
  const known = images.get(name);
  if (known !== undefined) return known;
  const image = join(folder, `card-${images.size}.img`);
  images.set(name, image);
  if (name.includes('/'))
    await withCard(join(import.meta.dirname, '..', name, 'card.sh'), (made) => copyFileSync(made, image));
  else writeFileSync(image, gunzipSync(readFileSync(join(samples, `${name}.img.gz`))));
  return image;
}

function shown(image: string, how: ShownHow = {}) {
  const made = shownByLinux(image, mkdtempSync(join(folder, 'shown-')), how);
  const volume = linuxSystem(made.computer).volumeOf(made.root) as MountedVolume;
  return { ...made, volume };
}

/** Uses a target with everything else that the options say. */
const checked = (
  image: string,
  options: Options,
  target: Target,
  stated: StatedMedia = {},
): Promise<Report> => withSubject(image, options, (subject) => checkSubject({ ...subject, target, stated }));

const facts = (
  image: string,
  options: Options,
  target?: Target,
  stated: StatedMedia = {},
): Promise<FactStore> =>
  withSubject(image, options, (subject) =>
    collectFacts({ ...subject, ...(target ? { target } : {}), stated }),
  );

/** A mounted card without the right to read the card itself. */
async function asFolder(
  image: string,
  options: Options,
  stated: StatedMedia = {},
  how: ShownHow = {},
): Promise<Report> {
  const { root, volume } = shown(image, how);
  const { target, close } = openFolder(root, { ...volume, card: null }, 'linux');
  try {
    return await checked(image, options, target, stated);
  } finally {
    close();
  }
}

const text = (report: Report): string =>
  textReport(report, {
    width: 80,
    color: false,
    verbose: false,
    system: 'linux',
    line: (card, more = []) =>
      ['flashworthy check', card, '--board tansy-31', ...more.map((each) => `--${each}`)].join(' '),
  });

const outcome = (report: Report, rule: string): string | undefined =>
  report.findings.find((finding) => finding.rule === rule)?.outcome;

describe('the journey of an owner without administrator rights', () => {
  test.each([
    ['tansy-fit', tansy],
    ['burr-good', burr],
  ] as const)('%s: not proven, then fit with provisos, then fit', async (sample, options) => {
    const image = await imageOf(sample);
    const { root, volume } = shown(image);
    const step = async (stated: StatedMedia): Promise<Report> => {
      const { target, close } = openFolder(root, { ...volume, card: null }, 'linux');
      try {
        return await checked(image, options, target, stated);
      } finally {
        close();
      }
    };

    const copied = await step({});
    expect(copied.verdict).toBe('not-proven');
    expect(validateReport(JSON.parse(jsonReport(copied, { width: 80, color: false, verbose: false })))).toBe(
      true,
    );
    const page = text(copied);
    const ways = [
      'Without administrator rights: a fresh card',
      'With administrator rights',
      'an image of the card',
    ];
    const places = ways.map((words) => page.indexOf(words));
    expect(places).toEqual([...places].sort((one, other) => one - other));
    expect(places[0]).toBeGreaterThan(0);
    expect(page).toContain(`    flashworthy check ${root} --board tansy-31 --fresh`);
    expect(page).toContain(`    sudo flashworthy check `);
    expect(page).toContain('    sudo dd if=');
    expect(page).toContain('THIS ERASES THE CARD.');

    const fresh = await step({ fresh: true });
    expect(fresh.verdict).toBe('fit');
    const provisos = fresh.provided.map((each) => each.text).join('\n');
    expect(provisos).toMatch(/eject the card, put it back, and check it once more with --reinserted/);
    expect(provisos).toMatch(/It is as you said: the card was formatted just now/);
    expect(text(fresh)).toContain(`    flashworthy check ${root} --board tansy-31 --reinserted`);
    expect(text(fresh)).toContain('You said: the card was formatted just now');

    const again = await step({ fresh: true, reinserted: true });
    expect(again.verdict).toBe('fit');
    expect(again.provided.map((each) => each.text).join('\n')).not.toMatch(/put it back/);
    expect(text(again)).not.toContain('To check it once more');
  });

  test('that the card was put back settles nothing by itself', async () => {
    const image = await imageOf('tansy-fit');
    expect((await asFolder(image, tansy, { reinserted: true })).verdict).toBe('not-proven');
  });

  test("the owner's word for a fresh card never stands for the copies of the FAT", async () => {
    const image = await imageOf('tansy-fit');
    const silent = { ...tansy, change: 'reads: { fat: first, fsInfo: false } => reads: { fsInfo: false }' };
    const report = await asFolder(image, silent, { fresh: true });
    expect(report.verdict).toBe('not-proven');
    expect(outcome(report, 'volume/fat-copies')).toBe('unknown');
    // A driver of which nobody knows which copy it follows.
    const other = await asFolder(image, tansy, { fresh: true }, { driver: 'fuseblk' });
    expect(outcome(other, 'volume/fat-copies')).toBe('unknown');
    expect(other.verdict).toBe('not-proven');
  });

  test('what is wrong in a way that a folder shows is refused there too', async () => {
    for (const [sample, options, rule] of [
      ['tansy-large-supply', { ...tansy, supply: '24V/6.5A' }, 'machine/supply'],
      ['burr-cluster-size', burr, 'volume/cluster-size'],
      ['burr-companion-missing', burr, 'companion/complete'],
    ] as const) {
      const image = await imageOf(sample);
      const byImage = await checkCardFile(image, options);
      const byFolder = await asFolder(image, options);
      expect([byImage.verdict, byFolder.verdict, outcome(byImage, rule), outcome(byFolder, rule)]).toEqual([
        byImage.verdict,
        byImage.verdict,
        outcome(byImage, rule),
        outcome(byImage, rule),
      ]);
    }
  });

  test('it can be rehearsed from the folder, which cannot tell how it ends', async () => {
    const image = await imageOf('burr-good');
    const { root, volume } = shown(image);
    const own = await rehearseCardFile(image, burr);
    const byFolder = await withSubject(image, burr, (subject) => {
      const { target, close } = openFolder(root, { ...volume, card: null }, 'linux');
      try {
        const profile = subject.profile as NonNullable<typeof subject.profile>;
        return rehearseSubject(
          { ...subject, profile, target, stated: { fresh: true } },
          { ruleSet: builtRules(), version: 'test' },
        );
      } finally {
        close();
      }
    });
    // Where the file lies on the card is not shown, so that nobody can say; nothing speaks against it either.
    expect([own.rehearsal.answer, byFolder.rehearsal.answer]).toEqual(['starts', 'cannot-tell']);
  });
});

/** A list without what a folder does not show of its items. */
const comparable = (value: FactValue): unknown =>
  value instanceof FactList
    ? value.items
        .map((item) => (typeof item === 'object' && 'path' in item ? (item as { path: string }).path : item))
        .sort()
    : value;

describe('facts from the folder', () => {
  /** Facts that are about the view itself, not about the card. */
  const aboutTheView = [
    'target.kind',
    'target.view',
    'target.path',
    'target.card',
    'target.showsMedium',
    'target.readsFat',
    'media.container',
    'media.containerProblems',
    // An image file does not show how large the real card is; a mounted card is of its own size.
    'media.mostCardBytes',
    'media.capacityClass',
    'media.possibleClasses',
    'media.sectorBytes',
  ];

  test.each([
    ['tansy-fit', tansy],
    ['tansy-large-supply', tansy],
    ['burr-good', burr],
    ['burr-fragmented', burr],
    ['burr-cluster-size', burr],
    ['burr-companion-missing', burr],
  ] as const)('are those of the image, or unseen with a reason: %s', async (sample, options) => {
    const image = await imageOf(sample);
    const { root, volume } = shown(image);
    const { target, close } = openFolder(root, { ...volume, card: null }, 'linux');
    const [own, byFolder] = [await facts(image, options), await facts(image, options, target)];
    close();
    let same = 0;
    for (const [path, { value }] of byFolder.all()) {
      // No card shows a release folder.
      if (aboutTheView.includes(path) || path.startsWith('releaseFolder.')) continue;
      if (value instanceof Unseen) {
        expect(`${path}: ${value.text}`).not.toMatch(/: (?:this was not looked at)?$/);
        continue;
      }
      const wanted = own.value(path);
      if (value instanceof Absent) expect([path, wanted]).toEqual([path, expect.any(Absent)]);
      else expect([path, comparable(value)]).toEqual([path, comparable(wanted)]);
      same++;
    }
    expect(same).toBeGreaterThan(150);
    // What no mounted folder shows is never known.
    for (const path of [
      'volume.fatCount',
      'volume.reservedSectors',
      'volume.fatCopiesMatch',
      'volume.cleanShutdown',
      'volume.residues',
      'damage.any',
      'damage.lostClusters',
      'deletedEntries',
      'partitionTable.bootCode',
      'partitionTable.bothDescribed',
      'partitionTable.problems',
      'updateFile.entryIndex',
      'updateFile.fragments',
      'updateFile.startByte',
      'updateFile.sameThroughEachFat',
    ])
      if (!(own.value(path) instanceof Absent))
        expect([path, byFolder.value(path)]).toEqual([path, expect.any(Unseen)]);
  });

  test('leave open which of several files a loader takes that goes by the order of entries', async () => {
    const image = await imageOf('burr-good');
    const { root, volume } = shown(image);
    writeFileSync(join(root, 'ACLINK.HEX'), ':00000001FF\n');
    writeFileSync(join(root, 'BCLINK.HEX'), ':00000001FF\n');
    const { target, close } = openFolder(root, { ...volume, card: null }, 'linux');
    const clinker = { board: 'clinker', set: 'boardRevision=B made=2025-01-01', installed: '2.10' };
    const store = await facts(image, clinker, target);
    close();
    expect(store.value('updateFile.candidates')).toMatchObject({ items: ['ACLINK.HEX', 'BCLINK.HEX'] });
    expect(store.value('updateFile.path')).toMatchObject({ text: expect.stringContaining('order') });
  });
});

describe('a folder that changes, or cannot be read', () => {
  const target = async (
    sample: string,
  ): Promise<{ image: string; root: string; target: Target; close(): void }> => {
    const image = await imageOf(sample);
    const { root, volume } = shown(image);
    return { image, root, ...openFolder(root, { ...volume, card: null }, 'linux') };
  };

  test('while it is read ends not proven, and says so', async () => {
    const { image, root, target: open, close } = await target('tansy-fit');
    if (open.kind !== 'folder') throw new Error('not a folder');
    const { tree } = open;
    let isDone = false;
    const report = await checked(
      image,
      tansy,
      {
        ...open,
        tree: {
          ...tree,
          entries: tree.entries,
          incomplete: null,
          closed: [],
          problems: [],
          fatCopies: 0,
          find: (path) => tree.find(path),
          sameChainInEveryFat: (entry) => tree.sameChainInEveryFat(entry),
          read: (entry, visit) => {
            const outcome = tree.read(entry, visit);
            if (!isDone) writeFileSync(join(root, 'LARKGO.TXT'), 'mode = other\n');
            isDone = true;
            return outcome;
          },
        },
      },
      { fresh: true },
    );
    close();
    expect(report.verdict).toBe('not-proven');
    expect(report.facts.target).toMatchObject({ changed: true });
    expect(text(report)).toMatch(/changed while it was\s+read/);
  });

  test.each([
    ['TANSY.LKF', 'EIO: i/o error, read', 'card/read-errors', 'unbootable'],
    ['LARKGO.TXT', 'EIO: i/o error, read', 'card/whole-read', 'ignored'],
  ] as const)('%s with a read error is refused', async (path, words, rule, _hazard) => {
    const { image, target: open, close } = await target('tansy-fit');
    if (open.kind !== 'folder') throw new Error('not a folder');
    const { tree } = open;
    const problems: { path: string; isFolder: boolean; text: string }[] = [];
    const report = await checked(image, tansy, {
      ...open,
      tree: {
        ...tree,
        entries: tree.entries,
        incomplete: null,
        closed: [],
        problems,
        fatCopies: 0,
        find: (each) => tree.find(each),
        sameChainInEveryFat: (entry) => tree.sameChainInEveryFat(entry),
        read: (entry, visit) => {
          if (entry.path !== path) return tree.read(entry, visit);
          problems.push({ path, isFolder: false, text: words });
          return { whole: false, missing: new Unseen('damaged', `${path} could not be read: ${words}`) };
        },
      },
    });
    close();
    expect(report.verdict).toBe('refused');
    expect(outcome(report, rule)).toBe('failed');
    expect(text(report)).toMatch(new RegExp(`${path}: ${words}`.replaceAll(' ', '\\s+')));
  });
});

describe.runIf(mayMount)('the card behind a folder', () => {
  /** A folder whose card is a real block device, as an administrator meets it. */
  const behind = async (
    image: string,
    how: ShownHow,
    use: (device: string, root: string, volume: MountedVolume) => Promise<void>,
  ): Promise<void> =>
    withLoop(
      image,
      async (device) => {
        const { root, volume } = shown(image, how);
        await use(device, root, { ...volume, card: device });
      },
      [],
    );
  const check = async (
    image: string,
    options: Options,
    root: string,
    volume: MountedVolume,
    stated: StatedMedia = {},
  ) => {
    const { target, close } = openFolder(root, volume, 'linux');
    try {
      return await checked(image, options, target, stated);
    } finally {
      close();
    }
  };

  test('is read when that is allowed, and its dirty mark is that of a card in use', async () => {
    const image = await imageOf('tansy-fit');
    await behind(image, {}, async (_device, root, volume) => {
      const report = await check(image, tansy, root, volume);
      expect(report.verdict).toBe('fit');
      expect(report.target).toMatchObject({ kind: 'folder', view: 'cached', bytes: 36 * 1024 * 1024 });
      expect(report.facts.target).toMatchObject({ showsMedium: true });
      expect(report.unseen['volume.cleanShutdown']?.text).toMatch(/mounted now/);
      expect(report.provided.map((each) => each.text).join()).toMatch(/eject the card/);
      // Damage is looked for, so that nobody's word is needed or mentioned.
      expect(report.facts.damage).toMatchObject({ any: false });
    });
    await behind(image, { options: 'ro' }, async (_device, root, volume) => {
      const report = await check(image, tansy, root, volume);
      expect(report.facts.volume).toMatchObject({ cleanShutdown: true });
    });
  });

  test('shows damage that the folder does not', async () => {
    const image = await imageOf('err/lost-clusters');
    await behind(image, {}, async (_device, root, volume) => {
      const report = await check(image, burr, root, volume);
      expect(report.verdict).toBe('refused');
      expect(outcome(report, 'volume/damage-elsewhere')).toBe('failed');
    });
  });

  test('that does not hold what the folder shows proves nothing', async () => {
    const image = await imageOf('tansy-fit');
    await behind(image, {}, async (_device, root, volume) => {
      const bytes = readFileSync(join(root, 'TANSY.LKF'));
      bytes[1000]! ^= 0xff;
      writeFileSync(join(root, 'TANSY.LKF'), bytes);
      const report = await check(image, tansy, root, volume);
      expect(report.verdict).toBe('not-proven');
      expect(report.facts.target).toMatchObject({ changed: true });
    });
  });

  test('of which another partition is taken is judged by itself', async () => {
    const image = await imageOf('ok/partition-beside-another');
    await behind(image, {}, async (_device, root, volume) => {
      const own = await checkCardFile(image, burr);
      // The folder is that of no partition that the loader takes: its files must not be compared.
      const report = await check(image, burr, root, { ...volume, partitionStartByte: 4096 });
      expect(report.verdict).toBe(own.verdict);
    });
  });

  test('that may not be read leaves facts unseen for want of rights', async () => {
    const image = await imageOf('tansy-fit');
    const { root, volume } = shown(image);
    const { target, close } = openFolder(root, { ...volume, card: '/proc/self/mem/no' }, 'linux');
    close();
    if (target.kind !== 'folder') throw new Error('not a folder');
    expect(target.behind).toMatchObject({ cause: 'not-visible' });
    const denied = await checked(image, tansy, {
      ...target,
      behind: new Unseen('no-permission', 'the card itself may be read by an administrator only'),
    });
    expect(denied.verdict).toBe('not-proven');
    expect(denied.unseen['volume.fatCount']).toMatchObject({ cause: 'no-permission' });
  });
});

describe.runIf(mayMount)('a whole card as a device', () => {
  const opened = (device: string) => {
    const system = linuxSystem();
    const details = system.deviceOf?.(device);
    if (typeof details?.bytes !== 'number' || typeof details.sectorBytes !== 'number')
      throw new Error('no size');
    return openDevice(device, { ...details, bytes: details.bytes, sectorBytes: details.sectorBytes }, system);
  };

  test('is judged like its image', async () => {
    const image = await imageOf('tansy-fit');
    await withLoop(image, async (device) => {
      const { target, close } = opened(device);
      const report = await checked(image, tansy, target);
      close();
      expect(report.verdict).toBe('fit');
      expect(report.target).toMatchObject({ kind: 'device', view: 'medium', bytes: 36 * 1024 * 1024 });
      expect(report.provided.map((each) => each.text).join()).not.toMatch(/put it back/);
    });
  });

  test('with sectors of 4096 bytes has a table that counts in those', async () => {
    const image = join(folder, '4096.img');
    writeFileSync(image, new Uint8Array(80 * 1024 * 1024));
    await withLoop(
      image,
      async (device) => {
        run('sfdisk', ['-q', '--no-tell-kernel', device], 'label: dos\nstart=256, type=6\n');
        run('mkfs.fat', ['-F', '16', '-S', '4096', '-s', '1', '--offset', '256', device, String(79 * 1024)]);
        run('sync', [device]);
        const { target, close } = opened(device);
        const store = await facts(image, burr, target);
        close();
        expect(store.value('media.sectorBytes')).toBe(4096);
        expect(store.value('partition.startByte')).toBe(256 * 4096);
        expect(store.value('volume.bytesPerSector')).toBe(4096);
        expect(store.value('volume.fileSystem')).toBe('FAT16');
      },
      ['--sector-size', '4096'],
    );
  });

  test('that changes while it is read ends not proven', async () => {
    const image = join(folder, 'written-to.img');
    copyFileSync(await imageOf('tansy-fit'), image);
    await withLoop(
      image,
      async (device) => {
        const { target, close } = opened(device);
        if (target.kind !== 'device') throw new Error('not a device');
        let isDone = false;
        const report = await checked(image, tansy, {
          ...target,
          changed: () => {
            // The last sector belongs to no file: only the kernel's count of writes tells.
            if (!isDone) {
              poke(device, 36 * 1024 * 1024 - 512, [1]);
              run('sync', [device]);
            }
            isDone = true;
            return target.changed();
          },
        });
        close();
        expect(report.verdict).toBe('not-proven');
        expect(report.facts.target).toMatchObject({ changed: true });
      },
      [],
    );
  });
});
