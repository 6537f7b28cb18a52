import { describe, expect, it } from 'vitest';
import { limits } from '../../src/bytes/limits.js';
import { valuesOfKey } from '../../src/firmware/key-values.js';
import { singleSegment } from '../../src/firmware/memory-map.js';

const values = (text: string, key = 'LK_RELEASE'): string[] =>
  valuesOfKey(singleSegment(0, Buffer.from(text, 'latin1')), key);

describe('the values of a key in a program', () => {
  it('are what stands behind the key, each once', () => {
    expect(values('\0LK_BOARD:tansy LK_RELEASE:31\0')).toEqual(['31']);
    expect(values('LK_RELEASE: 2.10-b_1,LK_RELEASE:31\nLK_RELEASE:31')).toEqual(['2.10-b_1', '31']);
  });

  it('are none where the text is put together later, or the key is a part of a longer word', () => {
    expect(values('LK_RELEASE:%s')).toEqual([]);
    expect(values('OLD_LK_RELEASE:30 LK_RELEASE=30 LK_RELEASE')).toEqual([]);
    expect(values(`LK_RELEASE:${'9'.repeat(33)}`)).toEqual([]);
    expect(values(`LK_RELEASE:${'9'.repeat(32)}`)).toEqual(['9'.repeat(32)]);
  });

  it('are looked for at so many places only', () => {
    const many = Array.from({ length: limits.markerPlaces + 50 }, (_, index) => `LK_RELEASE:${index} `).join(
      '',
    );
    expect(values(many)).toHaveLength(limits.markerPlaces);
  });
});
