import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import nordic from 'nrf-intel-hex';
import { decodeBlock, encodeBlock, UF2Flags } from 'uf2';
import { afterAll, describe, expect, it } from 'vitest';
import { readDfuSuffix } from '../../src/firmware/encodings/dfuse.js';
import type { ElfDetails, Uf2Details } from '../../src/firmware/encodings/encoding.js';
import { decode, detectEncodings, encodingOf } from '../../src/firmware/encodings/registry.js';
import { MemoryMap, singleSegment } from '../../src/firmware/memory-map.js';
import { findVectorTables, looksLikeVectorTable, readVectors } from '../../src/firmware/vector-table.js';
import { buildProgram, Workshop } from './firmware-tools.js';

const shop = new Workshop();
afterAll(() => shop.remove());

const text = (value: string): Uint8Array => new TextEncoder().encode(value);
// The package's types declare an ES module; what Node loads is its CommonJS build, whose export is the class itself.
const NordicMap = nordic as unknown as typeof nordic.default;
const asNordic = (map: MemoryMap): nordic.default =>
  new NordicMap(map.segments.map(({ start, bytes }) => [start, bytes] as [number, Uint8Array]));

describe('programs linked by arm-none-eabi-gcc', () => {
  it.each([0x08000000, 0x08004000, 0x08007000, 0x00010000, 0x00000000])('at address %i', (base) => {
    const name = `at${base}`;
    buildProgram(shop, name, base);
    const elf = encodingOf('elf').decode(shop.read(`${name}.elf`));
    const hex = encodingOf('intel-hex').decode(shop.read(`${name}.hex`));
    const srec = encodingOf('s-record').decode(shop.read(`${name}.srec`));
    const bin = encodingOf('raw').decode(shop.read(`${name}.bin`), { loadAddress: base });
    for (const one of [elf, hex, srec, bin]) {
      expect(one.problems).toEqual([]);
      expect(one.whole).toBe(true);
      expect(one.map.equals(bin.map)).toBe(true);
    }
    // The entry that readelf prints is the one in all three.
    const header = shop.run('arm-none-eabi-readelf', '-h', `${name}.elf`);
    const entry = Number(/Entry point address:\s+(0x[0-9a-f]+)/.exec(header)?.[1]);
    expect([elf.entry, hex.entry, srec.entry]).toEqual([entry, entry, entry]);
    const loads = [
      ...shop
        .run('arm-none-eabi-readelf', '-l', '-W', `${name}.elf`)
        .matchAll(/LOAD\s+(0x\S+) (0x\S+) (0x\S+) (0x\S+) (0x\S+)/g),
    ]
      .map((match) => match.slice(1).map(Number))
      .filter((numbers) => numbers[3] !== 0);
    expect(
      (elf.details as ElfDetails).segments.map((s) => [
        s.fileOffset,
        s.virtualAddress,
        s.physicalAddress,
        s.fileBytes,
        s.memoryBytes,
      ]),
    ).toEqual(loads);
    expect(loads.length).toBe(2);

    const table = readVectors(bin.map, base)!;
    expect(table.initialStack).toBe(0x20005000);
    expect(table.reset).toBe(entry);
    expect(table.withoutThumbBit).toEqual([]);
    expect(table.stackAlignment).toBe(8);
    const places = findVectorTables(bin.map, null);
    expect(places.map(({ offset }) => offset)).toEqual([0]);
    expect(places[0]!.linkBase!.min).toBeLessThanOrEqual(base);
    expect(places[0]!.linkBase!.max).toBeGreaterThanOrEqual(base);
    expect(bin.map.find(text('TANSY-TEST'))).toBe(
      base + Buffer.from(shop.read(`${name}.bin`)).indexOf('TANSY-TEST'),
    );
    // Taken for a file of another base, the reset vector points outside it.
    const wrong = findVectorTables(singleSegment(0x08010000, shop.read(`${name}.bin`)), null);
    expect(wrong[0]!.linkBase!.max).toBeLessThan(0x08010000);
    // The content tells the encoding, whatever the name says.
    expect(
      ['elf', 'hex', 'srec', 'bin'].map(
        (kind) => detectEncodings(shop.read(`${name}.${kind}`))[0]!.encoding.id,
      ),
    ).toEqual(['elf', 'intel-hex', 's-record', 'raw']);
  });

  it('big-endian ELF gives the bytes of objcopy', () => {
    buildProgram(shop, 'big', 0x08000000, { bigEndian: true });
    const decoded = decode(shop.read('big.elf'))!;
    expect(decoded.details).toMatchObject({
      kind: 'elf',
      byteOrder: 'big',
      machine: { number: 40, name: 'ARM' },
    });
    expect(decoded.map.equals(singleSegment(0x08000000, shop.read('big.bin')))).toBe(true);
  });

  it('names machines as readelf does', () => {
    buildProgram(shop, 'machine', 0x08000000);
    const file = shop.read('machine.elf');
    for (const [number, theirs, ours] of [
      [40, 'ARM', 'ARM'],
      [83, 'Atmel AVR 8-bit microcontroller', 'AVR'],
      [94, 'Tensilica Xtensa Processor', 'Xtensa'],
      [243, 'RISC-V', 'RISC-V'],
      [185, 'Atmel Corporation 32-bit microprocessor', 'AVR32'],
      [183, 'AArch64', 'AArch64'],
      [3, 'Intel 80386', 'Intel 80386'],
    ] as const) {
      file[18] = number;
      shop.write('patched.elf', file);
      expect(shop.run('arm-none-eabi-readelf', '-h', 'patched.elf')).toContain(theirs);
      expect((encodingOf('elf').decode(file).details as ElfDetails).machine).toEqual({ number, name: ours });
    }
  });

  it('sees a combined file by its two vector tables', () => {
    buildProgram(shop, 'loader', 0x08000000);
    buildProgram(shop, 'application', 0x08004000);
    const combined = new Uint8Array(0x4000 + shop.read('application.bin').length).fill(0xff);
    combined.set(shop.read('loader.bin'));
    combined.set(shop.read('application.bin'), 0x4000);
    const found = findVectorTables(singleSegment(0x08000000, combined), null);
    expect(found.map(({ offset }) => offset)).toEqual([0, 0x4000]);
    expect(found[1]!.likelyBases).toContain(0x08004000);
    expect(looksLikeVectorTable(combined)).toBe(true);
  });
});

describe('the Cortex-M0 program of firmware-microbit-micropython', () => {
  const file = new Uint8Array(readFileSync('/usr/share/firmware-microbit-micropython/firmware.hex'));

  it('reads as nrf-intel-hex reads it', () => {
    const ours = decode(file)!;
    const theirs = NordicMap.fromHex(Buffer.from(file).toString('latin1')).join();
    expect(ours.encoding).toBe('intel-hex');
    expect(ours.problems).toEqual([]);
    expect(ours.map.segments.map(({ start, bytes }) => [start, Buffer.from(bytes).toString('hex')])).toEqual(
      [...theirs].map(([start, bytes]) => [start, Buffer.from(bytes).toString('hex')]),
    );
  });

  it('keeps the far-away configuration words without filling the gap', () => {
    const { map, entry } = decode(file)!;
    expect(entry).toBe(0x0001ccd9);
    expect(map.ranges).toContainEqual({ start: 0x100010c0, end: 0x100010c0 + 28 });
    expect(map.byteCount).toBeLessThan(file.length / 2);
    const table = readVectors(map, 0)!;
    expect(table.initialStack).toBe(0x20004000);
    expect(table.reset).toBe(entry);
  });

  it('is the same map after srec_cat has turned it into S-records and back', () => {
    shop.write('micro.hex', file);
    shop.run('srec_cat', 'micro.hex', '-intel', '-o', 'micro.srec', '-motorola');
    shop.run('srec_cat', 'micro.srec', '-o', 'micro2.hex', '-intel');
    const first = decode(file)!.map;
    expect(decode(shop.read('micro.srec'))!.map.equals(first)).toBe(true);
    expect(decode(shop.read('micro2.hex'))!.map.equals(first)).toBe(true);
  });
});

describe('srec_cat conversions', () => {
  const pieces = fc
    .array(fc.tuple(fc.integer({ min: 0, max: 0xfff0 }), fc.uint8Array({ minLength: 1, maxLength: 700 })), {
      minLength: 1,
      maxLength: 6,
    })
    // Every piece in a 64 KiB stretch of its own, one of them near the end of the 32-bit space.
    .map((list) =>
      list.map(([low, bytes], i) => ({
        start: (i === 0 ? 0xfff00000 : i * 0x01230000) + (low % 0xf000),
        bytes,
      })),
    )
    .map((list) => new MemoryMap(list.sort((a, b) => a.start - b.start)));

  it.each([
    ['-intel', 'intel-hex'],
    ['-motorola', 's-record'],
  ] as const)('%s gives the same memory map both ways', (option, encoding) => {
    fc.assert(
      fc.property(pieces, (map) => {
        shop.write('in.hex', asNordic(map).asHexString());
        shop.run('srec_cat', 'in.hex', '-intel', '-o', 'out.txt', option);
        const read = decode(shop.read('out.txt'))!;
        expect(read.encoding).toBe(encoding);
        expect(read.problems).toEqual([]);
        expect(read.map.equals(map)).toBe(true);
        expect(decode(shop.read('in.hex'))!.map.equals(map)).toBe(true);
      }),
      { numRuns: 8, seed: 7 },
    );
  });

  it('reads segmented addresses as srec_cat writes them', () => {
    shop.write(
      'seg.bin',
      Uint8Array.from({ length: 3000 }, (_, i) => (i * 7) % 256),
    );
    shop.run(
      'srec_cat',
      'seg.bin',
      '-binary',
      '-offset',
      '0xFF80',
      '-o',
      'seg.hex',
      '-intel',
      '-address-length=3',
    );
    expect(Buffer.from(shop.read('seg.hex')).toString('latin1')).toMatch(/^:02000002/m);
    expect(decode(shop.read('seg.hex'))!.map.equals(singleSegment(0xff80, shop.read('seg.bin')))).toBe(true);
  });

  it('agrees with srec_info about right and wrong checksums', () => {
    shop.write('good.hex', ':0B0010006164647265737320676170A7\n:00000001FF\n');
    shop.write('bad.hex', ':0B0010006164647265737320676170A8\n:00000001FF\n');
    expect(shop.status('srec_info', 'good.hex', '-intel')).toBe(0);
    expect(shop.status('srec_info', 'bad.hex', '-intel')).toBe(1);
    expect(encodingOf('intel-hex').decode(shop.read('good.hex')).problems).toEqual([]);
    expect(encodingOf('intel-hex').decode(shop.read('bad.hex')).problems).toMatchObject([
      { code: 'checksum', at: 0 },
    ]);
  });
});

describe('UF2 blocks made by the npm package uf2', () => {
  const payload = (seed: number): Uint8Array =>
    Uint8Array.from({ length: 256 }, (_, i) => (i * seed + seed) % 256);
  const block = (
    blockNumber: number,
    totalBlocks: number,
    extra: Partial<Parameters<typeof encodeBlock>[0]> = {},
  ): Uint8Array =>
    encodeBlock({
      flags: UF2Flags.familyIDPresent,
      flashAddress: 0x10000000 + blockNumber * 256,
      payload: payload(blockNumber + 3),
      blockNumber,
      totalBlocks,
      boardFamily: 0xe48bff56,
      ...extra,
    });
  const joined = (...blocks: Uint8Array[]): Uint8Array => new Uint8Array(Buffer.concat(blocks));
  const details = (file: Uint8Array): Uint8Array | Uf2Details => decode(file)!.details as Uf2Details;

  it('gives the payloads that decodeBlock gives', () => {
    const blocks = [0, 1, 2].map((number) => block(number, 3));
    const decoded = decode(joined(...blocks))!;
    expect(decoded.problems).toEqual([]);
    expect(decoded.whole).toBe(true);
    for (const one of blocks) {
      const { flashAddress, payload: bytes } = decodeBlock(one);
      expect(Buffer.from(decoded.map.read(flashAddress, bytes.length)!)).toEqual(Buffer.from(bytes));
    }
    expect(decoded.details).toMatchObject({
      kind: 'uf2',
      blocks: 3,
      mapFamily: 0xe48bff56,
      families: [{ name: 'RP2040' }],
    });
  });

  it('tells missing, repeated and disordered blocks, for each family by itself', () => {
    const other = { boardFamily: 0xada52840 };
    const decoded = decode(
      joined(block(2, 4), block(0, 2, other), block(1, 4), block(1, 2, other), block(1, 4), block(0, 4)),
    )!;
    expect(decoded.details).toMatchObject({
      families: [
        { id: 0xe48bff56, blocks: 4, announced: 4, missing: 1, repeated: 1, outOfOrder: 2 },
        { id: 0xada52840, name: 'NRF52840', blocks: 2, announced: 2, missing: 0, repeated: 0, outOfOrder: 0 },
      ],
    });
    expect(decoded.whole).toBe(false);
    expect(decoded.problems.map(({ code }) => code).sort()).toEqual([
      'block-missing',
      'block-order',
      'block-order',
      'block-repeated',
    ]);
    expect(decoded.map.ranges).toEqual([{ start: 0x10000000, end: 0x10000300 }]);
    const chosen = encodingOf('uf2').decode(joined(block(0, 9), block(0, 1, other)), {
      uf2Family: 0xada52840,
    });
    expect(chosen.whole).toBe(true);
    expect(Buffer.from(chosen.map.segments[0]!.bytes)).toEqual(Buffer.from(payload(3)));
    // A loader of a third family would write nothing at all.
    expect(encodingOf('uf2').decode(joined(block(0, 1)), { uf2Family: 1 }).map.byteCount).toBe(0);
  });

  it('passes over blocks that are not for main flash, and over files inside', () => {
    const named = block(1, 3, { flags: UF2Flags.fileContainer, boardFamily: 5000, flashAddress: 0 });
    named.set(text('readme.txt\0'), 32 + 256);
    const file = joined(block(0, 3), named, block(2, 3, { flags: UF2Flags.notMainFlash }));
    expect(details(file)).toMatchObject({ notMainFlash: 1, files: [{ name: 'readme.txt', bytes: 5000 }] });
    expect(decode(file)!.map.byteCount).toBe(256);
  });
});

describe('files with the suffix of dfu-suffix', () => {
  it('are read with the right CRC, and a changed byte is seen by both', () => {
    shop.write('plain.dfu', new Uint8Array(1000));
    shop.run('dfu-suffix', '-v', '0483', '-p', 'df11', '-d', '0000', '-a', 'plain.dfu');
    const file = shop.read('plain.dfu');
    expect(shop.status('dfu-suffix', '-c', 'plain.dfu')).toBe(0);
    const suffix = readDfuSuffix(file)!;
    expect(suffix).toMatchObject({
      at: 1000,
      bytes: 16,
      vendor: 0x0483,
      product: 0xdf11,
      device: 0,
      version: 0x100,
    });
    expect(suffix.crc.written).toBe(suffix.crc.computed);
    file[5] = 1;
    shop.write('changed.dfu', file);
    expect(shop.status('dfu-suffix', '-c', 'changed.dfu')).toBe(65);
    const changed = readDfuSuffix(file)!;
    expect(changed.crc.written).not.toBe(changed.crc.computed);
  });

  it('DfuSe files of dfuse-pack hold what was packed', () => {
    const first = Uint8Array.from({ length: 1000 }, (_, i) => (i * 31) % 251);
    const second = Uint8Array.from({ length: 500 }, (_, i) => (i * 17) % 253);
    shop.write('a.bin', first);
    shop.write('b.bin', second);
    shop.run('dfuse-pack', '-b', '0x08004000:a.bin', '-b', '0x08010000:b.bin', 'packed.dfu');
    expect(shop.status('dfu-suffix', '-c', 'packed.dfu')).toBe(0);
    const decoded = decode(shop.read('packed.dfu'))!;
    expect(decoded.encoding).toBe('dfuse');
    expect(decoded.problems).toEqual([]);
    expect(decoded.whole).toBe(true);
    expect(
      decoded.map.equals(
        new MemoryMap([
          { start: 0x08004000, bytes: first },
          { start: 0x08010000, bytes: second },
        ]),
      ),
    ).toBe(true);
    expect(decoded.details).toMatchObject({
      targets: [{ altSetting: 0, elements: 2 }],
      suffix: { vendor: 0x0483, product: 0xdf11, version: 0x011a },
    });
  });

  it('DfuSe with the suffix that dfu-suffix gives it', () => {
    const bytes = text('program of a DfuSe file!');
    const out = Buffer.alloc(11 + 274 + 8 + bytes.length);
    out.write('DfuSe\x01', 0, 'latin1');
    out.writeUInt32LE(out.length, 6);
    out[10] = 1;
    out.write('Target', 11, 'latin1');
    out.writeUInt32LE(1, 11 + 7);
    out.write('Internal Flash', 11 + 11, 'latin1');
    out.writeUInt32LE(8 + bytes.length, 11 + 266);
    out.writeUInt32LE(1, 11 + 270);
    out.writeUInt32LE(0x08004000, 285);
    out.writeUInt32LE(bytes.length, 289);
    out.set(bytes, 293);
    shop.write('st.dfu', out);
    shop.run('dfu-suffix', '-S', '0x011a', '-v', '0483', '-p', 'df11', '-a', 'st.dfu');
    expect(shop.status('dfu-suffix', '-c', 'st.dfu')).toBe(0);
    const decoded = decode(shop.read('st.dfu'))!;
    expect(decoded.problems).toEqual([]);
    expect(decoded.whole).toBe(true);
    expect(decoded.map.equals(singleSegment(0x08004000, bytes))).toBe(true);
    expect(decoded.details).toMatchObject({
      targets: [{ altSetting: 0, name: 'Internal Flash', elements: 1 }],
      suffix: { version: 0x011a },
    });
    const cut = encodingOf('dfuse').decode(shop.read('st.dfu').subarray(0, 300));
    expect(cut.whole).toBe(false);
    expect(cut.problems.map(({ code }) => code)).toContain('no-suffix');
  });
});

describe('real files, cut and changed', () => {
  it('never throw, and a cut file of records or blocks is never whole', () => {
    buildProgram(shop, 'real', 0x08004000);
    shop.run('dfuse-pack', '-b', '0x08004000:real.bin', 'real.dfu');
    const files = ['real.elf', 'real.hex', 'real.srec', 'real.dfu'].map((name) => shop.read(name));
    fc.assert(
      fc.property(
        fc.constantFrom(...files),
        fc.double({ min: 0, max: 1, noNaN: true }),
        fc.array(fc.tuple(fc.nat(), fc.integer({ min: 0, max: 255 })), { maxLength: 6 }),
        (file, where, changes) => {
          const id = detectEncodings(file)[0]!.encoding.id;
          const length = Math.floor(where * (file.length - 1));
          const cut = file.slice(0, length);
          if (id === 'intel-hex' && length < file.length - 2)
            expect(encodingOf(id).decode(cut).whole).toBe(false);
          if (id === 'dfuse') expect(encodingOf(id).decode(cut).whole).toBe(false);
          const changed = file.slice();
          for (const [at, value] of changes) changed[at % file.length] = value;
          expect(encodingOf(id).decode(changed).encoding).toBe(id);
          decode(changed);
        },
      ),
      { numRuns: 300 },
    );
  });
});

describe('ESP image', () => {
  /** Written from the layout document alone (esptool documentation, "Firmware Image Format"). */
  function espImage(chip: number, segments: [number, Uint8Array][], withDigest: boolean): Uint8Array {
    const header = Buffer.alloc(24);
    header.set([0xe9, segments.length, 2, 0x20]);
    header.writeUInt32LE(0x40081000, 4);
    header.writeUInt16LE(chip, 12);
    header[23] = withDigest ? 1 : 0;
    const parts: Buffer[] = [header];
    let sum = 0xef;
    for (const [address, bytes] of segments) {
      const head = Buffer.alloc(8);
      head.writeUInt32LE(address, 0);
      head.writeUInt32LE(bytes.length, 4);
      parts.push(head, Buffer.from(bytes));
      for (const byte of bytes) sum ^= byte;
    }
    const length = parts.reduce((total, part) => total + part.length, 0);
    const padding = Buffer.alloc(16 - (length % 16));
    padding[padding.length - 1] = sum;
    parts.push(padding);
    const body = Buffer.concat(parts);
    return new Uint8Array(
      withDigest ? Buffer.concat([body, createHash('sha256').update(body).digest()]) : body,
    );
  }
  const sha256 = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');

  it('is read with chip, segments, checksum and SHA-256', () => {
    const file = espImage(
      9,
      [
        [0x3fc90000, text('A'.repeat(64))],
        [0x42000020, text('12345678'.repeat(10))],
      ],
      true,
    );
    const decoded = encodingOf('esp-image').decode(file, { sha256 });
    expect(decoded.problems).toEqual([]);
    expect(decoded.entry).toBe(0x40081000);
    expect(decoded.details).toMatchObject({
      chipId: 9,
      chip: 'ESP32-S3',
      digest: 'equal',
      trailingBytes: 0,
      imageBytes: file.length,
    });
    expect(decoded.map.ranges).toEqual([
      { start: 0x3fc90000, end: 0x3fc90040 },
      { start: 0x42000020, end: 0x42000070 },
    ]);
    expect(detectEncodings(file)[0]).toMatchObject({ confidence: 'certain' });
    file[60] = 0;
    const changed = encodingOf('esp-image').decode(file, { sha256 });
    expect(changed.problems.map(({ code }) => code)).toEqual(['checksum', 'digest']);
    expect(encodingOf('esp-image').decode(file).details).toMatchObject({ digest: 'not-checked' });
  });

  it('tells a truncated file and one with something behind it', () => {
    const file = espImage(0, [[0x400d0020, text('x'.repeat(100))]], false);
    expect(encodingOf('esp-image').decode(file.subarray(0, 90)).whole).toBe(false);
    const longer = new Uint8Array(0x9000).fill(0xff);
    longer.set(file);
    longer.set([0xaa, 0x50], 0x8000);
    expect(encodingOf('esp-image').decode(longer).details).toMatchObject({
      trailingBytes: 0x9000 - file.length,
      partitionTableAt: 0x8000,
    });
  });
});
