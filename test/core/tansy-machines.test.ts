import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { chooseBuild } from '../../src/board/choose.js';
import { readManifest } from '../../src/board/manifest.js';
import type { Build } from '../../src/board/profile.js';
import { readProfile } from '../../src/board/read.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import type { Report } from '../../src/report/report.js';
import { checkCardFile } from '../support/check-card.js';

/**
 * The four kinds of Tansy (two supplies, two boot loaders) and the four builds of its release, each on a good card: the
 * chosen one is fit, and each other one is refused by the rule that says what is wrong with it.
 */
const release = join(import.meta.dirname, '../../samples/releases/tansy-31');
const { profile } = readProfile(readFileSync(join(release, 'board.yaml'), 'utf8'), 'board.yaml');
const manifest = readManifest(readFileSync(join(release, 'manifest.json'), 'utf8'), 'manifest.json', profile);
const builds = profile.builds as Build[];

const machines = [
  { name: 'small supply, older loader', supply: 'small', installed: '20', chosen: 'limited-older' },
  { name: 'small supply, newer loader', supply: 'small', installed: '30', chosen: 'limited-newer' },
  { name: 'large supply, older loader', supply: 'large', installed: '20', chosen: 'full-older' },
  { name: 'large supply, newer loader', supply: 'large', installed: '30', chosen: 'full-newer' },
] as const;
type Options = { supply: string; installed: string };

let folder: string;
/** Cards by the id of the build on them. */
const cards = new Map<string, string>();
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-tansy-'));
  const recipe = join(import.meta.dirname, '../ok/build-for-its-supply/card.sh');
  const empty = join(folder, 'card.img');
  execFileSync('bash', [recipe, empty], { cwd: join(import.meta.dirname, '..'), stdio: 'ignore' });
  for (const build of builds) {
    const card = join(folder, `${build.id}.img`);
    copyFileSync(empty, card);
    const file = join(release, build.files[0]!);
    execFileSync('mcopy', ['-o', '-i', `${card}@@${2048 * 512}`, file, '::TANSY.LKF']);
    cards.set(build.id, card);
  }
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const checked = (build: string, { supply, installed }: Options): Promise<Report> =>
  checkCardFile(cards.get(build)!, { release: 'tansy-31', supply, installed });
const failed = (report: Report): string[] =>
  report.findings
    .filter(({ outcome, hazard }) => outcome === 'failed' && hazard !== 'advice')
    .map(({ rule, hazard }) => `${rule} ${hazard}`)
    .sort();
const unknown = (report: Report): string[] =>
  report.findings.filter(({ outcome }) => outcome === 'unknown').map(({ rule }) => rule);
const isFor = (build: Build): { loader: string; needs: number } => ({
  loader: String(build.for?.loader),
  needs: build.needs?.amps ?? 0,
});

describe.each(machines)('$name', ({ supply, installed, chosen }) => {
  const { machine } = machineFromOptions({ supply, installed }, profile);
  const loader = Number(installed) < 24 ? 'older' : 'newer';
  const amps = supply === 'small' ? 6.5 : 15;

  test('the chosen build is fit, under the one name that every build gets', async () => {
    expect(chooseBuild(profile, machine).preferred).toBe(chosen);
    const report = await checked(chosen, { supply, installed });
    expect(unknown(report)).toEqual([]);
    expect(failed(report)).toEqual([]);
    expect(report.verdict).toBe('fit');
    expect(report.facts).toMatchObject({
      image: { build: chosen, release: manifest.release, isPreferred: true },
      updateFile: { name: 'TANSY.LKF' },
    });
  });

  test.each(builds.filter(({ id }) => id !== chosen).map((build) => [build.id, build] as const))(
    'not %s',
    async (id, build) => {
      const report = await checked(id, { supply, installed });
      const wanted: string[] = [];
      if (isFor(build).needs > amps) wanted.push('machine/supply unsafe');
      // The older loader erases before it looks; the newer one looks at the first addresses of the program.
      if (isFor(build).loader !== loader)
        wanted.push(`machine/loader-generation ${loader === 'older' ? 'unbootable' : 'ignored'}`);
      expect(failed(report)).toEqual(wanted.sort());
      expect(unknown(report)).toEqual([]);
      if (wanted.length > 0) {
        expect(report.verdict).toBe('refused');
        return;
      }
      // The limited build on the large supply is safe, only weaker.
      expect(report.verdict).toBe('fit');
      expect(report.findings.find(({ rule }) => rule === 'machine/strongest')).toMatchObject({
        outcome: 'failed',
        hazard: 'advice',
      });
    },
  );
});

describe('what the owner does not say', () => {
  test('without the supply: not proven, and the question is named', async () => {
    const report = await checkCardFile(cards.get('limited-newer')!, { release: 'tansy-31', installed: '30' });
    expect(report.verdict).toBe('not-proven');
    const missing = report.findings.flatMap((finding) => finding.missing ?? []);
    expect(missing.some(({ settle }) => settle?.includes('--supply'))).toBe(true);
  });

  test('unsure about the supply: the limited build is fit, the full one is not', async () => {
    const limited = await checked('limited-newer', { supply: 'unsure', installed: '30' });
    expect(limited.verdict).toBe('fit');
    // Nobody told which supply it is, so the figures are said as what the owner must see to.
    expect(limited.provided.map(({ text }) => text).join('\n')).toMatch(
      /supply gives 6\.1 A or more at 24 V/,
    );
    expect((await checked('full-newer', { supply: 'unsure', installed: '30' })).verdict).toBe('not-proven');
  });

  test('without the release that runs: not proven', async () => {
    const report = await checkCardFile(cards.get('limited-newer')!, { release: 'tansy-31', supply: 'small' });
    expect(report.verdict).toBe('not-proven');
  });

  test('nothing runs, and what ran last: the loader follows from it', async () => {
    const report = await checkCardFile(cards.get('limited-older')!, {
      release: 'tansy-31',
      supply: 'small',
      installed: 'none',
      was: '20',
    });
    expect(unknown(report)).toEqual([]);
    expect(report.verdict).toBe('fit');
  });

  test('without the release folder no build is known: not proven, and what is missing is the folder', async () => {
    const report = await checkCardFile(cards.get('limited-newer')!, {
      board: 'tansy',
      supply: 'small',
      installed: '30',
    });
    expect(report.verdict).toBe('not-proven');
    expect(failed(report)).toEqual([]);
    expect(report.unseen['image.isKnownBuild']).toMatchObject({
      cause: 'not-visible',
      settle: expect.stringContaining('--board FOLDER'),
    });
  });

  test('without the release folder the marker of a build is enough to refuse', async () => {
    const report = await checkCardFile(cards.get('full-newer')!, {
      board: 'tansy',
      supply: 'small',
      installed: '30',
    });
    expect(failed(report)).toEqual(['machine/supply unsafe']);
  });
});

describe('waivers', () => {
  const change = 'carry: [M92, M206, M301, M304, M851] => stepsTolerance: 0.02';
  const rest = '\\n  stepsTolerance: 0.02\\n\\nidentity => \\n\\nidentity';
  const waive = (until: string): string =>
    `cautions: [hot, moving] => cautions: [hot, moving]\\nwaive: [{ rule: machine/settings-layout, because: told in the notes, until: "${until}" }]`;
  const options = (until: string) => ({
    release: 'tansy-31',
    supply: 'small',
    installed: '23',
    change,
    'change-2': rest,
    'change-3': waive(until),
  });

  test.each([
    ['31', 'fit'],
    ['30', 'refused'],
  ])('one that holds until release %s, with release 31 on the card: %s', async (until, verdict) => {
    const report = await checkCardFile(cards.get('limited-older')!, options(until));
    expect(report.verdict).toBe(verdict);
  });
});
