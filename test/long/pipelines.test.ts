import { spawnSync } from 'node:child_process';
import {
  copyFileSync,
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { parse } from 'yaml';

const root = join(import.meta.dirname, '../..');
const pipelines = join(root, 'samples/pipelines');
const command = `${process.execPath} ${join(root, 'dist/flashworthy.js')}`;

/** A checked-out repository: a release, cards made from it, and a lock file with nothing to load. */
let work: string;
beforeEach(() => {
  work = mkdtempSync(join(tmpdir(), 'flashworthy-pipeline-'));
  cpSync(join(root, 'samples/releases/tansy-31'), join(work, 'release'), { recursive: true });
  mkdirSync(join(work, 'cards', 'more'), { recursive: true });
  for (const name of ['tansy-fit', 'tansy-large-supply'])
    copyFileSync(join(root, `samples/cards/${name}.img.gz`), join(work, 'cards', `${name}.img.gz`));
  copyFileSync(
    join(root, 'samples/cards/tansy-fit.img.gz'),
    join(work, 'cards/more/card with blanks.img.gz'),
  );
  writeFileSync(join(work, 'package.json'), '{ "name": "release", "version": "1.0.0" }');
  writeFileSync(
    join(work, 'package-lock.json'),
    '{ "name": "release", "version": "1.0.0", "lockfileVersion": 3, "requires": true, "packages": {} }',
  );
});
afterEach(() => rmSync(work, { recursive: true, force: true }));

const removeRefused = (): void => rmSync(join(work, 'cards/tansy-large-supply.img.gz'));

describe('the shell script', () => {
  const run = (...words: string[]): { status: number | null; stdout: string; stderr: string } =>
    spawnSync('sh', [join(pipelines, 'check-cards.sh'), ...words], {
      cwd: work,
      encoding: 'utf8',
      env: { ...process.env, FLASHWORTHY: command },
    });
  const machine = ['--supply', '24V/6.5A', '--installed', '31'];

  it('is red as long as one card is refused, keeps all reports, and is green afterwards', () => {
    const first = run('release', 'cards', 'results', ...machine);
    expect(first).toMatchObject({ status: 1, stderr: '' });
    expect(first.stdout).toContain('2 fit, 1 refused, 0 not proven, 0 not checked.');
    expect(readdirSync(join(work, 'results')).sort()).toEqual([
      'cards',
      'cards.sarif',
      'cards.txt',
      'cards.xml',
    ]);
    expect(readdirSync(join(work, 'results/cards'))).toHaveLength(4);
    const { runs } = JSON.parse(readFileSync(join(work, 'results/cards.sarif'), 'utf8'));
    const errors = runs[0].results.filter(({ level }: { level: string }) => level === 'error');
    expect(errors.length).toBeGreaterThan(0);
    for (const { locations } of errors)
      expect(locations[0].physicalLocation.artifactLocation.uri).toBe('cards/tansy-large-supply.img.gz');
    expect(run('release', 'cards', 'results', ...machine).status).toBe(74);
    removeRefused();
    expect(run('release', 'cards', 'second', ...machine).status).toBe(0);
  });

  it('is not green when there is nothing to check', () => {
    mkdirSync(join(work, 'empty'));
    expect(run('release', 'empty', 'results', ...machine).status).toBe(64);
    expect(run('release').status).toBe(64);
    expect(run('nowhere', 'cards', 'other', ...machine).status).toBe(66);
  });
});

interface Job {
  env?: Record<string, string>;
  strategy?: { matrix: { shard: number[] } };
  steps: { name?: string; run?: string; uses?: string; if?: string }[];
}

describe('the workflow', () => {
  const workflow: {
    env: Record<string, string>;
    defaults: { run: { shell: string } };
    jobs: Record<string, Job>;
  } = parse(readFileSync(join(pipelines, 'check-cards.yml'), 'utf8'));

  /** Runs the steps of a job in a fresh checkout one after the other as a runner does, until one fails. */
  function runJob(job: Job, env: Record<string, string>): { status: number; steps: number; folder: string } {
    const folder = mkdtempSync(join(tmpdir(), 'flashworthy-runner-'));
    cpSync(work, folder, { recursive: true });
    let steps = 0;
    for (const { run } of job.steps) {
      if (run === undefined) continue;
      steps++;
      expect(run).not.toContain('${{');
      // As hosted runners start `shell: bash`.
      const { status } = spawnSync('bash', ['--noprofile', '--norc', '-eo', 'pipefail', '-c', run], {
        cwd: folder,
        stdio: 'ignore',
        env: { ...process.env, ...workflow.env, ...env, FLASHWORTHY: command },
      });
      if (status !== 0) return { status: status ?? -1, steps, folder };
    }
    return { status: 0, steps, folder };
  }

  function runShards(): { codes: number[]; cards: string[] } {
    const job = workflow.jobs.cards!;
    const shards = job.strategy!.matrix.shard;
    expect(job.env).toEqual({ SHARD: expect.stringContaining('matrix.shard'), SHARDS: shards.length });
    const codes: number[] = [];
    const cards: string[] = [];
    for (const shard of shards) {
      const { status, folder } = runJob(job, { SHARD: String(shard), SHARDS: String(shards.length) });
      codes.push(status);
      const summary = join(folder, 'results', `cards-${shard}`, 'summary.json');
      if (existsSync(summary)) {
        const { files } = JSON.parse(readFileSync(summary, 'utf8'));
        cards.push(...files.map(({ path }: { path: string }) => path));
        for (const ending of ['sarif', 'xml'])
          expect(existsSync(join(folder, 'results', `cards-${shard}.${ending}`))).toBe(true);
      }
      rmSync(folder, { recursive: true });
    }
    return { codes, cards: cards.sort() };
  }

  it('checks each card on one runner, and only the runner of the refused one is red', () => {
    const { codes, cards } = runShards();
    expect(cards).toEqual([
      'cards/more/card with blanks.img.gz',
      'cards/tansy-fit.img.gz',
      'cards/tansy-large-supply.img.gz',
    ]);
    // Three cards for four runners: one has nothing to do.
    expect(codes.sort()).toEqual([0, 0, 0, 1]);
  });

  it('is not green without cards, and green with good ones', () => {
    removeRefused();
    const job = workflow.jobs.cards!;
    const good = runJob(job, { SHARD: '0', SHARDS: '1' });
    expect(good).toMatchObject({ status: 0, steps: 3 });
    rmSync(good.folder, { recursive: true });
    rmSync(join(work, 'cards'), { recursive: true });
    mkdirSync(join(work, 'cards'));
    const none = runJob(job, { SHARD: '0', SHARDS: '4' });
    expect(none).toMatchObject({ status: 66, steps: 2 });
    rmSync(none.folder, { recursive: true });
  });

  it('keeps the reports even when a card is refused, and checks the release first', () => {
    expect(workflow.defaults.run.shell).toBe('bash');
    const last = workflow.jobs.cards!.steps.at(-1)!;
    expect(last.uses).toMatch(/upload-artifact/);
    expect(last.if).toBe('always()');
    const release = runJob(workflow.jobs.release!, {});
    expect(release).toMatchObject({ status: 0, steps: 2 });
    rmSync(release.folder, { recursive: true });
  });
});
