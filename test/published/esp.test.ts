import { describe, expect, it } from 'vitest';
import { espChips, espImage } from '../../src/firmware/encodings/esp-image.js';

describe('ESP image', () => {
  // Layout: esptool documentation, "Firmware Image Format". The image was put together from that text by hand: two
  // segments, 64 times A and ten times 12345678; ten times the same eight digits exclusive-or to 0, so the checksum is
  // its seed 0xEF. With the appended SHA-256 it has 192 + 32 bytes.
  it('is read as the layout says', () => {
    const file = Buffer.alloc(224);
    file.set([0xe9, 2, 2, 0x2f]);
    file.writeUInt32LE(0x40080400, 4);
    file.writeUInt16LE(0, 12);
    file[23] = 1;
    file.writeUInt32LE(0x3ffb0000, 24);
    file.writeUInt32LE(64, 28);
    file.fill('A', 32, 96);
    file.writeUInt32LE(0x40080000, 96);
    file.writeUInt32LE(80, 100);
    file.write('12345678'.repeat(10), 104);
    file[191] = 0xef;
    const read = espImage.decode(new Uint8Array(file), { sha256: () => '00'.repeat(32) });
    expect(read.problems).toEqual([]);
    expect(read).toMatchObject({ entry: 0x40080400, whole: true });
    expect(read.details).toMatchObject({
      header: 'esp32',
      chip: 'ESP32',
      flashMode: 'DIO',
      segmentCount: 2,
      checksum: { at: 191, written: 0xef, computed: 0xef },
      digest: 'equal',
      imageBytes: 224,
    });
    expect(read.map.ranges).toEqual([
      { start: 0x3ffb0000, end: 0x3ffb0040 },
      { start: 0x40080000, end: 0x40080050 },
    ]);
  });

  // IMAGE_CHIP_ID in esptool's esp32.py, esp32s2.py, esp32c3.py, esp32s3.py, esp32c6.py, esp32p4.py.
  it.each([
    [0, 'ESP32'],
    [2, 'ESP32-S2'],
    [5, 'ESP32-C3'],
    [9, 'ESP32-S3'],
    [13, 'ESP32-C6'],
    [18, 'ESP32-P4'],
  ])('chip id %i is %s', (id, name) => expect(espChips.get(id)).toBe(name));
});
