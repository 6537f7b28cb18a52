import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { resolveProfile } from '../../src/board/resolve.js';
import { collectImage, collectPlaceExplained } from '../../src/facts/collect-image.js';
import { Absent, FactList, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { factSchema } from '../../src/facts/schema.js';
import { parseProcessors } from '../../src/firmware/processors.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { nodeDigests } from '../../src/node/digests.js';
import { profileOf, sample } from '../board/profiles.js';
import { buildProgram, Workshop } from '../oracle/firmware-tools.js';

const processors = parseProcessors(
  readFileSync(join(import.meta.dirname, '../../rules/processors.yaml'), 'utf8'),
).table;

const f103 = 'processor: STM32F103RC\n';
const area = 'memory: { application: { start: 0x08008000, bytes: 96KiB } }\n';

/** The facts `image.*` of these bytes for a board of these lines, known ones as they are, else the word of their state. */
function collect(bytes: Uint8Array, body: string, name = 'FILE.LKF'): (path: string) => unknown {
  const profile = body === '' ? null : profileOf(body);
  const store = new FactStore();
  const entry = {
    path: name,
    name,
    shortName: name.toUpperCase(),
    hasLongName: false,
    folder: '',
    isFolder: false,
    bytes: bytes.length,
  };
  const file = { entry, bytes } as unknown as Parameters<typeof collectImage>[1];
  const resolved = profile && resolveProfile(profile, null);
  collectImage(store, file, { profile, resolved, processors }, nodeDigests);
  collectPlaceExplained(store);
  return (path) => {
    const value = store.value(`image.${path}`);
    if (value instanceof Unseen) return `unseen: ${value.cause}`;
    if (value instanceof Absent) return 'absent';
    return value instanceof FactList ? value.items : value;
  };
}
const see = (fact: (path: string) => unknown, ...paths: string[]) =>
  Object.fromEntries(paths.map((path) => [path, fact(path)]));

describe('where the program lies', () => {
  test('one stretch from the start of the area for a raw file, each stretch of a file that names addresses', () => {
    expect(see(collect(new Uint8Array(1024).fill(7), f103 + area), 'segments', 'flashAreas')).toEqual({
      segments: [{ start: 0x08008000, bytes: 1024 }],
      // STM32F103RC: 256 KiB of flash from 0x08000000 (ST, DS5792).
      flashAreas: [{ start: 0x08000000, bytes: 256 * 1024 }],
    });
    // Intel HEX (Intel, 1988): an extended linear address, four bytes at 0x8000, two at 0x9000, the end.
    const hex = ':020000040800F2\n:048000000102030472\n:02900000050663\n:00000001FF\n';
    expect(collect(new TextEncoder().encode(hex), f103 + area, 'FILE.HEX')('segments')).toEqual([
      { start: 0x08008000, bytes: 4 },
      { start: 0x08009000, bytes: 2 },
    ]);
    expect(collect(new Uint8Array(1024).fill(7), f103)('segments')).toBe('unseen: profile-silent');
  });
});

describe('a program of the GNU linker', () => {
  const shop = new Workshop();
  let bytes: Uint8Array;
  beforeAll(() => {
    buildProgram(shop, 'here', 0x08008000);
    buildProgram(shop, 'start', 0x08000000);
    bytes = shop.read('here.bin');
  });
  afterAll(() => shop.remove());
  /** Address of a symbol, as the linker's own tool says. */
  const symbol = (program: string, name: string): number =>
    Number.parseInt(
      shop
        .run('arm-none-eabi-nm', `${program}.elf`)
        .split('\n')
        .find((line) => line.endsWith(` ${name}`)) ?? '',
      16,
    );

  test('vectors are those of the symbol table', () => {
    const fact = collect(bytes, f103 + area);
    expect(fact('initialStack')).toBe(symbol('here', '_stack'));
    expect(fact('resetVector')).toBe(symbol('here', 'reset') + 1);
    expect(
      see(
        fact,
        'vectorsAt',
        'stackInRam',
        'stackAlignment',
        'resetIsThumb',
        'resetInProgram',
        'resetAtBlank',
      ),
    ).toEqual({
      vectorsAt: 0x08008000,
      stackInRam: true,
      stackAlignment: 8,
      resetIsThumb: true,
      resetInProgram: true,
      resetAtBlank: false,
    });
    expect(see(fact, 'vectorFaults', 'linkedFor', 'programMovedBy', 'inProcessorFlash', 'blank')).toEqual({
      vectorFaults: [],
      linkedFor: 'absent',
      programMovedBy: 'absent',
      inProcessorFlash: true,
      blank: 'no',
    });
  });

  test('linked for the start of flash: said, with what such programs are for', () => {
    const fact = collect(shop.read('start.bin'), f103 + area);
    expect(see(fact, 'linkedFor', 'linkedForWhat', 'resetInProgram', 'madeForOthers')).toEqual({
      linkedFor: 0x08000000,
      linkedForWhat: 'a board without a boot loader in that place',
      resetInProgram: false,
      madeForOthers: false,
    });
  });

  test('behind a head that the loader passes over, and behind one that it does not', () => {
    const padded = new Uint8Array(1024 + bytes.length);
    padded.set(bytes, 1024);
    const skipped = collect(padded, `${f103}${area}update: { skipBytes: 1024 }\n`);
    expect(see(skipped, 'resetVector', 'programMovedBy', 'bytes', 'blank')).toEqual({
      resetVector: symbol('here', 'reset') + 1,
      programMovedBy: 'absent',
      bytes: bytes.length,
      blank: 'no',
    });
    expect(see(collect(padded, f103 + area), 'programMovedBy', 'blank')).toEqual({
      programMovedBy: 1024,
      blank: 'blank-head',
    });
  });

  test('what is not known is not guessed', () => {
    const paths = ['vectorsAt', 'stackInRam', 'linkedFor', 'inProcessorFlash'];
    const all = (state: string) => Object.fromEntries(paths.map((path) => [path, state]));
    expect(see(collect(bytes, ''), ...paths)).toEqual(all('unseen: profile-silent'));
    expect(see(collect(bytes, `processor: NO123\n${area}`), ...paths)).toEqual(all('unseen: profile-silent'));
    expect(see(collect(bytes, area), ...paths)).toEqual(all('absent'));
    expect(see(collect(bytes, `processor: any\n${area}`), ...paths)).toEqual(all('absent'));
    expect(see(collect(bytes, f103), ...paths)).toEqual(all('unseen: profile-silent'));
    const open = `${f103}axes: [{ id: loader, ask: Which?, values: [old, new] }]
memory:
  application:
    - { for: { loader: old }, start: 0x08004000, bytes: 64KiB }
    - { for: { loader: new }, start: 0x08008000, bytes: 64KiB }
`;
    expect(see(collect(bytes, open), ...paths, 'loadAddress')).toEqual({
      ...all('unseen: not-told'),
      loadAddress: 'unseen: not-told',
    });
    const noise = nodeNoise(8192);
    expect(see(collect(noise, f103 + area), 'encoding', ...paths)).toEqual({
      ...all('unseen: not-visible'),
      encoding: 'scrambled',
    });
  });

  test('the sum of LPC parts: where the processor looks for it, or the loader', () => {
    const lpc = 'processor: LPC1768\nmemory: { application: { start: 0x0, bytes: 64KiB } }\n';
    buildProgram(shop, 'lpc', 0, { stack: 0x10008000 });
    const program = shop.read('lpc.bin');
    const view = new DataView(program.buffer, program.byteOffset);
    const fact = collect(program, lpc);
    expect(see(fact, 'stackInRam', 'wordSumHolds')).toEqual({ stackInRam: true, wordSumHolds: false });
    // UM10360, 32.3.1.1: the eighth word is the two's complement of the sum of the seven before it.
    let sum = 0;
    for (let word = 0; word < 7; word++) sum = (sum + view.getUint32(word * 4, true)) % 2 ** 32;
    view.setUint32(28, (2 ** 32 - sum) % 2 ** 32, true);
    expect(see(collect(program, lpc), 'wordSum', 'wordSumHolds')).toEqual({ wordSum: 0, wordSumHolds: true });
    const moved = 'processor: LPC1768\nmemory: { application: { start: 0x4000, bytes: 64KiB } }\n';
    expect(collect(program, moved)('wordSumHolds')).toBe('unseen: profile-silent');
    expect(collect(program, `${moved}update: { checks: [nothing] }\n`)('wordSumHolds')).toBe('absent');
    expect(collect(program, `${moved}update: { checks: [word-sum] }\n`)('wordSumHolds')).toBe(true);
  });

  test.each([
    ['crc-32/iso-hdlc', '-crc32-l-e', 'little', 4],
    ['crc-32/iso-hdlc', '-crc32-b-e', 'big', 4],
    ['stm32-crc', '-stm32-l-e', 'little', 4],
    ['crc-16/xmodem', '-crc16-b-e', 'big', 2],
  ] as const)(
    'a checksum of the kind %s that srec_cat put there with %s',
    (kind, filter, byteOrder, size) => {
      // srec_cat's 16-bit CRC is XMODEM's with this option.
      const options = size === 2 ? ['-xmodem'] : [];
      shop.write('plain', bytes);
      shop.run(
        'srec_cat',
        'plain',
        '-binary',
        filter,
        String(bytes.length),
        ...options,
        ...['-o', 'summed', '-binary'],
      );
      const summed = shop.read('summed');
      expect(summed.length).toBe(bytes.length + size);
      const body = `${f103}${area}update: { checksum: { kind: ${kind}, over: { from: 0, to: -${size} }, at: -${size}, byteOrder: ${byteOrder} } }\n`;
      expect(collect(summed, body)('checksumHolds')).toBe(true);
      summed[40]! ^= 1;
      const fact = collect(summed, body);
      expect(fact('checksumHolds')).toBe(false);
      expect(fact('checksumFound')).not.toBe(fact('checksumComputed'));
      expect(see(collect(Uint8Array.from([7]), body), 'checksumHolds', 'checksumFound')).toEqual({
        checksumHolds: false,
        checksumFound: 'absent',
      });
    },
  );

  test('an end for flashing by USB, which dfu-suffix wrote', () => {
    shop.write('usb', bytes);
    expect(collect(shop.read('usb'), f103 + area)('dfuSuffix')).toBe(false);
    shop.run('dfu-suffix', '-v', '0483', '-p', 'df11', '-d', '0000', '-a', 'usb');
    expect(collect(shop.read('usb'), f103 + area)('dfuSuffix')).toBe(true);
  });

  test('two programs in one file: a boot loader and what it starts', () => {
    const body = `${f103}memory: { loader: { start: 0x08000000, bytes: 32KiB }, application: { start: 0x08008000, bytes: 96KiB } }\n`;
    const both = new Uint8Array(0x8000 + bytes.length).fill(0xff);
    both.set(shop.read('start.bin'));
    both.set(bytes, 0x8000);
    expect(collect(both, body)('bootLoaderIncluded')).toBe(true);
    expect(see(collect(bytes, body), 'bootLoaderIncluded', 'overlapsLoader')).toEqual({
      bootLoaderIncluded: false,
      overlapsLoader: false,
    });
    shop.write('both', both);
    shop.run('srec_cat', 'both', '-binary', '-offset', '0x08000000', '-o', 'both.hex', '-intel');
    expect(see(collect(shop.read('both.hex'), body), 'bootLoaderIncluded', 'overlapsLoader')).toEqual({
      bootLoaderIncluded: true,
      overlapsLoader: true,
    });
    expect(collect(both, f103 + area)('bootLoaderIncluded')).toBe('absent');
  });

  test('what the ending of the name promises', () => {
    expect(collect(shop.read('here.hex'), f103 + area, 'A.HEX')('encodingsByName')).toEqual(['intel-hex']);
    expect(collect(bytes, f103 + area, 'A.LKF')('encodingsByName')).toEqual([]);
  });
});

/** Bytes as evenly spread as those of a cipher. */
function nodeNoise(length: number): Uint8Array {
  let state = 1;
  return Uint8Array.from({ length }, () => {
    state = (Math.imul(state, 1_103_515_245) + 12_345) >>> 0;
    return state >>> 24;
  });
}

describe('any bytes at all', () => {
  const tansy = sample('tansy');
  const { machine } = machineFromOptions({ installed: '31' }, tansy);
  const resolved = resolveProfile(tansy, machine);

  test('set every fact about the image that has not to do with its build, and never throw', () => {
    const head = fc.oneof(
      fc.constantFrom(
        ...[
          '',
          'UF2\n',
          ':100000',
          'S1130000',
          '\x7fELF\x01\x01\x01',
          '\xe9\x02\x00\x00',
          'DfuSe\x01',
          'LKS2',
        ],
        '\x00\x00\x02\x20\x41\x00\x01\x08\x45\x00\x01\x08',
      ),
    );
    fc.assert(
      fc.property(head, fc.uint8Array({ maxLength: 700 }), (start, rest) => {
        const bytes = Uint8Array.from([...[...start].map((one) => one.charCodeAt(0)), ...rest]);
        const store = new FactStore();
        const file = { entry: { path: 'A', name: 'A' }, bytes } as unknown as Parameters<
          typeof collectImage
        >[1];
        collectImage(store, file, { profile: tansy, resolved, processors }, nodeDigests);
        collectPlaceExplained(store);
        for (const path of Object.keys(factSchema).filter((one) =>
          /^image\.(vector|stack|reset|linked|checksum|word|esp|uf2|overlaps)/.test(one),
        ))
          expect(store.get(path).value).not.toMatchObject({ text: 'this was not looked at' });
      }),
      { numRuns: 200, seed: 20261125 },
    );
  });
});
