import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { transformSync } from 'esbuild';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { check, inspect, judge } from '../../src/core/index.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { nodeDigests, openCard, readRelease, stagingTarget } from '../../src/node/index.js';
import { builtProcessors, builtRules } from '../support/check-card.js';
import { Consumer, readmeCode } from '../support/consumer.js';

const root = join(import.meta.dirname, '../..');
const sample = join(root, 'samples/api/check-card.ts');
const release = join(root, 'samples/releases/tansy-31');
const card = (name: string): string => join(root, 'samples/cards', `${name}.img.gz`);

let consumer: Consumer;
beforeAll(() => {
  consumer = new Consumer();
});
afterAll(() => consumer.remove());

describe('the built package, used by another program', () => {
  const run = (...words: string[]): { status: number | null; stdout: string; stderr: string } => {
    const { code } = transformSync(readFileSync(sample, 'utf8'), { loader: 'ts', format: 'esm' });
    const { status, stdout, stderr } = spawnSync(
      process.execPath,
      [consumer.write('check-card.js', code), ...words],
      { encoding: 'utf8' },
    );
    return { status, stdout, stderr };
  };

  it('gives the verdict that the command gives', () => {
    const fit = run(card('tansy-fit'), release, '24V/6.5A', '31');
    expect(fit).toMatchObject({ status: 0, stderr: expect.stringMatching(/^clusters of \d+ bytes\n$/) });
    expect(fit.stdout).toContain('<property name="verdict" value="fit"/>');
    const command = spawnSync(
      process.execPath,
      [
        join(root, 'dist/flashworthy.js'),
        ...['check', card('tansy-fit'), '--board', release, '--supply', '24V/6.5A', '--installed', '31'],
        ...['--format', 'junit'],
      ],
      { encoding: 'utf8' },
    );
    expect(fit.stdout).toBe(command.stdout);
    expect(run(card('tansy-large-supply'), release, '24V/6.5A', '31').status).toBe(1);
  });

  it('is shown in the README by a part of a program that is compiled', () => {
    const parts = readmeCode('ts');
    expect(parts.length).toBeGreaterThan(0);
    for (const part of parts) expect(readFileSync(sample, 'utf8')).toContain(part);
  });
});

describe('the two halves of a check', () => {
  const common = () => {
    const { profile, ...rest } = readRelease(release);
    const { machine } = machineFromOptions({ supply: '24V/6.5A', installed: '31' }, profile);
    return { profile, ...rest, machine, stated: {}, digests: nodeDigests, processors: builtProcessors() };
  };

  it('come to what both together do, for a card and for a folder', async () => {
    const { target, close } = await openCard(card('tansy-fit'));
    try {
      for (const each of [target, stagingTarget(join(release, 'builds'))]) {
        const subject = { ...common(), target: each };
        const options = { ruleSet: builtRules() };
        const report = judge(inspect(subject), subject, options);
        expect(report).toEqual(check(subject, options));
        expect(report.tool.version).toBe(builtRules().version);
        expect(report.verdict).toBe(each === target ? 'fit' : 'refused');
      }
    } finally {
      close();
    }
  });
});
