import CRC32 from 'crc-32';
import { afterAll, describe, expect, it } from 'vitest';
import { type ChecksumKind, checksumOf, crcOf, stm32Crc } from '../../src/firmware/checksums.js';
import { Workshop } from './firmware-tools.js';

const shop = new Workshop();
afterAll(() => shop.remove());

const samples = [1, 4, 100, 4096, 10_000].map((length) =>
  Uint8Array.from({ length }, (_, i) => (i * i * 13 + 7 * i + length) % 256),
);

describe('checksums against srec_cat', () => {
  it.each([
    ['-crc32-l-e', 'crc-32/iso-hdlc', 4],
    ['-adler-32-l-e', 'adler-32', 4],
    ['-stm32-l-e', 'stm32-crc', 4],
  ] as const)('%s is %s', (option, kind, width) => {
    for (const bytes of samples.filter(({ length }) => kind !== 'stm32-crc' || length % 4 === 0)) {
      shop.write('in.bin', bytes);
      shop.run('srec_cat', 'in.bin', '-binary', option, `${bytes.length}`, '-o', 'out.bin', '-binary');
      const out = Buffer.from(shop.read('out.bin'));
      expect(out.length).toBe(bytes.length + width);
      expect(checksumOf(kind, bytes)).toBe(out.readUInt32LE(bytes.length));
    }
  });

  it.each([
    // What srec_cat calls broken is what most loaders compute; its -ccitt feeds the start value in a second time.
    ['-broken', 'crc-16/ibm-3740'],
    ['-xmodem', 'crc-16/xmodem'],
  ] as const)('-crc16-b-e %s is %s', (variant, kind: ChecksumKind) => {
    for (const bytes of samples) {
      shop.write('in.bin', bytes);
      shop.run(
        'srec_cat',
        'in.bin',
        '-binary',
        '-crc16-b-e',
        `${bytes.length}`,
        variant,
        '-o',
        'out.bin',
        '-binary',
      );
      expect(checksumOf(kind, bytes)).toBe(Buffer.from(shop.read('out.bin')).readUInt16BE(bytes.length));
    }
  });
});

describe('checksums against other tools', () => {
  it('CRC-32 is that of the npm package crc-32, and JAMCRC its complement', () => {
    for (const bytes of samples) {
      expect(crcOf('crc-32/iso-hdlc', bytes)).toBe(CRC32.buf(bytes) >>> 0);
      expect(crcOf('crc-32/jamcrc', bytes)).toBe(~CRC32.buf(bytes) >>> 0);
    }
  });

  it('CRC-32/CKSUM over bytes and their length is what cksum prints', () => {
    for (const bytes of samples) {
      const length: number[] = [];
      for (let rest = bytes.length; rest > 0; rest = Math.floor(rest / 256)) length.push(rest % 256);
      shop.write('in.bin', bytes);
      const printed = Number(shop.run('cksum', 'in.bin').split(' ')[0]);
      expect(crcOf('crc-32/cksum', Uint8Array.from([...bytes, ...length]))).toBe(printed);
    }
  });

  it('the STM32 unit cannot be fed a length that is no multiple of 4', () => {
    expect(stm32Crc(new Uint8Array(5))).toBeNull();
  });
});
