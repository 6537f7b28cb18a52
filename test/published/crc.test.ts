import { describe, expect, it } from 'vitest';
import {
  adler32,
  byteSum,
  checksumBytes,
  checksumKinds,
  checksumOf,
  crcCatalogue,
  crcOf,
  isChecksumKind,
  stm32Crc,
  wordSumOf,
  xorOf,
} from '../../src/firmware/checksums.js';
import { singleSegment } from '../../src/firmware/memory-map.js';
import { rp2040SecondStage } from '../../src/firmware/vector-table.js';

const ascii = (text: string): Uint8Array => new TextEncoder().encode(text);
const check = ascii('123456789');

// Check values of the catalogue of parametrised CRC algorithms, https://reveng.sourceforge.io/crc-catalogue/all.htm
const published = {
  'crc-32/iso-hdlc': 0xcbf43926,
  'crc-32/mpeg-2': 0x0376e6e7,
  'crc-32/bzip2': 0xfc891918,
  'crc-32/cksum': 0x765e7680,
  'crc-32/jamcrc': 0x340bc6d9,
  'crc-32/iscsi': 0xe3069283,
  'crc-32/autosar': 0x1697d06a,
  'crc-32/base91-d': 0x87315576,
  'crc-32/xfer': 0xbd0be338,
  'crc-16/ibm-3740': 0x29b1,
  'crc-16/xmodem': 0x31c3,
  'crc-16/kermit': 0x2189,
  'crc-16/arc': 0xbb3d,
  'crc-16/modbus': 0x4b37,
} as const;

describe('check values of the CRC catalogue', () => {
  it.each(Object.entries(published))('%s', (name, value) => {
    expect(crcOf(name as keyof typeof published, check)).toBe(value);
    expect(checksumBytes(name as keyof typeof published)).toBe(name.startsWith('crc-16') ? 2 : 4);
  });

  it('every entry of the table has one', () => {
    expect(Object.keys(crcCatalogue).sort()).toEqual(Object.keys(published).sort());
  });

  // The catalogue's residue of CRC-32/ISO-HDLC, 0xdebb20e3, is 0x2144df1c after the last complement.
  it('data with its own CRC behind it gives the constant', () => {
    expect(crcOf('crc-32/iso-hdlc', Uint8Array.from([...check, 0x26, 0x39, 0xf4, 0xcb]))).toBe(0x2144df1c);
  });
});

describe('other checksums', () => {
  // RFC 1950; value of the nine digits as zlib and srec_cat give it.
  it('Adler-32', () => expect(adler32(check)).toBe(0x091e01de));

  // The CRC unit of STM32 in its reset state fed with words, as in ST's application note on the unit and in srec_cat's
  // filter of that name: CRC-32/MPEG-2 over the bytes of each word, the highest first.
  it.each([
    [[0x00, 0x00, 0x00, 0x00], 0xc704dd7b],
    [[0xff, 0xff, 0xff, 0xff], 0x00000000],
    [[0x78, 0x56, 0x34, 0x12], 0xdf8a8a2b],
    [[...ascii('12345678')], 0xfefc54f9],
  ])('STM32 unit over %j', (bytes, value) => {
    expect(stm32Crc(Uint8Array.from(bytes))).toBe(value);
  });

  // The second stage's checksum as the SDK's pad_checksum computes it over 252 bytes.
  it.each([
    [new Uint8Array(252), 0x7065399a],
    [Uint8Array.from({ length: 252 }, (_, i) => i), 0xb454e2a8],
  ])('RP2040 second stage', (stage, value) => {
    const file = new Uint8Array(256);
    file.set(stage);
    file.set([value % 256, (value >>> 8) % 256, (value >>> 16) % 256, value >>> 24], 252);
    expect(rp2040SecondStage(singleSegment(0x10000000, file), 0x10000000)).toEqual({
      written: value,
      computed: value,
    });
    expect(rp2040SecondStage(singleSegment(0x10000000, stage), 0x10000000)).toBeNull();
  });

  // 0x31 to 0x39 sum to 477 and exclusive-or to 0x31.
  it('sums', () => {
    expect(byteSum(check, 8)).toBe(477 % 256);
    expect(byteSum(check, 16)).toBe(477);
    expect(xorOf(check)).toBe(0x31);
    expect(wordSumOf(Uint8Array.from([1, 0, 0, 0, 255, 255, 255, 255]))).toBe(0);
    expect(wordSumOf(check)).toBeNull();
  });

  it('each kind fits into the bytes that it says it takes, and answers for an empty file', () => {
    for (const kind of checksumKinds) {
      expect(isChecksumKind(kind)).toBe(true);
      for (const bytes of [new Uint8Array(0), new Uint8Array(64).fill(0xff), ascii('abcd')])
        expect(checksumOf(kind, bytes)).toBeLessThan(2 ** (8 * checksumBytes(kind)));
    }
    expect(isChecksumKind('crc-64')).toBe(false);
  });
});
