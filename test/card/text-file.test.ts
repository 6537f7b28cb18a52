import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { limits } from '../../src/bytes/limits.js';
import { grammarFaults, lineEndsOf, readTextFile } from '../../src/card/text-file.js';

const ascii = (text: string): Uint8Array => new TextEncoder().encode(text);
const joined = (...parts: (number[] | Uint8Array)[]): Uint8Array =>
  Uint8Array.from(parts.flatMap((part) => [...part]));
/** As Node's own encoder stores it, without a mark. */
const utf16le = (text: string): Uint8Array => new Uint8Array(Buffer.from(text, 'utf16le'));
const utf16be = (text: string): Uint8Array => new Uint8Array(Buffer.from(text, 'utf16le').swap16());

describe('how a text is stored', () => {
  // Byte-order marks: the Unicode Standard, table 2-4 and section 23.8.
  test.each([
    ['nothing', ascii(''), 'ascii', 'none'],
    ['plain letters', ascii('go\n'), 'ascii', 'none'],
    ['letters with accents', ascii('für\n'), 'utf-8', 'none'],
    ['a mark before plain letters', joined([0xef, 0xbb, 0xbf], ascii('go\n')), 'ascii', 'utf-8'],
    ['two bytes of that mark', Uint8Array.of(0xef, 0xbb), 'other', 'none'],
    ['UTF-16, small end first', joined([0xff, 0xfe], utf16le('go\n')), 'utf-16', 'utf-16-le'],
    ['UTF-16, big end first', joined([0xfe, 0xff], utf16be('go\n')), 'utf-16', 'utf-16-be'],
    ['UTF-16 without a mark', utf16le('go=1\n'), 'utf-16', 'none'],
    ['UTF-16 without a mark, big end first', utf16be('go=1\n'), 'utf-16', 'none'],
    ['one zero byte in plain letters', ascii('g\0o\n'), 'ascii', 'none'],
    ['zeros only', new Uint8Array(8), 'ascii', 'none'],
    ['Latin-1', Uint8Array.of(0x66, 0xfc, 0x72), 'other', 'none'],
  ])('%s', (_name, bytes, encoding, mark) => {
    expect(readTextFile(bytes)).toMatchObject({ encoding, mark });
  });

  test('counts zero bytes', () => {
    expect(readTextFile(ascii('a\0b\0\0')).zeroBytes).toBe(3);
  });

  test('what is UTF-8, Node says too', () => {
    const decoder = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
    const isUtf8 = (bytes: Uint8Array): boolean => {
      try {
        decoder.decode(bytes);
        return true;
      } catch {
        return false;
      }
    };
    // Bytes that meet the edges of the table of well-formed sequences more often than chance does.
    const byte = fc.oneof(
      fc.integer({ min: 1, max: 255 }),
      fc.constantFrom(0x7f, 0x80, 0x8f, 0x90, 0x9f, 0xa0, 0xbf, 0xc1, 0xc2, 0xe0, 0xed, 0xf0, 0xf4, 0xf5),
    );
    fc.assert(
      fc.property(fc.array(byte, { maxLength: 12 }), (list) => {
        const bytes = Uint8Array.from(list);
        const { encoding, mark } = readTextFile(bytes);
        fc.pre(mark === 'none' || mark === 'utf-8');
        expect(encoding !== 'other').toBe(isUtf8(bytes));
      }),
      { numRuns: 2000 },
    );
  });
});

describe('line ends', () => {
  test.each([
    ['', 'none'],
    ['go', 'none'],
    ['a\nb\n', 'lf'],
    ['a\r\nb\r\n', 'crlf'],
    ['a\rb\r', 'cr'],
    ['a\nb\r\n', 'mixed'],
    ['a\r\r\n', 'mixed'],
    ['a\r', 'cr'],
  ])('%j: %s', (text, expected) => {
    expect(lineEndsOf(readTextFile(ascii(text)))).toBe(expected);
    expect(lineEndsOf(readTextFile(joined([0xff, 0xfe], utf16le(text))))).toBe(expected);
    expect(lineEndsOf(readTextFile(joined([0xfe, 0xff], utf16be(text))))).toBe(expected);
  });
});

describe('grammars', () => {
  test.each([
    ['lines', 'go\nstop\n', []],
    ['lines', 'go now\r\n\r\n# anything\r\n', []],
    ['lines', 'go\n\tstop\n', ['2 it holds a tab']],
    ['lines', ' go\nstop \n', ['1 it starts with a space', '2 it ends with a space']],
    ['lines', 'go\0\n', ['1 it holds a control character']],
    ['lines', 'für\n', []],
    ['key-value', 'flash=yes\nbed_2.max=80\n\nnote=two words\nempty=\n', []],
    ['key-value', 'flash = yes\n', ['1 a space stands next to the = sign']],
    ['key-value', 'flash= yes\n', ['1 a space stands next to the = sign']],
    ['key-value', 'Flash=yes\n', ['1 a capital letter stands before the = sign']],
    ['key-value', 'flash=YES\n', []],
    ['key-value', 'flash\n=yes\n', ['1 it has no = sign', '2 nothing stands before the = sign']],
    [
      'key-value',
      '#flash=yes\n;a=b\n//c=d\n',
      ['1 it is a comment', '2 it is a comment', '3 it is a comment'],
    ],
    ['key-value', 'two words=yes\n', ['1 what stands before the = sign is not only letters and digits']],
    ['key-value', '\ufeffflash=yes\n', []],
  ] as const)('%s: %j', (grammar, text, expected) => {
    expect(grammarFaults(ascii(text), grammar).map((fault) => `${fault.line} ${fault.text}`)).toEqual(
      expected,
    );
  });

  test('counts lines alike with every kind of line end', () => {
    for (const end of ['\n', '\r\n', '\r'])
      expect(grammarFaults(ascii(['a', 'b', ' c', ''].join(end)), 'lines')).toEqual([
        { line: 3, text: 'it starts with a space' },
      ]);
  });

  test('tells no more faults than are listed', () => {
    expect(grammarFaults(ascii(' a\n'.repeat(10_000)), 'lines')).toHaveLength(limits.listed);
  });
});
