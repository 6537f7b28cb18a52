import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Unseen } from '../../../src/facts/fact.js';
import { clusterFacts } from '../../../src/node/systems/allocation-units.js';
import { askComputer } from '../../../src/node/systems/asking.js';
import { callOut } from '../../../src/node/systems/call-out.js';
import { cardSystem } from '../../../src/node/systems/index.js';
import { propertyLists } from '../../../src/node/systems/property-lists.js';
import { insideWindows } from '../../../src/node/systems/wsl.js';

const shell = (script: string, seconds?: number) =>
  callOut({ name: 'the shell', program: '/bin/sh', args: ['-c', script] }, seconds);

describe('a program of the system', () => {
  it('answers with what it printed, told in no language of its own', () => {
    expect(shell('printf "ä %s" "$LC_ALL"')).toEqual({ printed: 'ä C' });
  });

  it('has nothing to read, and its complaints go nowhere', () => {
    expect(shell('cat; echo trouble >&2')).toEqual({ printed: '' });
  });

  it('that fails is a reason', () => {
    expect(shell('echo half; exit 3')).toEqual({ failure: 'the shell ended with exit code 3' });
    expect(shell('kill -9 $$')).toEqual({ failure: 'the shell was ended by the system' });
    expect(callOut({ name: 'diskutil', program: '/no/such/diskutil', args: [] })).toEqual({
      failure: 'diskutil is not on this computer',
    });
    expect(callOut({ name: 'diskutil', program: '/tmp', args: [] })).toMatchObject({
      failure: expect.stringMatching(/^diskutil could not be started: .*EACCES/),
    });
  });

  it('is ended when its time is over, even while a program under it goes on', () => {
    const start = performance.now();
    expect(shell('sleep 3; true', 0.3)).toEqual({ failure: 'the shell did not answer within 0.3 seconds' });
    expect(performance.now() - start).toBeLessThan(2000);
  });

  it('is ended when it prints without end', () => {
    expect(shell('yes')).toEqual({ failure: 'the shell printed far more than it should' });
  });
});

describe('the volume that holds a folder', () => {
  let work: string;
  beforeAll(() => {
    work = mkdtempSync(join(tmpdir(), 'flashworthy-asking-'));
    mkdirSync(join(work, 'a', 'b'), { recursive: true });
    symlinkSync('/proc', join(work, 'link'));
  });
  afterAll(() => rmSync(work, { recursive: true, force: true }));

  it('is the one that df and stat name', () => {
    const byDf = (path: string): string =>
      execFileSync('df', ['--output=target', path], { encoding: 'utf8' }).trim().split('\n').at(-1)!;
    for (const path of [join(work, 'a', 'b'), '/proc/self/net', '/dev', '/'])
      expect(askComputer.mountPointOf(path)).toBe(byDf(path));
    expect(askComputer.mountPointOf(join(work, 'link'))).toBe('/proc');
    expect(askComputer.mountPointOf(join(work, 'missing'))).toBeNull();
  });

  it('has the units that stat names', () => {
    const byStat = execFileSync('stat', ['-f', '-c', '%s %b', work], { encoding: 'utf8' }).trim();
    const units = askComputer.unitsOf(work);
    expect(`${units?.bytes} ${units?.count}`).toBe(byStat);
    expect(askComputer.unitsOf(join(work, 'missing'))).toBeNull();
  });
});

describe('clusters of a volume', () => {
  const of = (bytes: number, count: number, name: 'FAT32' | 'exFAT' | 'NTFS' = 'FAT32') =>
    clusterFacts({
      system: 'This system',
      candidates: [name],
      word: name,
      unitBytes: bytes,
      units: { bytes, count },
    });

  it('are believed when such a volume can have them', () => {
    expect(of(32768, 100_000)).toEqual({ fileSystem: 'FAT32', clusterBytes: 32768, clusterCount: 100_000 });
    expect(of(32 * 1024 * 1024, 1000, 'exFAT').clusterBytes).toBe(32 * 1024 * 1024);
    for (const bytes of [0, 1, 256, 1000, 32769, 1024 * 1024, 2 ** 40, Number.NaN, -4096])
      expect(of(bytes, 100_000).clusterBytes).toBeInstanceOf(Unseen);
    for (const count of [0, -1, 0.5, 0x0ffffff6, Number.NaN])
      expect(of(32768, count).clusterCount).toBeInstanceOf(Unseen);
  });

  it('of other file systems are nothing that rules ask for', () => {
    const { fileSystem, clusterBytes } = of(4096, 1000, 'NTFS');
    expect(fileSystem).toBe('NTFS');
    expect(clusterBytes).toBeInstanceOf(Unseen);
  });
});

describe('property lists', () => {
  const list = (inner: string): string =>
    `<?xml version="1.0"?>\n<!DOCTYPE plist PUBLIC "a" "b">\n<plist version="1.0">${inner}</plist>\n`;

  it('follow one another', () => {
    const lists = propertyLists(
      `${list('<dict><key>a</key><string>1 &lt;/plist&gt; &amp; &#228;</string></dict>')}${list('<dict/>')}`,
    );
    expect(lists).toHaveLength(2);
    expect(lists?.[0]?.text('a')).toBe('1 </plist> & ä');
    expect(lists?.[0]?.text('toString')).toBeUndefined();
    expect(propertyLists('')).toEqual([]);
  });

  it('are believed whole or not at all', () => {
    const good = list('<dict></dict>');
    for (const bad of ['x', '<plist>', list('<array></array>'), list('<dict>'), list('<dict></dict></dict>')])
      for (const text of [bad, good + bad, bad + good]) expect(propertyLists(text)).toBeNull();
  });
});

describe('the system of this computer', () => {
  it('is found by its name, and an unknown one knows of no card and says so', async () => {
    const other = await cardSystem('haiku');
    expect(other.volumeOf('/')).toBeNull();
    expect(other.cards().incomplete).toContain('(haiku)');
    for (const name of ['darwin', 'win32'] as const)
      expect((await cardSystem(name)).deviceOf).toBeTypeOf('function');
  });

  it('may be Linux inside Windows (versions as published for WSL 1 and 2)', () => {
    expect(insideWindows('linux', '5.15.153.1-microsoft-standard-WSL2')).toBe(true);
    expect(insideWindows('linux', '4.4.0-19041-Microsoft')).toBe(true);
    expect(insideWindows('linux', '6.1.0-18-amd64')).toBe(false);
    expect(insideWindows('win32', '10.0.19045')).toBe(false);
  });
});
