import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { uf2Families } from 'uf2';
import { describe, expect, it } from 'vitest';
import { espChips } from '../../src/firmware/encodings/esp-image.js';
import { parseProcessors } from '../../src/firmware/processors.js';
import { lpcWordSeven } from '../../src/firmware/vector-table.js';

const { table, errors } = parseProcessors(
  readFileSync(join(import.meta.dirname, '../../rules/processors.yaml'), 'utf8'),
);

// ld/devices.data of https://github.com/libopencm3/libopencm3 (commit 0082e0ab): part, ROM, first RAM figure and CCM
// or further RAM in KiB, ROM_OFF, RAM_OFF. It gives one figure for memories that lie side by side.
const libopencm3: readonly [string, number, number, number, number, number][] = [
  ['STM32F103C8', 64, 20, 0, 0x08000000, 0x20000000],
  ['STM32F103CB', 128, 20, 0, 0x08000000, 0x20000000],
  ['STM32F103RC', 256, 48, 0, 0x08000000, 0x20000000],
  ['STM32F103VE', 512, 64, 0, 0x08000000, 0x20000000],
  ['STM32F205VC', 256, 96, 0, 0x08000000, 0x20000000],
  ['STM32F205VE', 512, 128, 0, 0x08000000, 0x20000000],
  ['STM32F207VC', 256, 128, 0, 0x08000000, 0x20000000],
  ['STM32F207ZG', 1024, 128, 0, 0x08000000, 0x20000000],
  ['STM32F401RC', 256, 64, 0, 0x08000000, 0x20000000],
  ['STM32F401RE', 512, 96, 0, 0x08000000, 0x20000000],
  ['STM32F405RG', 1024, 128, 64, 0x08000000, 0x20000000],
  ['STM32F407VE', 512, 128, 64, 0x08000000, 0x20000000],
  ['STM32F411CE', 512, 128, 0, 0x08000000, 0x20000000],
  ['STM32F429ZG', 1024, 192, 64, 0x08000000, 0x20000000],
  ['STM32F429ZI', 2048, 192, 64, 0x08000000, 0x20000000],
  ['STM32F446RE', 512, 128, 0, 0x08000000, 0x20000000],
  ['STM32F722RE', 512, 192, 64, 0x08000000, 0x20010000],
  ['STM32F746NG', 1024, 256, 64, 0x08000000, 0x20010000],
  ['STM32G070RB', 128, 36, 0, 0x08000000, 0x20000000],
  ['STM32G431CB', 128, 22, 10, 0x08000000, 0x20000000],
  ['STM32G474RE', 512, 96, 32, 0x08000000, 0x20000000],
  ['LPC1768', 512, 32, 32, 0x00000000, 0x10000000],
  ['LPC1769', 512, 32, 32, 0x00000000, 0x10000000],
  ['SAM3X8E', 512, 64, 32, 0x00080000, 0x20000000],
];

describe('rules/processors.yaml', () => {
  it('is free of errors and has the parts that it promises', () => {
    expect(errors).toEqual([]);
    expect(table.size).toBeGreaterThanOrEqual(60);
    for (const { sources, flash, ram } of table.values()) {
      expect(sources.some(({ opened }) => opened)).toBe(true);
      expect(flash.length).toBeGreaterThan(0);
      expect(ram.length).toBeGreaterThan(0);
    }
  });

  it.each(libopencm3)(
    '%s has the sizes and addresses of libopencm3',
    (part, rom, first, further, romAt, ramAt) => {
      const processor = table.get(part)!;
      expect(processor.flash.reduce((sum, { start, end }) => sum + end - start, 0)).toBe(rom * 1024);
      expect(processor.flash[0]!.start).toBe(romAt);
      expect(processor.ram.map(({ start }) => start)).toContain(ramAt);
      // A second address of a memory is no second memory.
      const ram = processor.ram.filter(({ name }) => !name?.includes('second address'));
      expect(ram.reduce((sum, { start, end }) => sum + end - start, 0)).toBe((first + further) * 1024);
    },
  );

  // probe-rs/targets/RP2040.yaml (commit 04462c69): flash 10000000 to 11000000, RAM banks 20000000 to 20042000.
  it('RP2040 has the addresses of probe-rs', () => {
    const { flash, ram } = table.get('RP2040')!;
    expect(flash).toMatchObject([{ start: 0x10000000, end: 0x11000000 }]);
    expect(ram.at(-1)).toMatchObject({ start: 0x20000000, end: 0x20042000 });
  });

  // esptool/targets/esp32s2.py (commit 00f6c551): IROM_MAP_*, DROM_MAP_*, MEMORY_MAP.
  it('ESP32-S2 has the windows of esptool', () => {
    const { flash, ram } = table.get('ESP32-S2')!;
    expect(flash).toMatchObject([
      { start: 0x3f000000, end: 0x3f3f0000 },
      { start: 0x40080000, end: 0x40b80000 },
    ]);
    expect(ram).toMatchObject([
      { start: 0x3ffb0000, end: 0x40000000 },
      { start: 0x40020000, end: 0x40070000 },
      { start: 0x40070000, end: 0x40072000 },
      { start: 0x50000000, end: 0x50002000 },
    ]);
  });

  // npm package uf2, a copy of the list of families of the specification.
  it('every UF2 family is that of the part by the published list', () => {
    const names = new Map(uf2Families.map(({ id, shortName }) => [id, shortName.toUpperCase()]));
    let seen = 0;
    for (const [part, { uf2Family }] of table)
      if (uf2Family !== null) {
        expect(part.replace(/^AT/, '').replaceAll('-', '')).toContain(
          names.get(uf2Family) ?? 'no such family',
        );
        seen += 1;
      }
    expect(seen).toBeGreaterThan(30);
  });

  it('every chip id of ESP images is that of the part', () => {
    for (const [part, { espChipId }] of table)
      if (espChipId !== null) expect(espChips.get(espChipId)).toBe(part);
  });

  // NXP UM10360, 32.3.1.1; the words are those of a public example of the same maker's forum, which stores E6 F4 FF EF.
  it('word 7 of LPC parts', () => {
    const words = [0x10000268, 0x169, 0x171, 0x173, 0x175, 0x177, 0x179];
    expect(lpcWordSeven(words)).toBe(0xeffff4e6);
  });
});
