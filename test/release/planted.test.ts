import {
  chmodSync,
  cpSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readManifest } from '../../src/board/manifest.js';
import { readProfile } from '../../src/board/read.js';
import { checkRelease } from '../../src/core/release.js';
import { Unseen } from '../../src/facts/fact.js';
import type { FileTree } from '../../src/facts/file-tree.js';
import { nodeDigests } from '../../src/node/digests.js';
import { readStagingFolder } from '../../src/node/staging-folder.js';
import { StagingTree } from '../../src/node/staging-tree.js';
import type { Report } from '../../src/report/report.js';
import { releaseKeystones } from '../../src/rules/rule.js';
import { builtProcessors, builtRules } from '../support/check-card.js';
import { linkTansy, withChecksum } from '../support/link-tansy.js';
import { type ReleaseOutcome, runRelease } from '../support/run-release.js';

const sample = join(import.meta.dirname, '..', '..', 'samples', 'releases', 'tansy-31');
/** Starts of the application areas, as the profile of the board says. */
const older = 0x0800c000;
const newer = 0x08010000;

let work: string;
let copies = 0;
beforeAll(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-planted-'));
});
afterAll(() => rmSync(work, { recursive: true, force: true }));

/** A copy of the sample release that somebody can spoil. */
class Release {
  readonly folder = join(work, `release-${copies++}`);
  constructor(isSealed: boolean) {
    cpSync(sample, this.folder, { recursive: true });
    if (!isSealed) rmSync(this.at('manifest.json'));
  }
  at(path: string): string {
    return join(this.folder, path);
  }
  read(path: string): Buffer {
    return readFileSync(this.at(path));
  }
  write(path: string, content: string | Uint8Array): void {
    mkdirSync(dirname(this.at(path)), { recursive: true });
    writeFileSync(this.at(path), content);
  }
  move(from: string, to: string): void {
    renameSync(this.at(from), this.at(to));
  }
  board(old: string, now: string): void {
    const text = this.read('board.yaml').toString();
    expect(text).toContain(old);
    this.write('board.yaml', text.replaceAll(old, now));
  }
  manifest(change: (files: Record<string, unknown>[], whole: Record<string, unknown>) => void): void {
    const whole = JSON.parse(this.read('manifest.json').toString());
    change(whole.files, whole);
    this.write('manifest.json', JSON.stringify(whole));
  }
  seal(options: Record<string, unknown> = {}): Promise<ReleaseOutcome> {
    return runRelease(this.folder, { seal: true, release: '31', ...options });
  }
}

/** What one rule found, with what it shows. */
const said = (report: Report | null, rule: string): string => {
  const finding = report?.findings.find((one) => one.rule === rule);
  return [finding?.found, ...(finding?.shown ?? [])].join('\n');
};

const fullNewer = 'builds/TANSY-150N.LKF';
const limitedNewer = 'builds/TANSY-065N.LKF';

/** Each mistake, the one rule that has to fail for it, and what it has to name. */
const mistakes: readonly (readonly [string, string, (release: Release) => void, RegExp])[] = [
  [
    'two builds changed places',
    'release/build-marker',
    (release) => {
      release.move(fullNewer, 'x');
      release.move(limitedNewer, fullNewer);
      release.move('x', limitedNewer);
    },
    /TANSY-150N.*LKF-TANSY-065N[\s\S]*TANSY-065N.*LKF-TANSY-150N/,
  ],
  [
    'a build is missing',
    'release/builds-there',
    (release) => rmSync(release.at(fullNewer)),
    /^".*TANSY-150N\.LKF", the build full-newer$/m,
  ],
  [
    'a build with another name',
    'release/builds-there',
    (release) => release.move(fullNewer, 'builds/tansy-150n.bin'),
    /"builds\/tansy-150n\.bin" seems to be it/,
  ],
  [
    'a build with lower-case letters in its name',
    'release/builds-there',
    (release) => release.move(fullNewer, 'builds/tansy-150n.lkf'),
    /"builds\/tansy-150n\.lkf" seems to be it/,
  ],
  [
    'a build that is cut short',
    'release/build-size',
    (release) => release.write(fullNewer, withChecksum(release.read(fullNewer), 12 * 1024)),
    /12 KiB/,
  ],
  [
    'a build of no bytes',
    'release/build-size',
    (release) => release.write(fullNewer, ''),
    /TANSY-150N.*holds 0 bytes/,
  ],
  [
    'a build that is damaged in one byte',
    'release/build-checks',
    (release) => {
      const bytes = release.read(fullNewer);
      bytes[9000]! ^= 1;
      release.write(fullNewer, bytes);
    },
    /image\/checksum/,
  ],
  [
    'a build that is linked for the other boot loader',
    'release/build-place',
    (release) =>
      release.write(fullNewer, linkTansy({ start: older, marker: 'LKF-TANSY-150N', release: '31' })),
    /linked for 0x0800C000.*linked for 0x08010000/,
  ],
  [
    'a build with the marker of another board',
    'release/build-marker',
    (release) => release.write(fullNewer, linkTansy({ start: newer, marker: 'LKF-TWIN', release: '31' })),
    /Tansy with two hot ends/,
  ],
  [
    'a build of yesterday under the right name',
    'release/release-number',
    (release) =>
      release.write(fullNewer, linkTansy({ start: newer, marker: 'LKF-TANSY-150N', release: '30' })),
    /release 30.*release 31/,
  ],
  [
    'a build in the form of a debugger',
    'release/build-form',
    (release) =>
      release.write(
        fullNewer,
        linkTansy({ start: newer, marker: 'LKF-TANSY-150N', release: '31', elf: true }),
      ),
    /ELF/,
  ],
  [
    'one content under two names',
    'release/one-name',
    (release) => release.write('for-my-printer.dat', release.read(fullNewer)),
    /TANSY-150N\.LKF and for-my-printer\.dat/,
  ],
  [
    'a build of an earlier release beside the others',
    'release/nothing-else',
    (release) =>
      release.write('old/update', linkTansy({ start: newer, marker: 'LKF-TANSY-150N', release: '30' })),
    /"old\/update": a program with the marker of the build full-newer, of release 30/,
  ],
  [
    'a file for the debugger',
    'release/nothing-else',
    (release) =>
      release.write(
        'debug/symbols',
        linkTansy({ start: newer, marker: 'LKF-TANSY-150N', release: '31', elf: true }),
      ),
    /"debug\/symbols": an ELF file/,
  ],
  [
    'a file with the very name that the boot loader takes',
    'release/nothing-else',
    (release) => release.write('TANSY.LKF', ''),
    /the very name/,
  ],
  [
    'a missing companion file',
    'release/companions',
    (release) => rmSync(release.at('LARKGO.TXT')),
    /LARKGO\.TXT/,
  ],
  [
    'a companion file with a line that is not understood',
    'release/companions',
    (release) => release.write('LARKGO.TXT', 'start\n'),
    /line 1/,
  ],
  [
    'machines that no build is for',
    'release/choice-gap',
    (release) => {
      const files = 'files: [builds/TANSY-065N.LKF]\n    for: { loader: newer';
      release.board(files, `${files}, installed: ">24"`);
    },
    /^No build is safe for a machine with release 24 and the supply 24 V 6\.5 A\.$/m,
  ],
  [
    'two builds that are right for one machine',
    'release/choice-overlap',
    (release) =>
      release.board(
        'for: { loader: newer }\n    needs: { volts: 24, amps: 9 }\n    heaters:\n      together: [[bed, hotend, base]]\n',
        'for: { loader: newer }\n    needs: { volts: 24, amps: 6.5 }\n    heaters:\n      together: [[bed, base], [hotend, base]]\n      limit: { amps: 6.2, kind: peak }\n',
      ),
    /full-newer and limited-newer are equally strong/,
  ],
  [
    'a link that leads out of the folder',
    'release/only-files',
    (release) => symlinkSync('/etc/hostname', release.at('latest')),
    /latest is a link/,
  ],
  [
    'a name that Windows cannot have',
    'release/names',
    (release) => release.write('docs/aux.txt', 'x'),
    /docs\/aux\.txt/,
  ],
];

describe('planted mistakes, while the release is sealed', () => {
  it.each(mistakes)('%s: %s', async (_what, rule, plant, names) => {
    const release = new Release(false);
    plant(release);
    const outcome = await release.seal();
    const { code, failed, open, report } = outcome;
    expect({ code, failed, open }).toEqual({ code: 1, failed: [rule], open: [] });
    expect(said(report, rule)).toMatch(names);
    expect(() => release.read('manifest.json')).toThrow('ENOENT');
    expect(() => release.read('SHA256SUMS')).toThrow('ENOENT');
  });
});

/** A boot loader as a file of its own: vectors for the start of the flash, some code, its marker, its checksum. */
function bootLoader(): Buffer {
  const bytes = Buffer.alloc(1024, 0xff);
  for (let index = 0; index < 16; index++)
    bytes.writeUInt32LE(index === 0 ? 0x20020000 : 0x08000101, index * 4);
  // NOP (ARMv7-M Architecture Reference Manual, A7.7.88, encoding T1).
  for (let at = 0x100; at < 0x180; at += 2) bytes.writeUInt16LE(0xbf00, at);
  bytes.write('LKF-BOOT', 0x200, 'latin1');
  return withChecksum(bytes, 16 * 1024);
}

describe('what is no mistake', () => {
  /** Near misses: files and changes that a maintainer may well make. */
  const harmless: readonly (readonly [string, (release: Release) => void])[] = [
    ['nothing changed', () => {}],
    [
      'a note that names markers and releases',
      (release) => release.write('README.md', '# LKF-TANSY-150N\nLK_RELEASE:30\n'),
    ],
    [
      'a licence, and the same text twice',
      (release) => {
        release.write('LICENSE', 'Do what you like.\n');
        release.write('docs/LICENSE.txt', 'Do what you like.\n');
      },
    ],
    // A PNG signature (ISO/IEC 15948, 5.2) with the marker of a build in what follows.
    [
      'a picture',
      (release) => release.write('photo.png', Buffer.from('\x89PNG\r\n\x1a\nLKF-TANSY-150N', 'latin1')),
    ],
    ['a packed source', (release) => release.write('source.tar.gz', gzipSync('LKF-TANSY-150N'))],
    [
      'a table of numbers that is no program',
      (release) => release.write('fonts.tab', Buffer.from([1, 2, 3, 4, 250, 251, 252, 9])),
    ],
    ['an empty file', (release) => release.write('.nomedia', '')],
    [
      'a declared build of the boot loader',
      (release) => {
        release.write('builds/LOADER.LKF', bootLoader());
        release.board(
          'prefer: strongest-that-fits',
          `  - id: loader-newer
    title: the newer boot loader
    kind: loader
    files: [builds/LOADER.LKF]
    for: { loader: newer }
    marker: { text: LKF-BOOT }

prefer: strongest-that-fits`,
        );
      },
    ],
    ['an empty folder', (release) => mkdirSync(release.at('pictures'))],
    [
      'a companion file of another case, in full',
      (release) =>
        release.write('LARKGO.TXT', 'start=yes\r\n; by hand\r\n'.replace('; by hand\r\n', 'speed=slow\r\n')),
    ],
    ['builds that may be read only', (release) => chmodSync(release.at('LARKGO.TXT'), 0o444)],
    [
      'a stale waiver',
      (release) =>
        release.write(
          'board.yaml',
          `${release.read('board.yaml')}\nwaive:\n  - { rule: card/only-partition, because: it was so, until: "30" }\n`,
        ),
    ],
  ];
  it.each(harmless)('%s', async (what, change) => {
    const release = new Release(false);
    change(release);
    const outcome = await release.seal();
    expect(outcome).toMatchObject({ code: 0, failed: [], open: [] });
    expect(outcome.report?.verdict).toBe('fit');
    expect(outcome.report?.findings.every(({ rule }) => rule.startsWith('release/'))).toBe(true);
    const stale = what === 'a stale waiver' ? ['release/stale-waivers'] : [];
    expect(outcome.remarks).toEqual(['release/shared-crc', ...stale]);
  });

  it('says what the computer left in the folder, and lets it pass', async () => {
    const release = new Release(false);
    release.write('.DS_Store', Buffer.from([0, 0, 0, 1, 66, 117, 100, 49]));
    expect(await release.seal()).toMatchObject({
      code: 0,
      remarks: ['release/litter', 'release/shared-crc'],
    });
  });
});

describe('what cannot be told', () => {
  it('a profile without a core key', async () => {
    const release = new Release(false);
    release.board('  encoding: raw\n', '');
    const { code, failed, open } = await release.seal();
    expect({ code, failed }).toEqual({ code: 2, failed: [] });
    expect(open).toContain('release/core-keys');
    expect(() => release.read('manifest.json')).toThrow('ENOENT');
  });

  it('a profile that takes every build', async () => {
    const release = new Release(false);
    release.write('board.yaml', readFileSync(join(sample, '..', '..', 'boards', 'burr.yaml')));
    const { code, open } = await release.seal();
    expect(code).toBe(2);
    expect(open).toContain('release/builds-there');
  });

  it('a file that could not be read', () => {
    const release = new Release(true);
    const tree = new StagingTree(readStagingFolder(release.folder));
    const broken: FileTree = {
      entries: tree.entries,
      incomplete: tree.incomplete,
      fatCopies: 0,
      sameChainInEveryFat: () => tree.sameChainInEveryFat(),
      read: (entry, visit) =>
        entry.path === fullNewer
          ? { whole: false, missing: new Unseen('no-permission', `${fullNewer} may not be read`) }
          : tree.read(entry, visit),
    };
    const { profile } = readProfile(release.read('board.yaml').toString(), 'board.yaml');
    const { report } = checkRelease(
      {
        path: 'release',
        tree: broken,
        notFiles: [],
        profile,
        manifest: readManifest(release.read('manifest.json').toString(), 'manifest.json', profile),
        checksums: null,
        stated: null,
        digests: nodeDigests,
        processors: builtProcessors(),
      },
      { ruleSet: builtRules(), version: 'test' },
    );
    expect(report.verdict).toBe('not-proven');
    expect(
      report.findings.filter(({ outcome, hazard }) => outcome === 'failed' && hazard !== 'advice'),
    ).toEqual([]);
    expect(report.findings.find(({ rule }) => rule === 'release/read')?.missing?.[0]?.text).toContain(
      'may not be read',
    );
  });

  it('no rules, or no rules about releases: never complete', () => {
    const release = new Release(true);
    const { profile } = readProfile(release.read('board.yaml').toString(), 'board.yaml');
    for (const rules of [[], builtRules().rules.filter(({ id }) => !id.startsWith('release/'))]) {
      const { report } = checkRelease(
        {
          path: 'release',
          tree: new StagingTree(readStagingFolder(release.folder)),
          notFiles: [],
          profile,
          manifest: readManifest(release.read('manifest.json').toString(), 'manifest.json', profile),
          checksums: null,
          stated: null,
          digests: nodeDigests,
          processors: builtProcessors(),
        },
        { ruleSet: { ...builtRules(), rules }, version: 'test' },
      );
      expect(report.verdict).toBe('not-proven');
      expect(report.keystonesMissing).toEqual([...releaseKeystones]);
    }
  });
});

describe('planted mistakes after the release was sealed', () => {
  const changes: readonly (readonly [string, string, (release: Release) => void, RegExp])[] = [
    [
      'a CRC-32',
      'release/manifest-contents',
      (release) => release.manifest((files) => (files[1]!.crc32 = '00000000')),
      /NOTES\.txt: CRC-32 00000000 in the manifest, 39dea0ca in the folder$/m,
    ],
    [
      'a size',
      'release/manifest-contents',
      (release) => release.manifest((files) => (files[3]!.bytes = 16383)),
      /TANSY-065N\.LKF: size 16383 in the manifest, 16384 in the folder$/m,
    ],
    [
      'a SHA-256',
      'release/manifest-contents',
      (release) => release.manifest((files) => (files[3]!.sha256 = 'ab'.repeat(32))),
      /TANSY-065N\.LKF: SHA-256 abab.* in the manifest, df28088ad5fb/,
    ],
    [
      'the profile was edited',
      'release/manifest-contents',
      (release) => release.write('board.yaml', `${release.read('board.yaml')}# a remark\n`),
      /^board\.yaml: size 6382 in the manifest, 6393/m,
    ],
    [
      'the revision of the profile',
      'release/manifest-says',
      (release) => release.manifest((_files, whole) => (whole.board = { id: 'tansy', revision: 6 })),
      /revision 6.*revision 7/,
    ],
    [
      'a build is called another one',
      'release/manifest-says',
      (release) => release.manifest((files) => (files[3]!.build = 'full-newer')),
      /TANSY-065N.*the build full-newer.*the build limited-newer/,
    ],
    [
      'a file came later',
      'release/manifest-complete',
      (release) => release.write('NEWS.txt', 'x'),
      /not in the manifest: NEWS\.txt/,
    ],
    [
      'a file is gone',
      'release/manifest-complete',
      (release) => rmSync(release.at('NOTES.txt')),
      /not there: NOTES\.txt/,
    ],
    [
      'no manifest at all',
      'release/sealed',
      (release) => rmSync(release.at('manifest.json')),
      /no manifest\.json/,
    ],
    [
      'the list of checksums',
      'release/checksum-list',
      (release) => release.write('SHA256SUMS', `${'0'.repeat(64)}  NOTES.txt\nwhat?\n`),
      /line 1: NOTES\.txt has another[\s\S]*line 2: expected[\s\S]*manifest\.json does not stand in it/,
    ],
  ];
  it.each(changes)('%s: %s', async (_what, rule, change, names) => {
    const release = new Release(true);
    change(release);
    const { code, failed, open, report } = await runRelease(release.folder);
    expect({ code, failed, open }).toEqual({ code: 1, failed: [rule], open: [] });
    expect(said(report, rule)).toMatch(names);
  });

  it('another number than the one that was asked for', async () => {
    const release = new Release(true);
    const { code, failed } = await runRelease(release.folder, { release: '32' });
    expect({ code, failed }).toEqual({
      code: 1,
      failed: ['release/manifest-says', 'release/release-number'],
    });
  });

  it('a number of another kind', async () => {
    const { code, failed } = await new Release(false).seal({ release: 'spring' });
    expect({ code, failed }).toEqual({ code: 1, failed: ['release/numbering'] });
  });

  it('a manifest that is none, or that is for another board, ends the command with its place', async () => {
    const release = new Release(true);
    release.manifest((_files, whole) => (whole.board = { id: 'burr', revision: 7 }));
    expect(await runRelease(release.folder)).toMatchObject({
      code: 64,
      report: null,
      notes: expect.stringMatching(/manifest\.json:1:\d+: board\.id/),
    });
  });
});
