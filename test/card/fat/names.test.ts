import { describe, expect, it } from 'vitest';
import { LongNameCollector } from '../../../src/card/fat/long-name.js';
import { hashOf, NameIndex } from '../../../src/card/fat/name-index.js';
import { isBadLabel, isBadShortName, rawShortName, shortNameText } from '../../../src/card/fat/short-name.js';

describe('short names as text', () => {
  it.each([
    ['UPDATE  BIN', 'UPDATE.BIN'],
    ['README     ', 'README'],
    ['A B     C D', 'A B.C D'],
    ["~!#$%&'()-@", "~!#$%&'(.)-@"],
    ['\x05BC     TXT', 'σBC.TXT'],
    ['\x8eBC     \x9a  ', 'ÄBC.Ü'],
    ['A/B\x07C   ?* ', 'A_B_C.__'],
  ])('%j is shown as %s', (raw, shown) => {
    expect(shortNameText(raw)).toBe(shown);
  });

  it.each([
    [0x00, 'UPDATE.BIN'],
    [0x08, 'update.BIN'],
    [0x10, 'UPDATE.bin'],
    [0x18, 'update.bin'],
    [0xe7, 'UPDATE.BIN'],
  ])('case byte %i shows %s', (caseByte, shown) => {
    expect(shortNameText('UPDATE  BIN', caseByte)).toBe(shown);
  });

  it('lower-cases letters of the code page too', () => {
    expect(shortNameText('\x8eBC     TXT', 0x08)).toBe('äbc.TXT');
  });
});

describe('short names out of text', () => {
  it.each([
    ['update.bin', 'UPDATE  BIN'],
    ['README', 'README     '],
    ['A.B', 'A       B  '],
  ])('%s is stored as %j', (text, raw) => {
    expect(rawShortName(text)).toBe(raw);
  });
  it.each(['', 'nine-long.bin', 'a.long', 'a.b.c', 'a+b', 'ä', ' a', '.bin', 'a/b'])('%j is none', (text) => {
    expect(rawShortName(text)).toBeNull();
  });
});

describe('names that may not exist', () => {
  it('refuses short names', () => {
    expect(isBadShortName('UPDATE  BIN')).toBe(false);
    expect(isBadShortName('\x05BC     TXT')).toBe(false);
    expect(isBadShortName('\x85BC     TXT')).toBe(false);
    for (const raw of [
      ' PDATE  BIN',
      'UPDaTE  BIN',
      'UP.ATE  BIN',
      'UPDATE  B\x00N',
      'A\x05         ',
      'A;         ',
    ])
      expect(isBadShortName(raw), raw).toBe(true);
  });
  it('takes lower case in a label', () => {
    expect(isBadLabel('my card    ')).toBe(false);
    expect(isBadLabel('MY.CARD    ')).toBe(true);
    expect(isBadLabel('           ')).toBe(true);
  });
});

describe('pieces of a long name', () => {
  /** Entries of a long name in disk order: 13 units each, the last piece first (FAT specification, section 7). */
  function pieces(name: string, checksum: number): Uint8Array[] {
    const units = Array.from({ length: Math.ceil(name.length / 13) * 13 }, (_, i) =>
      i < name.length ? name.charCodeAt(i) : i === name.length ? 0 : 0xffff,
    );
    const count = units.length / 13;
    return Array.from({ length: count }, (_, index) => {
      const ordinal = count - index;
      const entry = new Uint8Array(32);
      const view = new DataView(entry.buffer);
      entry[0] = ordinal | (index === 0 ? 0x40 : 0);
      entry[11] = 0x0f;
      entry[13] = checksum;
      const places = [1, 3, 5, 7, 9, 14, 16, 18, 20, 22, 24, 28, 30];
      places.forEach((at, i) => {
        view.setUint16(at, units[(ordinal - 1) * 13 + i] as number, true);
      });
      return entry;
    });
  }

  it.each(['a', 'exactly13char', 'fourteen chars', 'grüße ☃ 漢字 🚀.txt', 'x'.repeat(255)])(
    'gives back %s',
    (name) => {
      const collector = new LongNameCollector();
      for (const [slot, entry] of pieces(name, 7).entries()) expect(collector.add(entry, 0, slot)).toBeNull();
      expect(collector.close(7)).toBeNull();
      expect(collector.name).toBe(name);
      expect(collector.hash).toBe(hashOf(name));
      expect(collector.isBad).toBe(false);
      expect(collector.isOpen).toBe(false);
    },
  );

  it('notices a wrong order, a missing start, a start within, too many pieces', () => {
    const collector = new LongNameCollector();
    const [third, middle, first] = pieces('a name of three whole pieces.text', 7) as [
      Uint8Array,
      Uint8Array,
      Uint8Array,
    ];
    expect(collector.add(middle, 0, 0)).toBe('no-start');
    collector.add(third, 0, 0);
    expect(collector.add(first, 0, 1)).toBe('wrong-order');
    expect(collector.isOpen).toBe(false);
    collector.add(third, 0, 0);
    expect(collector.add(third, 0, 1)).toBe('starts-within');
    expect(collector.isOpen).toBe(true);
    const long = third.slice();
    long[0] = 0x40 | 21;
    collector.reset();
    expect(collector.add(long, 0, 0)).toBe('too-long');
  });

  it('leaves a name unfinished, or of another short name', () => {
    const collector = new LongNameCollector();
    const all = pieces('a name of three whole pieces.text', 7);
    collector.add(all[0] as Uint8Array, 0, 0);
    expect(collector.close(7)).toBe('unfinished');
    for (const entry of all) collector.add(entry, 0, 0);
    expect(collector.close(8)).toBe('wrong-checksum');
    const other = (all[1] as Uint8Array).slice();
    other[13] = 9;
    collector.add(all[0] as Uint8Array, 0, 0);
    expect(collector.add(other, 0, 1)).toBe('wrong-checksum');
    collector.add(all[2] as Uint8Array, 0, 2);
    expect(collector.close(7)).toBe('wrong-checksum');
  });

  it('marks what no driver takes', () => {
    const collector = new LongNameCollector();
    for (const name of ['a:b', '.', '..', 'a/b', 'a\\b', 'a\u0001', 'a?', 'x'.repeat(256)]) {
      for (const entry of pieces(name, 7)) collector.add(entry, 0, 0);
      collector.close(7);
      expect(collector.isBad, name).toBe(true);
    }
    for (const name of ['a', '.a', 'a.', 'ä', '+,;=[]', 'x'.repeat(255)]) {
      for (const entry of pieces(name, 7)) collector.add(entry, 0, 0);
      collector.close(7);
      expect(collector.isBad, name).toBe(false);
    }
  });
});

describe('names of one folder', () => {
  const named = (rawShortName: string, name: string) => ({ rawShortName, name });
  const add = (index: NameIndex<ReturnType<typeof named>>, item: ReturnType<typeof named>) =>
    index.twinOf(item, hashOf(item.rawShortName), hashOf(item.name));

  it('finds twins by short name and by name, whatever the case', () => {
    const index = new NameIndex<ReturnType<typeof named>>();
    const first = named('UPDATE~1BIN', 'Update file.bin');
    expect(add(index, first)).toBeNull();
    expect(add(index, named('UPDATE~2BIN', 'other file.bin'))).toBeNull();
    expect(add(index, named('UPDATE~3BIN', 'UPDATE FILE.BIN'))).toBe(first);
    expect(add(index, named('UPDATE~1BIN', 'something.bin'))).toBe(first);
    index.clear();
    expect(add(index, named('UPDATE~1BIN', 'Update file.bin'))).toBeNull();
  });

  it('keeps thousands of names apart, and all the same ones together, in no time', () => {
    const index = new NameIndex<ReturnType<typeof named>>();
    const started = performance.now();
    for (let i = 0; i < 65_000; i++)
      expect(add(index, named(`F${i}`.padEnd(11), `file ${i}`)) === null).toBe(true);
    index.clear();
    const same = named('SAME    BIN', 'same.bin');
    add(index, same);
    for (let i = 0; i < 65_000; i++)
      if (add(index, named('SAME    BIN', 'same.bin')) !== same) throw new Error('lost');
    expect(performance.now() - started).toBeLessThan(15_000);
  });
});
