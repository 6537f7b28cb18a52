import { describe, expect, test } from 'vitest';
import { readProfile } from '../../src/board/read.js';
import { resolveProfile } from '../../src/board/resolve.js';
import { collectBoard } from '../../src/facts/collect-board.js';
import { collectOtherFiles } from '../../src/facts/collect-other-files.js';
import { collectUpdateFile } from '../../src/facts/collect-update-file.js';
import { Absent, FactList, type FactValue, isRecord, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { misnaming } from '../../src/facts/update-file-name.js';
import { nodeDigests } from '../../src/node/digests.js';
import { type MemoryFile, memoryTree, sampleBoard } from './memory-tree.js';

/** Values as plain data; markers as a word. */
function plain(value: FactValue): unknown {
  if (value instanceof Unseen) return `unseen: ${value.cause}`;
  if (value instanceof Absent) return 'absent';
  if (value instanceof FactList) return [...value.items.map(plain), ...(value.incomplete ? ['…'] : [])];
  if (!isRecord(value)) return value;
  return Object.fromEntries(Object.entries(value).map(([name, field]) => [name, plain(field)]));
}

/** Facts of files for the Burr, with these lines of its profile replaced. */
function collected(
  files: readonly (string | MemoryFile)[],
  changes: Readonly<Record<string, string>> = {},
  options: { panel?: string; lastFileName?: string; incomplete?: Unseen } = {},
): (path: string) => unknown {
  let text = sampleBoard('burr');
  for (const [from, to] of Object.entries(changes)) {
    expect(text).toContain(from);
    text = text.replace(from, to);
  }
  const { profile } = readProfile(text, 'burr.yaml');
  const { panel = 'none', lastFileName, incomplete } = options;
  const resolved = resolveProfile(profile, { answers: panel === '' ? {} : { panel } });
  const store = new FactStore();
  if (lastFileName !== undefined) store.set('machine.lastFileName', lastFileName);
  collectBoard(store, resolved, profile);
  const tree = memoryTree(
    files.map((file) => (typeof file === 'string' ? { path: file } : file)),
    incomplete ?? null,
  );
  collectUpdateFile(store, tree, resolved, nodeDigests, profile);
  collectOtherFiles(store, tree, resolved);
  return (path) => plain(store.value(path));
}

const path = 'path: BURR/MILL.UF2';
const glob = (pattern: string): Record<string, string> => ({
  [path]: `match: { folder: BURR, glob: "${pattern}", takes: first-entry }`,
});
const shortNamesOnly = { 'longNames: true': 'longNames: false' };

describe('what the loader takes', () => {
  test('names in order of search, each in its own folder', () => {
    const names = { [path]: 'names: [BURR/A.UF2, B.UF2]' };
    const facts = collected(['B.UF2', 'BURR/B.UF2', 'BURR/A.UF2'], names);
    expect(facts('updateFile.candidates')).toEqual(['BURR/A.UF2', 'B.UF2']);
    expect(facts('updateFile.elsewhere')).toEqual(['BURR/B.UF2']);
  });

  test('a pattern does not take names that the loader does not list', () => {
    const change = {
      ...glob('MILL*.UF2'),
      'nameLength: 64': 'nameLength: 10',
      'nameCharacters: any': 'nameCharacters: A-Z0-9',
    };
    const facts = collected(['BURR/MILL-1.UF2', 'BURR/MILL100.UF2', 'BURR/MILL10.UF2', 'MILL7.UF2'], change);
    expect(facts('updateFile.candidates')).toEqual(['BURR/MILL10.UF2']);
    expect(facts('updateFile.hidden')).toEqual([
      { path: 'BURR/MILL-1.UF2', shortName: 'MILL-1.UF2', how: 'characters' },
      { path: 'BURR/MILL100.UF2', shortName: 'MILL100.UF2', how: 'too-long' },
    ]);
    expect(facts('updateFile.elsewhere')).toEqual(['MILL7.UF2']);
  });

  test('without long names, what the computer made of the name counts', () => {
    const change = { ...glob('*MILL.UF2'), ...shortNamesOnly };
    const facts = collected(
      [
        { path: 'BURR/NEWESTMILL.UF2', shortName: 'NEWEST~1.UF2' },
        'BURR/ANOTHERMILL.UF2',
        'BURR/OLDMILL.UF2',
      ],
      change,
    );
    expect(facts('updateFile.candidates')).toEqual(['BURR/OLDMILL.UF2']);
    expect(facts('updateFile.hidden')).toEqual([
      { path: 'BURR/NEWESTMILL.UF2', shortName: 'NEWEST~1.UF2', how: 'long-name' },
      { path: 'BURR/ANOTHERMILL.UF2', shortName: 'ANOTHE~1.UF2', how: 'long-name' },
    ]);
  });

  test('letters that are compared exactly, folders included', () => {
    const change = { 'nameCase: ignored': 'nameCase: exact' };
    expect(collected(['BURR/mill.uf2'], change)('updateFile.hidden')).toEqual([
      { path: 'BURR/mill.uf2', shortName: 'MILL.UF2', how: 'case' },
    ]);
    expect(collected(['Burr/MILL.UF2'], change)('updateFile.hidden')).toMatchObject([{ how: 'case' }]);
    expect(collected(['BURR/MILL.UF2'], change)('updateFile.path')).toBe('BURR/MILL.UF2');
    expect(collected(['burr/Mill.UF2'])('updateFile.path')).toBe('burr/Mill.UF2');
  });

  test('the settled name is never too long for the profile that asks for it', () => {
    const facts = collected(['BURR/MILL.UF2'], { 'nameLength: 64': 'nameLength: 4' });
    expect(facts('updateFile.path')).toBe('BURR/MILL.UF2');
  });

  test('nobody said which machine it is: all of it is unseen', () => {
    const change = {
      [path]: 'path: [{ for: { panel: none }, path: A.UF2 }, { for: { panel: dial }, path: B.UF2 }]',
    };
    const facts = collected(['A.UF2'], change, { panel: '' });
    expect([facts('updateFile.path'), facts('updateFile.hidden'), facts('otherFiles.list')]).toEqual([
      'unseen: not-told',
      'unseen: not-told',
      'unseen: not-told',
    ]);
  });
});

describe('where other machines look', () => {
  const change = {
    [path]:
      'path: [{ for: { panel: none }, path: BURR/MILL.UF2 }, { for: { panel: dial }, path: BURRS/MILL.UF2 }]',
  };
  test('is told with the machines', () => {
    const facts = collected(['BURRS/MILL.UF2'], change);
    expect(facts('updateFile.onOtherMachines')).toEqual([
      {
        path: 'BURRS/MILL.UF2',
        looksFor: 'BURRS/MILL.UF2',
        machines: 'machines with panel dial',
      },
    ]);
    expect(facts('otherFiles.list')).toEqual([]);
  });
  test('is not told of the file that this one takes', () => {
    expect(collected(['BURR/MILL.UF2'], change)('updateFile.onOtherMachines')).toEqual([]);
  });
});

describe('traces of earlier flashes', () => {
  const marks = {
    'doneMarker: any': 'doneMarker: MILL.DON',
    'stageNames: any': 'stageNames: [{ suffix: .WR, means: died }, { suffix: -VERIFY, means: wrong sum }]',
  };
  test('a done-marker is no misnamed file', () => {
    const facts = collected(['BURR/MILL.DON', 'BURR/MILL2.DON', 'MILL.DON'], marks);
    expect(facts('updateFile.doneMarkers')).toEqual(['BURR/MILL.DON']);
    expect(facts('updateFile.misnamed')).toEqual([]);
  });
  test('stages: the end in place of the extension, behind the name, before the extension', () => {
    const names = ['BURR/MILL.WR', 'BURR/MILL.UF2.WR', 'BURR/MILL-VERIFY.UF2', 'BURR/PLANS.WR', 'MILL.WR'];
    const facts = collected(names, marks);
    expect(facts('updateFile.stages')).toEqual([
      { path: 'BURR/MILL.WR', means: 'died' },
      { path: 'BURR/MILL.UF2.WR', means: 'died' },
      { path: 'BURR/MILL-VERIFY.UF2', means: 'wrong sum' },
    ]);
    expect(facts('updateFile.misnamed')).toEqual([]);
  });
  test('the profile names none', () => {
    const facts = collected(['BURR/MILL.DON']);
    expect([facts('updateFile.doneMarkers'), facts('updateFile.stages')]).toEqual(['absent', 'absent']);
  });
  test('names that were flashed before', () => {
    const factory = { 'naming: fixed': 'naming: fixed\n  factoryName: mill.uf2' };
    expect(collected(['BURR/MILL.UF2'])('updateFile.nameUsedBefore')).toBe('not-known');
    expect(collected(['BURR/MILL.UF2'], factory)('updateFile.nameUsedBefore')).toBe('factory');
    expect(
      collected(['BURR/MILL.UF2'], factory, { lastFileName: 'Mill.uf2' })('updateFile.nameUsedBefore'),
    ).toBe('last');
    expect(collected([], factory)('updateFile.nameUsedBefore')).toBe('absent');
  });
});

describe('files that a pattern takes by accident', () => {
  test('the second files of macOS', () => {
    expect(collected(['BURR/._A.UF2', 'BURR/A.UF2'], glob('*.UF2'))('updateFile.resourceForks')).toEqual([
      'BURR/._A.UF2',
    ]);
    expect(collected(['BURR/._A.UF2'], glob('._*.UF2'))('updateFile.resourceForks')).toEqual([]);
    expect(collected(['BURR/._MILL.UF2', 'BURR/MILL.UF2'])('updateFile.resourceForks')).toEqual([]);
  });
  test('a part of a name, wherever it stands', () => {
    const contains = { [path]: 'match: { folder: BURR, contains: .UF2, takes: first-entry }' };
    const facts = collected(['BURR/A.UF2', 'BURR/B.UF2.OLD', 'BURR/C.UF', 'BURR/._A.UF2'], contains);
    expect(facts('updateFile.greedy')).toEqual(['BURR/A.UF2', 'BURR/B.UF2.OLD']);
    expect(collected(['BURR/A.UF2'], glob('*.UF2'))('updateFile.greedy')).toBe('absent');
  });
});

describe('other files', () => {
  test('each once, a folder for all that is in it; what has a rule of its own is none', () => {
    const facts = collected([
      'BURR/',
      'BURR/MILL.UF2',
      'BURR/MILL (1).UF2',
      'BURR/START.LKT',
      'BURR/.DS_Store',
      'System Volume Information/',
      'System Volume Information/WPSettings.dat',
      'PLANS/',
      'PLANS/OLD/',
      'PLANS/OLD/SIGN.LKD',
      'MILL.UF2',
      'NOTE.TXT',
    ]);
    expect(facts('otherFiles.list')).toEqual([
      { path: 'BURR/.DS_Store', isFolder: false, litter: 'folder-settings' },
      { path: 'System Volume Information', isFolder: true, litter: 'desktop-index' },
      { path: 'PLANS', isFolder: true, litter: 'none' },
      { path: 'NOTE.TXT', isFolder: false, litter: 'none' },
    ]);
  });
  test('an empty folder in which the loader looks is none', () => {
    expect(collected(['BURR/'])('otherFiles.list')).toEqual([]);
  });
  test('a file of the second loader is told with its loader, and only there', () => {
    const facts = collected(['BURR/MILL.UF2', 'OLD.PNL.BAK', 'font1.dat', 'BURR/X.PNL', 'FONT.DAX']);
    expect(facts('otherFiles.forOtherLoaders')).toEqual([
      { path: 'OLD.PNL.BAK', loader: 'loader of the hand panel' },
      { path: 'font1.dat', loader: 'font loader of the hand panel' },
    ]);
    expect(facts('otherFiles.list')).toMatchObject([{ path: 'BURR/X.PNL' }, { path: 'FONT.DAX' }]);
  });
  test('the file of settings belongs to the machine', () => {
    const change = { 'settings: any': 'settings: { file: BURR/BURR.SET }' };
    expect(collected(['BURR/burr.set'], change)('settingsFile.found')).toBe(true);
    expect(collected(['BURR/burr.set'], change)('otherFiles.list')).toEqual([]);
    expect(collected([], change)('settingsFile.found')).toBe(false);
    expect(collected([])('settingsFile.found')).toBe('absent');
  });
  test('folders that could not be read leave the lists open', () => {
    const incomplete = new Unseen('damaged', 'a folder could not be read');
    const change = { 'settings: any': 'settings: { file: BURR/BURR.SET }' };
    const facts = collected(['NOTE.TXT'], change, { incomplete });
    expect(facts('otherFiles.list')).toEqual([{ path: 'NOTE.TXT', isFolder: false, litter: 'none' }, '…']);
    expect(facts('otherFiles.forOtherLoaders')).toEqual(['…']);
    expect(facts('settingsFile.found')).toBe('unseen: damaged');
  });
});

describe('names that are nearly the wanted one', () => {
  test.each([
    ['MILL.UF2', null],
    ['mill.uf2', null],
    ['MILL.UF2.UF2', 'double-extension'],
    ['MILL.TXT.UF2', 'double-extension'],
    ['MILL (1).UF2', 'copy-number'],
    ['MILL.BIN', 'other-extension'],
    ['МILL.UF2', 'odd-characters'],
    ['MI\u200bLL.UF2', 'odd-characters'],
    ['ＭＩＬＬ.UF2', 'odd-characters'],
    [' MILL.UF2', 'odd-characters'],
    ['MILL.UF2 ', 'odd-characters'],
    ['MILL.UF2.', 'odd-characters'],
    ['M ILL.UF2', 'with-spaces'],
    ['BILL.UF2', null],
    ['ЖЖЖЖ.ЖЖЖ', null],
  ])('%j: %s', (name, expected) => {
    expect(misnaming(name, 'MILL.UF2')).toBe(expected);
  });
});
