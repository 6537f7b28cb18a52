import { describe, expect, it } from 'vitest';
import { encodings } from '../../../src/facts/schema.js';
import { dfuse, readDfuSuffix } from '../../../src/firmware/encodings/dfuse.js';
import { elf } from '../../../src/firmware/encodings/elf.js';
import { espImage } from '../../../src/firmware/encodings/esp-image.js';
import { entropyOf, raw, scrambled } from '../../../src/firmware/encodings/raw.js';
import {
  decode,
  detectEncodings,
  encodingOf,
  encodingRegistry,
  encodingsByName,
} from '../../../src/firmware/encodings/registry.js';
import { uf2 } from '../../../src/firmware/encodings/uf2.js';

const codes = (decoded: { problems: readonly { code: string }[] }): string[] =>
  decoded.problems.map(({ code }) => code);

/** An ELF file of one segment, written from the structures in elf.h. */
function elfFile(
  change: {
    type?: number;
    offset?: number;
    fileBytes?: number;
    memoryBytes?: number;
    kind?: number;
    count?: number;
  } = {},
): Uint8Array {
  const out = Buffer.alloc(0x100, 0x55);
  out.fill(0, 0, 84);
  out.set([0x7f, 0x45, 0x4c, 0x46, change.kind ?? 1, 1, 1]);
  out.writeUInt16LE(change.type ?? 2, 16);
  out.writeUInt16LE(40, 18);
  out.writeUInt32LE(0x08000041, 24);
  out.writeUInt32LE(52, 28);
  out.writeUInt16LE(52, 40);
  out.writeUInt16LE(32, 42);
  out.writeUInt16LE(change.count ?? 1, 44);
  [
    1,
    change.offset ?? 0x80,
    0x20000000,
    0x08000000,
    change.fileBytes ?? 0x80,
    change.memoryBytes ?? 0x80,
  ].forEach((value, i) => {
    out.writeUInt32LE(value, 52 + 4 * i);
  });
  return new Uint8Array(out);
}

describe('ELF', () => {
  it('puts a segment at its physical address', () => {
    const read = elf.decode(elfFile());
    expect(read).toMatchObject({ entry: 0x08000041, whole: true, problems: [] });
    expect(read.map.ranges).toEqual([{ start: 0x08000000, end: 0x08000080 }]);
  });

  it.each([
    ['past-end', { fileBytes: 0x81, memoryBytes: 0x81 }, false],
    ['segment-size', { memoryBytes: 0x10 }, true],
    ['elf-type', { type: 1 }, true],
    ['elf-64-bit', { kind: 2 }, false],
    ['no-segments', { count: 0 }, false],
    ['over-limit', { count: 0xffff }, false],
  ])('%s', (code, change, whole) => {
    const read = elf.decode(elfFile(change));
    expect(codes(read)).toEqual([code]);
    expect(read.whole).toBe(whole);
  });

  it('says when a segment holds the header of the file', () => {
    expect(elf.decode(elfFile({ offset: 0 })).details).toMatchObject({ loadsItsHeader: true });
    expect(elf.decode(elfFile()).details).toMatchObject({ loadsItsHeader: false });
  });

  it('ends with a short file', () => {
    for (let length = 0; length < 84; length++)
      expect(elf.decode(elfFile().subarray(0, length)).whole).toBe(false);
  });
});

describe('UF2', () => {
  function block(change: Record<number, number> = {}): Uint8Array {
    const out = Buffer.alloc(512);
    const fields = {
      0: 0x0a324655,
      4: 0x9e5d5157,
      8: 0,
      12: 0x2000,
      16: 256,
      20: 0,
      24: 1,
      28: 0,
      508: 0x0ab16f30,
      ...change,
    };
    for (const [at, value] of Object.entries(fields)) out.writeUInt32LE(value, Number(at));
    return new Uint8Array(out);
  }

  it('blocks without a family count for every loader', () => {
    const read = uf2.decode(block(), { uf2Family: 0xe48bff56 });
    expect(read.map.byteCount).toBe(256);
    expect(read.details).toMatchObject({ mapFamily: null, families: [{ id: null, name: null }] });
  });

  it.each([
    ['payload-size', { 16: 477 }],
    ['block-number', { 20: 1 }],
    ['block-alignment', { 12: 0x2001 }],
    ['not-a-block', { 508: 0 }],
    ['address-past-32-bits', { 12: 0xffffff80 }],
  ])('%s', (code, change) => expect(codes(uf2.decode(block(change)))).toContain(code));

  it('a number of blocks that no file can have costs nothing', () => {
    const read = uf2.decode(block({ 24: 0xffffffff }));
    expect(read.details).toMatchObject({ families: [{ announced: 0xffffffff, missing: 0xfffffffe }] });
    expect(read.whole).toBe(false);
  });

  it('a file that ends inside a block', () => {
    const read = uf2.decode(Uint8Array.from([...block(), 1, 2, 3]));
    expect(codes(read)).toEqual(['length-multiple']);
    expect(read.whole).toBe(false);
    expect(uf2.detect(block().subarray(0, 100)).confidence).toBe('likely');
  });
});

describe('ESP image', () => {
  /** Header of 8 bytes, one segment of 16 bytes, zeros up to the last byte of a row of 16. */
  function esp8266(): Uint8Array {
    const out = Buffer.alloc(48);
    out.set([0xe9, 1, 0, 0]);
    out.writeUInt32LE(0x40100000, 4);
    out.writeUInt32LE(0x40100000, 8);
    out.writeUInt32LE(16, 12);
    out.fill(0x21, 16, 32);
    out[16] = 0x31;
    out[47] = 0xef ^ 0x10;
    return new Uint8Array(out);
  }

  it('of an ESP8266 has the short header', () => {
    const read = espImage.decode(esp8266());
    expect(read).toMatchObject({
      whole: true,
      problems: [],
      details: { header: 'esp8266', chipId: null, imageBytes: 48 },
    });
    expect(read.map.ranges).toEqual([{ start: 0x40100000, end: 0x40100010 }]);
  });

  it('with another first byte, and the second layout, are told', () => {
    const other = esp8266();
    other[0] = 0x00;
    expect(codes(espImage.decode(other))).toContain('signature');
    const second = esp8266();
    second.set([0xea, 4]);
    expect(codes(espImage.decode(second))).toContain('esp8266-second-layout');
    expect(espImage.decode(second).whole).toBe(false);
    expect(espImage.detect(new Uint8Array([0xe9, 17, 0, 0])).confidence).toBe('no');
  });
});

describe('DfuSe', () => {
  it('announcing more than is there', () => {
    const out = Buffer.alloc(11 + 16);
    out.write('DfuSe\x01', 0, 'latin1');
    out.writeUInt32LE(11, 6);
    out[10] = 200;
    out.write('UFD', 19, 'latin1');
    out[22] = 16;
    const read = dfuse.decode(new Uint8Array(out));
    expect(codes(read)).toEqual(['checksum', 'target']);
    expect(read.whole).toBe(false);
    expect(readDfuSuffix(new Uint8Array(15))).toBeNull();
  });
});

describe('raw and scrambled', () => {
  const noise = Uint8Array.from({ length: 8192 }, (_, i) => ((i * 2654435761) >>> 13) % 256);

  it('measures entropy: nothing, one bit, eight bits', () => {
    expect(entropyOf(new Uint8Array(0))).toBe(0);
    expect(entropyOf(new Uint8Array(100))).toBe(0);
    expect(entropyOf(Uint8Array.from({ length: 100 }, (_, i) => i % 2))).toBe(1);
    expect(entropyOf(Uint8Array.from({ length: 512 }, (_, i) => i % 256))).toBe(8);
  });

  it('tells noise from a plain program', () => {
    expect(entropyOf(noise)).toBeGreaterThan(7.8);
    expect(detectEncodings(noise).map(({ encoding }) => encoding.id)).toEqual(['scrambled', 'raw']);
    expect(scrambled.decode(noise).map.byteCount).toBe(0);
  });

  it('knows no address but the one that it is given', () => {
    expect(raw.decode(noise).details).toMatchObject({ loadAddress: null });
    expect(raw.decode(noise, { loadAddress: 0x08007000 }).map.start).toBe(0x08007000);
    const past = raw.decode(noise, { loadAddress: 0xfffff000 });
    expect(codes(past)).toEqual(['address-past-32-bits']);
    expect(past.whole).toBe(false);
  });

  it('a blank head leaves it a plain program, blank flash does not', () => {
    const file = new Uint8Array(0x2000);
    file.set([1, 2, 3], 0x1000);
    expect(decode(file)?.encoding).toBe('raw');
    expect(decode(new Uint8Array(0x2000))).toBeNull();
    expect(decode(new Uint8Array(0))).toBeNull();
  });
});

describe('registry', () => {
  it('has one line for each encoding that facts and profiles name', () => {
    expect(encodingRegistry.map(({ id }) => id).sort()).toEqual([...encodings].sort());
    for (const id of encodings) expect(encodingOf(id).id).toBe(id);
  });

  it('knows what a name promises', () => {
    expect(encodingsByName('FIRMWARE.HEX')).toEqual(['intel-hex']);
    expect(encodingsByName('a.b.uf2')).toEqual(['uf2']);
    expect(encodingsByName('firmware.bin')).toContain('raw');
    expect(encodingsByName('readme')).toEqual([]);
  });
});
