import { describe, expect, test } from 'vitest';
import { sizeText } from '../../src/bytes/size-text.js';
import { Absent, FactList, type FactValue, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { compileTemplate, ExpressionError } from '../../src/rules/compile.js';
import { hex, ruleFunctions } from '../../src/rules/functions.js';
import { render } from '../../src/rules/template.js';
import { visible } from '../../src/rules/visible.js';

function text(template: string, facts: Record<string, FactValue> = {}): string {
  const store = new FactStore();
  for (const [path, value] of Object.entries(facts)) store.set(path, value);
  return render(compileTemplate(template), { facts: store });
}

test('sizes in words', () => {
  // IEC 80000-13 prefixes; 7,948,206,080 and 32,010,928,128 bytes are sizes of common 8 GB and 32 GB cards.
  const words = [
    [0, '0 bytes'],
    [1, '1 byte'],
    [512, '512 bytes'],
    [1023, '1023 bytes'],
    [1024, '1 KiB'],
    [1536, '1.5 KiB'],
    [4095, '4095 bytes'],
    [4096, '4 KiB'],
    [28673, '28673 bytes'],
    [1048575, '1048575 bytes'],
    [1048576, '1 MiB'],
    [7948206080, '7.4 GiB'],
    [32010928128, '29.8 GiB'],
    [2147483649, '2.0 GiB'],
    [1073741823, '1.0 GiB'],
    [2 ** 41, '2 TiB'],
    [-4096, '-4 KiB'],
  ] as const;
  for (const [bytes, expected] of words) expect([bytes, sizeText(bytes)]).toEqual([bytes, expected]);
});

test('hexadecimal with a width that people expect', () => {
  const digits = [0, 0x0c, 0x800, 0xffff, 0x10000, 0x08007000, 2 ** 32].map(hex);
  expect(digits).toEqual([
    '0x00',
    '0x0C',
    '0x0800',
    '0xFFFF',
    '0x00010000',
    '0x08007000',
    '0x0000000100000000',
  ]);
});

describe('in texts', () => {
  const facts = {
    'volume.clusterBytes': 4096,
    'volume.label': new Absent('no label'),
    'partition.type': 12,
    'partition.found': true,
    'power.peakWatts': 0.1 + 0.2,
    'updateFile.name': 'A\u202eNIB.EXE',
    'board.loader.clusterBytes': new FactList([512, 4096, 8192]),
    'board.loader.fatCount': new FactList([1, 2]),
    'board.loader.partitionTypes': new FactList([11, 12]),
    'board.loader.fileSystems': new FactList(['FAT16']),
    'board.loader.bootFlag': new FactList([]),
    'updateFile.candidates': new FactList(Array.from({ length: 60 }, (_, index) => `F${index}`)),
  };

  test.each([
    ['{volume.clusterBytes} and {sizeText(volume.clusterBytes)}', '4096 and 4 KiB'],
    ['{anyOf(board.loader.clusterBytes)}', '512 bytes, 4 KiB or 8 KiB'],
    ['{sizesText(board.loader.clusterBytes)}', '512 bytes, 4 KiB or 8 KiB'],
    ['{anyOf(board.loader.fatCount)}', '1 or 2'],
    ['{anyOf(board.loader.fileSystems)}', 'FAT16'],
    ['{anyOf(board.loader.bootFlag)}', 'nothing'],
    ['{hexOf(board.loader.partitionTypes)}', '0x0B or 0x0C'],
    ['{hex(partition.type)} {partition.type}', '0x0C 12'],
    ['{plural(1, "file", "files")} {plural(2, "file", "files")}', 'file files'],
    ['{count(1, "file", "files")}, {count(0, "file", "files")}', '1 file, 0 files'],
    ['{join(board.loader.fatCount, " + ")}', '1 + 2'],
    ['{quote(updateFile.name)}', '"A<U+202E>NIB.EXE"'],
    ['{updateFile.name}', 'A<U+202E>NIB.EXE'],
    ['{figure(196.4499)} {figure(24.0)} {figure(-0.04)} {figure(0.8 * 100.0)}', '196.4 24 0 80'],
    ['{lower("Ab") + upper("Ab") + digits(7 / 2)}', 'abAB3'],
    ['{partition.found} {power.peakWatts}', 'yes 0.3'],
    ['{classesText(["SDSC", "SDHC"])}', 'SDSC (up to 2 GB) or SDHC (over 2 GB, up to 32 GB)'],
    ['{encodingText("intel-hex")}', 'Intel HEX text (.hex)'],
    ['{{a}} {"}"}{\'{\'}', '{a} }{'],
    ['{volume.label}, {volume.fatCount}, {sizeText(volume.bytes)}', '(none), (not seen), (not seen)'],
    ['{present(volume.label) ? volume.label : "no label"}', 'no label'],
    ['', ''],
  ])('%s', (template, expected) => {
    expect(text(template, facts)).toBe(expected);
  });

  test('long lists are cut and counted', () => {
    const joined = text('{join(updateFile.candidates, ", ")}', facts);
    expect(joined).toMatch(/^F0, F1, .*, F49 and 10 more$/);
    expect(text('{anyOf(updateFile.candidates)}', facts)).toMatch(/, F49 or one of 10 more$/);
  });

  test('a list with an unseen item or an unseen rest is not seen', () => {
    const lost = new Unseen('damaged', 'unreadable');
    expect(
      text('{join(updateFile.candidates, "")}', { 'updateFile.candidates': new FactList(['A', lost]) }),
    ).toBe('(not seen)');
    expect(
      text('{join(updateFile.candidates, "")}', { 'updateFile.candidates': new FactList(['A'], lost) }),
    ).toBe('(not seen)');
  });

  test('problems have their place in the text', () => {
    for (const [template, offset] of [
      ['ab {volume.labl}', 4],
      ['ab {volume.label', 3],
      ['ab } c', 3],
      ['{"}"} {files}', 7],
      ['ab {}', 4],
    ] as const) {
      try {
        compileTemplate(template);
        expect.unreachable(template);
      } catch (error) {
        if (!(error instanceof ExpressionError)) throw error;
        expect([template, error.problems[0]!.offset]).toEqual([template, offset]);
      }
    }
  });
});

test('every function is declared in full, once', () => {
  const names = ruleFunctions.map((each) => each.name);
  expect(new Set(names).size).toBe(names.length);
  for (const { name, signatures, meaning } of ruleFunctions) {
    expect(signatures.length).toBeGreaterThan(0);
    for (const signature of signatures) expect(signature.startsWith(`${name}(`)).toBe(true);
    expect(meaning).toMatch(/\.$/);
  }
});

test('hidden characters are written out, and only those', () => {
  // Unicode Standard Annex 9 (bidirectional controls), Trojan Source (CVE-2021-42574), ECMA-48 control functions.
  expect(visible('\u001b[2J\r\n\u0000\u009b\u007f')).toBe(
    '<U+001B>[2J<U+000D><U+000A><U+0000><U+009B><U+007F>',
  );
  expect(visible('\u202a\u202e\u2066\u2069\u200f\u061c')).toBe(
    '<U+202A><U+202E><U+2066><U+2069><U+200F><U+061C>',
  );
  expect(visible('\ufeff\u200b\u00ad\u2028\u{e0041}\ud800')).toBe(
    '<U+FEFF><U+200B><U+00AD><U+2028><U+E0041><U+D800>',
  );
  expect(visible('Grüße, 日本語 \u{1F600} é')).toBe('Grüße, 日本語 \u{1F600} é');
  expect(visible(visible('\u202eA'))).toBe(visible('\u202eA'));
});
