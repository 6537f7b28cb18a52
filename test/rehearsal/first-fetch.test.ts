import { describe, expect, it } from 'vitest';
import { singleSegment } from '../../src/firmware/memory-map.js';
import { blocksUnder, type Processor } from '../../src/firmware/processors.js';
import { type FirstFetch, firstFetch } from '../../src/rehearsal/first-fetch.js';
import { memoryPicture } from '../../src/rehearsal/memory-picture.js';
import { powerOn } from '../../src/rehearsal/power-on.js';
import { memoryText } from '../../src/report/memory-text.js';
import { builtProcessors } from '../support/check-card.js';

const processor = builtProcessors().get('STM32F407VG') as Processor;
const base = 0x08010000;
const areas = {
  loader: { start: 0x08000000, end: base },
  application: { start: base, end: 0x080e0000 },
  settings: [{ start: 0x080e0000, end: 0x08100000 }],
};

/** A program of 1 KiB with these two first words, filled with an instruction that does nothing (BF00, ARM DDI 0403). */
function program(stack: number, reset: number, fill = [0x00, 0xbf]): Uint8Array {
  const bytes = new Uint8Array(1024).map((_byte, at) => fill[at % 2]!);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, stack, true);
  view.setUint32(4, reset, true);
  return bytes;
}
const fetched = (bytes: Uint8Array): FirstFetch | null =>
  firstFetch(singleSegment(base, bytes), processor, areas);

describe('the first fetch of a Cortex-M', () => {
  it('takes the stack from word 0 and the address from word 1 without its lowest bit', () => {
    expect(fetched(program(0x20020000, base + 0x101))).toMatchObject({
      stackInRam: true,
      thumb: true,
      address: base + 0x100,
      halfwords: ['BF00', 'BF00'],
      target: 'program',
    });
  });

  it.each([
    [base + 0x100, 'program', false],
    [base + 0x401, 'not-written', true],
    [0x08000101, 'boot-loader', true],
    [0x20000001, 'ram', true],
    [0x60000001, 'nowhere', true],
    [0xffffffff, 'nowhere', true],
  ] as const)('finds what stands at %i: %s', (reset, target, thumb) => {
    expect(fetched(program(0x20020000, reset))).toMatchObject({ target, thumb });
  });

  it.each([0x00, 0xff])('knows blank bytes: %i', (byte) => {
    expect(fetched(program(0x20020000, base + 0x101, [byte, byte]))).toMatchObject({ target: 'blank' });
  });

  it('knows a stack outside the memory, and one just behind its end', () => {
    expect(fetched(program(0x20020004, base + 0x101))?.stackInRam).toBe(false);
    expect(fetched(program(0x20020000, base + 0x101))?.stackInRam).toBe(true);
  });

  it('has nothing to take where the program does not lie', () => {
    expect(
      firstFetch(singleSegment(base + 0x1000, program(0x20020000, base + 0x101)), processor, areas),
    ).toBeNull();
    expect(fetched(new Uint8Array(7))).toBeNull();
  });
});

describe('blocks that are erased', () => {
  // STM32F4 (MicroPython, ports/stm32/flash.c): four blocks of 16 KiB, one of 64, the rest of 128.
  const first = 0x08000000;
  it.each([
    [first, 1, [[0, 16]]],
    [
      first + 0x4000,
      0x4001,
      [
        [16, 32],
        [32, 48],
      ],
    ],
    [
      first + 0xffff,
      2,
      [
        [48, 64],
        [64, 128],
      ],
    ],
    [first + 0x20000, 0x20000, [[128, 256]]],
    [first + 0xfffff, 1, [[896, 1024]]],
    [first + 0x100000, 5, []],
  ] as const)('from %i, %i bytes', (start, bytes, wanted) => {
    const blocks = blocksUnder(processor, [{ start, end: start + bytes }]);
    expect(blocks.map((block) => [(block.start - first) / 1024, (block.end - first) / 1024])).toEqual(wanted);
  });
});

describe('the picture of the memory', () => {
  it('shows what the program lies over', () => {
    const regions = memoryPicture(singleSegment(0x0800f000, new Uint8Array(0x2000)), areas);
    expect(regions.map(({ kind, start, end, over }) => [kind, start, end, over])).toEqual([
      ['boot-loader', 0x08000000, 0x0800f000, null],
      ['program', 0x0800f000, 0x08010000, 'boot-loader'],
      ['program', 0x08010000, 0x08011000, null],
      ['rest', 0x08011000, 0x080e0000, null],
      ['settings', 0x080e0000, 0x08100000, null],
    ]);
    const text = memoryText(regions, null).join('\n');
    expect(text).toContain('NEW PROGRAM over the boot loader');
    for (const line of text.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
  });
});

describe('how long the power stays on', () => {
  // Common practice, no published source: 5 to 10 seconds for a few hundred KiB; at least twice that is asked for.
  it.each([
    [1, 5, 10, 20],
    [400 * 1024, 5, 10, 20],
    [800 * 1024, 10, 20, 40],
  ])('%i bytes', (bytes, from, to, keepOn) => {
    expect(powerOn(bytes)).toMatchObject({ seconds: { from, to }, keepOn });
  });
});
