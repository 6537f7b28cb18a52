import { describe, expect, it } from 'vitest';
import { parseProcessors, processorOf } from '../../src/firmware/processors.js';

const head = 'schema: flashworthy-processors/1\nsources:\n  one: { title: One, opened: true }\nprocessors:\n';
const entry = (change: Record<string, string> = {}): string => {
  const keys: Record<string, string> = {
    parts: '[AB1, AB2]',
    core: 'cortex-m3',
    flash: '[{ start: 0x08000000, bytes: 64KiB }]',
    ram: '[{ start: 0x20000000, bytes: 20480 }]',
    sources: '[one, data sheet X]',
    ...change,
  };
  return `${head}  - ${Object.entries(keys)
    .map(([key, value]) => `${key}: ${value}`)
    .join('\n    ')}\n`;
};

describe('parseProcessors', () => {
  it('gives each part an entry, in any case of its name', () => {
    const { table, errors } = parseProcessors(entry({ wordSum: 'true', uf2Family: '0xE48BFF56' }));
    expect(errors).toEqual([]);
    expect(processorOf('ab2', table)).toMatchObject({
      id: 'AB2',
      flash: [{ start: 0x08000000, end: 0x08010000, name: null }],
      ram: [{ start: 0x20000000, end: 0x20005000 }],
      wordSum: true,
      uf2Family: 0xe48bff56,
      espChipId: null,
      vectorOffset: 0,
      sources: [
        { title: 'One', opened: true },
        { title: 'data sheet X', opened: false },
      ],
    });
    expect(processorOf('AB3', table)).toBeNull();
  });

  it.each([
    ['core', 'cortex-m9', 6, 'core must be one of'],
    ['flash', '[{ start: 0x08000000, bytes: 64KB }]', 7, 'bytes in flash must be a size'],
    ['flash', '[]', 7, 'flash must be a list of regions'],
    [
      'ram',
      '[{ start: 0x20000000, bytes: 8 }, { start: 0x20000004, bytes: 8 }]',
      8,
      'must ascend and not overlap',
    ],
    ['ram', '[{ start: 0xFFFFFFFC, bytes: 8 }]', 8, 'ends past 32 bits'],
    ['sources', '[two]', 9, 'no such source: two'],
    ['parts', '[AB1, ab1]', 5, 'ab1 is in the table already'],
    ['speed', '72', 10, 'unknown key speed'],
  ])('%s: %s is an error with its line', (key, value, line, text) => {
    const { errors } = parseProcessors(entry({ [key]: value }));
    expect(errors).toHaveLength(1);
    expect(errors[0]).toMatchObject({ line, text: expect.stringContaining(text) });
  });

  it.each(['', '[]', 'schema: other', '{', 'a: &x [*x, *x]', head, `${head}  - 5\n`])(
    '%j is refused and does not throw',
    (text) => expect(parseProcessors(text).errors.length).toBeGreaterThan(0),
  );
});

describe('processorOf an inline map', () => {
  const none = new Map();
  const flash = { start: 0x08000000, bytes: 65536 };
  const ram = { start: 0x20000000, bytes: 20480 };

  it('takes one region or several', () => {
    expect(
      processorOf(
        { core: 'cortex-m0', flash, ram: [{ start: 0x30000000, bytes: 16 }, ram], wordSum: true },
        none,
      ),
    ).toMatchObject({
      core: 'cortex-m0',
      flash: [{ start: 0x08000000, end: 0x08010000 }],
      ram: [{ start: 0x20000000 }, { start: 0x30000000, end: 0x30000010 }],
      wordSum: true,
    });
  });

  it('refuses what is no memory of 32 bits, and cores that it does not know', () => {
    expect(processorOf({ core: 'z80', flash, ram }, none)).toBeNull();
    expect(
      processorOf({ core: 'cortex-m0', flash: { start: 0xffff0000, bytes: 0x20000 }, ram }, none),
    ).toBeNull();
    expect(processorOf({ core: 'cortex-m0', flash, ram: [] }, none)).toBeNull();
  });
});
