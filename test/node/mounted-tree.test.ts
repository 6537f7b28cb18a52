import { chmodSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { readProfile } from '../../src/board/read.js';
import { resolveProfile } from '../../src/board/resolve.js';
import { chooseUpdateFile } from '../../src/facts/collect-update-file.js';
import { Unseen } from '../../src/facts/fact.js';
import { asLoaderSees, lookedInto } from '../../src/facts/loader-view.js';
import { ownShortName } from '../../src/facts/update-file-name.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { type DriverHabits, MountedFolder } from '../../src/node/mounted-tree.js';
import { sampleBoard } from '../support/check-card.js';
import { mayMount, withMount } from '../support/loop-device.js';

let root: string;
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'flashworthy-'));
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const kernel: DriverHabits = { opensShortNames: true, showsReadOnly: true, takesNamesApart: false };
const other: DriverHabits = { ...kernel, opensShortNames: false, showsReadOnly: false };
const why = new Unseen('not-visible', 'not shown by this folder');
const open = (habits = kernel): MountedFolder => MountedFolder.open(root, habits, why);
const put = (path: string, content = 'x'): void => {
  mkdirSync(join(root, path, '..'), { recursive: true });
  writeFileSync(join(root, path), content);
};

function resolved(id: string, sets: Record<string, string>, installed?: string) {
  const { profile } = readProfile(sampleBoard(id), `${id}.yaml`);
  const { machine } = machineFromOptions({ sets, ...(installed ? { installed } : {}) }, profile);
  return resolveProfile(profile, machine);
}
const burr = () => resolved('burr', { panel: 'none' });
const tansy = () => resolved('tansy', {}, '30');

describe('the files of a mounted volume', () => {
  it('have names and sizes, and a reason in place of all that a folder does not show', () => {
    put('BURR/MILL.UF2', 'four');
    const [folder, file] = open().entries;
    expect(folder).toMatchObject({ path: 'BURR', isFolder: true, shortName: 'BURR', above: [] });
    expect(file).toMatchObject({
      path: 'BURR/MILL.UF2',
      bytes: 4,
      shortName: 'MILL.UF2',
      above: [{ name: 'BURR', shortName: 'BURR' }],
      readOnly: false,
      entryIndex: why,
      fragments: why,
      usesLastCluster: why,
      startByte: why,
      hasLongName: why,
    });
    expect(file?.hidden).toBeInstanceOf(Unseen);
    expect(open().unordered).toBeInstanceOf(Unseen);
    expect(open().sameChainInEveryFat()).toBe(why);
  });

  // FAT specification, sections 6.1 (letters of short names) and 7.4 (how one is made of a long name).
  it('have a short name only where their own is one already', () => {
    for (const [name, short] of [
      ['UPDATE.BIN', 'UPDATE.BIN'],
      ['update.bin', 'UPDATE.BIN'],
      ['A', 'A'],
      ['NAME~1.B_{', 'NAME~1.B_{'],
      ['12345678.123', '12345678.123'],
    ] as const)
      expect(ownShortName(name)).toBe(short);
    for (const name of [
      'Update.bin',
      'update.BIN',
      '123456789.BIN',
      'UPDATE.FIRM',
      'UP DATE.BIN',
      'A.B.C',
      '.BIN',
      'A.',
      'ÄBC.BIN',
      'A+B.BIN',
      '',
    ])
      expect(ownShortName(name)).toBeNull();
  });

  it('are read-only only where some can be written', () => {
    put('A.TXT');
    put('B.TXT');
    chmodSync(join(root, 'A.TXT'), 0o444);
    expect(open().entries.map(({ readOnly }) => readOnly)).toEqual([true, false]);
    chmodSync(join(root, 'B.TXT'), 0o444);
    // All of them: the volume may be mounted so.
    for (const { readOnly } of open().entries) expect(readOnly).toBeInstanceOf(Unseen);
    for (const { readOnly } of open(other).entries) expect(readOnly).toBeInstanceOf(Unseen);
  });

  it('are put together again where the driver takes names apart', () => {
    put('Ka\u0308se.bin');
    const apart = MountedFolder.open(root, { ...kernel, takesNamesApart: true }, why);
    expect(apart.entries[0]?.name).toBe('K\u00e4se.bin');
    let bytes = 0;
    expect(apart.read(apart.entries[0]!, (piece) => (bytes += piece.length)).whole).toBe(true);
    expect(bytes).toBe(1);
    expect(open().entries[0]?.name).toBe('Ka\u0308se.bin');
  });
});

describe('a change while the folder is read', () => {
  it.each([
    ['a new file', () => put('NEW.BIN')],
    ['other bytes', () => put('BURR/MILL.UF2', 'other')],
    ['another time', () => utimesSync(join(root, 'BURR/MILL.UF2'), 1, 1)],
    ['a file that went away', () => rmSync(join(root, 'BURR/MILL.UF2'))],
    ['a card that was pulled out', () => rmSync(root, { recursive: true })],
  ] as const)('shows: %s', (_name, change) => {
    put('BURR/MILL.UF2');
    const tree = open();
    expect(tree.changed()).toBe(false);
    change();
    expect(tree.changed()).toBe(true);
  });

  it('is none when the computer writes its own files', () => {
    put('BURR/MILL.UF2');
    const tree = open();
    put('.Trashes/501/old', 'x');
    put('System Volume Information/IndexerVolumeGuid', 'x');
    expect(tree.changed()).toBe(false);
  });

  it.runIf(mayMount)('shows when another volume is mounted over it', async () => {
    put('BURR/MILL.UF2');
    const tree = open();
    await withMount(['mount', '-t', 'tmpfs', 'none'], root, () => expect(tree.changed()).toBe(true));
  });
});

describe('what could not be looked at', () => {
  it('makes nothing unknown unless the loader looks there', () => {
    put('BURR/MILL.UF2');
    symlinkSync('nowhere', join(root, 'a-link'));
    const tree = open();
    expect(tree.closed).toEqual([{ path: 'a-link', isFolder: false, why: expect.any(Unseen) }]);
    // The Burr looks into BURR alone.
    expect(lookedInto(burr())).toEqual(['BURR']);
    expect(asLoaderSees(tree, burr()).incomplete).toBeNull();
    // The Tansy looks into the root, where the link may have the name that it wants.
    expect(lookedInto(tansy())).toEqual(['']);
    expect(asLoaderSees(tree, tansy()).incomplete?.text).toContain('a-link');
  });

  it.runIf(mayMount)('is a folder on which another volume is mounted', async () => {
    put('BURR/MILL.UF2');
    put('OTHER/INSIDE.BIN');
    await withMount(['mount', '-t', 'tmpfs', 'none'], join(root, 'OTHER'), () => {
      put('OTHER/HIDDEN.BIN');
      const tree = open();
      expect(tree.entries.map(({ path }) => path)).toEqual(['BURR', 'OTHER', 'BURR/MILL.UF2']);
      expect(tree.closed).toEqual([{ path: 'OTHER', isFolder: true, why: expect.any(Unseen) }]);
      expect(asLoaderSees(tree, burr()).incomplete).toBeNull();
      expect(asLoaderSees(tree, tansy()).incomplete).toBeNull();
    });
    await withMount(['mount', '-t', 'tmpfs', 'none'], join(root, 'BURR'), () => {
      expect(asLoaderSees(open(), burr()).incomplete?.text).toContain('BURR');
    });
  });
});

describe('a loader that knows files by short names', () => {
  it('takes a file whose own name is one', () => {
    put('tansy.lkf');
    expect(chooseUpdateFile(asLoaderSees(open(), tansy()), tansy())?.path).toBe('tansy.lkf');
  });

  it('may take one whose short name is not shown: that is open', () => {
    put('Tansy.lkf');
    const view = asLoaderSees(open(), tansy());
    expect(chooseUpdateFile(view, tansy())).toBeNull();
    expect(view.incomplete).toMatchObject({
      cause: 'not-visible',
      text: expect.stringContaining('"Tansy.lkf"'),
    });
    expect(view.incomplete?.settle).toContain('TANSY.LKF');
  });

  it('is not confused by long names that cannot be meant', () => {
    put('TANSY.LKF');
    put('System Volume Information/x');
    put('A long name of another file.txt');
    expect(asLoaderSees(open(), tansy()).incomplete).toBeNull();
  });
});

describe('a loader that reads both names', () => {
  it('finds nothing when the driver opens nothing under the wanted name', () => {
    put('BURR/A long name.uf2');
    const view = asLoaderSees(open(), burr());
    expect(view.incomplete).toBeNull();
    expect(chooseUpdateFile(view, burr())).toBeNull();
  });

  it('is open under a driver that may hide short names', () => {
    put('BURR/A long name.uf2');
    const view = asLoaderSees(open(other), burr());
    expect(view.incomplete?.text).toContain('BURR/MILL.UF2');
  });

  it('finds a file by the short name under which the driver opens it', () => {
    // A hard link stands for the second name that a FAT driver opens and does not list.
    put('BURR/A long name.uf2');
    const tree = open();
    const found = tree.entries.find(({ name }) => name === 'A long name.uf2')!;
    const asked: string[] = [];
    const view = asLoaderSees(
      {
        ...tree,
        entries: tree.entries,
        closed: tree.closed,
        incomplete: null,
        problems: [],
        read: (entry, visit) => tree.read(entry, visit),
        sameChainInEveryFat: () => tree.sameChainInEveryFat(),
        find: (path) => {
          asked.push(path);
          return path === 'BURR/MILL.UF2' ? found.path : null;
        },
      },
      burr(),
    );
    expect(asked).toContain('BURR/MILL.UF2');
    const chosen = chooseUpdateFile(view, burr());
    expect(chosen).toMatchObject({ path: found.path, shortName: 'MILL.UF2' });
    expect(view.read(chosen!, () => {}).whole).toBe(true);
  });

  it('asks the driver, which knows one file under two names', () => {
    put('BURR/MILL.UF2');
    expect(open().find('BURR/MILL.UF2')).toBe('BURR/MILL.UF2');
    expect(open().find('BURR/NOTHING.UF2')).toBeNull();
    expect(open(other).find('BURR/NOTHING.UF2')).toBeInstanceOf(Unseen);
  });
});
