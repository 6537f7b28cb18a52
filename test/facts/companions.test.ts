import { describe, expect, test } from 'vitest';
import type { Companion } from '../../src/board/profile.js';
import { readProfile } from '../../src/board/read.js';
import { resolveProfile } from '../../src/board/resolve.js';
import { collectCompanions } from '../../src/facts/collect-companions.js';
import { Absent, FactList, type FactRecord, type FactValue, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { nodeDigests } from '../../src/node/digests.js';
import { type MemoryFile, memoryTree, sampleBoard } from './memory-tree.js';

const { profile } = readProfile(sampleBoard('burr'), 'burr.yaml');
const resolved = resolveProfile(profile, { answers: { panel: 'none' } });

/** The records of these companions on these files, for an update file of this release. */
function records(
  companions: readonly Partial<Companion>[],
  files: readonly MemoryFile[],
  release: FactValue = new Unseen('not-visible', 'no manifest'),
): FactRecord[] {
  const store = new FactStore();
  store.set('image.release', release);
  const wanted = companions.map(
    (companion): Companion => ({ role: 'trigger', required: true, ...companion }),
  );
  collectCompanions(store, memoryTree(files), { ...resolved, companions: wanted }, nodeDigests, profile);
  const list = store.value('companions');
  if (!(list instanceof FactList)) throw new Error('companions are no list');
  return list.items as FactRecord[];
}

const word = (value: FactValue | undefined): unknown =>
  value instanceof Unseen ? `unseen: ${value.cause}` : value instanceof Absent ? 'absent' : value;

describe('text of companions', () => {
  const text = { encoding: 'ascii', bom: false, lineEnds: 'lf', grammar: 'key-value' } as const;

  test('what is asked and what is there', () => {
    const [record] = records([{ path: 'GO.TXT', text }], [{ path: 'GO.TXT', content: '\ufeffFlash=1\r\n' }]);
    expect(record).toMatchObject({
      encodingWanted: 'ascii',
      markAllowed: false,
      lineEndsWanted: 'lf',
      grammarWanted: 'key-value',
      encoding: 'ascii',
      mark: 'utf-8',
      zeroBytes: 0,
      lineEnds: 'crlf',
      foundAt: 'GO.TXT',
    });
    expect(record?.grammarFaults).toMatchObject({
      items: ['line 1: a capital letter stands before the = sign'],
    });
  });

  test('nothing is asked of it: nothing is said of it', () => {
    const [record] = records([{ path: 'MAP.DAT' }], [{ path: 'MAP.DAT', content: '\0\0' }]);
    for (const field of ['encodingWanted', 'encoding', 'mark', 'lineEnds', 'grammarFaults'])
      expect(word(record?.[field])).toBe('absent');
  });

  test('any line ends will do', () => {
    const [record] = records(
      [{ path: 'GO.TXT', text: { lineEnds: 'any' } }],
      [{ path: 'GO.TXT', content: 'a\n' }],
    );
    expect([word(record?.lineEndsWanted), record?.lineEnds]).toEqual(['absent', 'lf']);
  });

  test('it is not there', () => {
    const [record] = records([{ path: 'GO.TXT', text }], []);
    expect([record?.found, word(record?.encoding), word(record?.foundAt)]).toEqual([
      false,
      'absent',
      'absent',
    ]);
  });

  test('it is too large to be read', () => {
    const [record] = records([{ path: 'GO.TXT', text }], [{ path: 'GO.TXT', bytes: 2 ** 31 } as MemoryFile]);
    expect([record?.found, word(record?.encoding)]).toEqual([true, 'unseen: over-limit']);
  });
});

describe('which companions are wanted', () => {
  // The Burr compares releases as dotted numbers, so 1.10 is above 1.9.
  const from = { path: 'CONES.TAB', from: '1.9' };
  test.each([
    ['1.8', 0],
    ['1.9', 1],
    ['1.10', 1],
  ])('for release %s of the update file', (release, count) => {
    expect(records([from], [], release)).toHaveLength(count);
  });
  test('nobody knows the release', () => {
    const [record] = records([from], []);
    expect([word(record?.required), record?.found]).toEqual(['unseen: not-visible', false]);
    expect(word(records([from], [], new Absent('no release'))[0]?.required)).toBe('unseen: not-visible');
  });
  test('one that need not be there stays so', () => {
    expect(records([{ ...from, required: false }], [])[0]?.required).toBe(false);
  });
});

describe('where companions lie', () => {
  test('in another folder, or in other letters on a loader that compares them', () => {
    const there = records([{ path: 'BURR/GO.TXT' }], [{ path: 'GO.TXT' }])[0];
    expect([there?.found, there?.elsewhere]).toEqual([false, 'GO.TXT']);
    const store = new FactStore();
    const exact = {
      ...resolved,
      loader: { ...resolved.loader, nameCase: 'exact' as const },
      companions: [{ path: 'GO.TXT', role: 'trigger' as const, required: true }],
    };
    collectCompanions(store, memoryTree([{ path: 'go.txt' }]), exact, nodeDigests, profile);
    expect((store.value('companions') as FactList).items[0]).toMatchObject({
      found: false,
      elsewhere: 'go.txt',
    });
  });
  test('what becomes of them, and whether that can be', () => {
    const [record] = records(
      [{ path: 'GO.TXT', afterSuccess: 'delete', title: 'flag file' }],
      [{ path: 'GO.TXT', readOnly: true }],
    );
    expect(record).toMatchObject({ afterSuccess: 'delete', readOnly: true, title: 'flag file' });
  });
});
