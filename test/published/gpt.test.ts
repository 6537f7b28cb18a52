import { describe, expect, it } from 'vitest';
import { MemorySource } from '../../src/bytes/byte-source.js';
import { gptCrc32, gptTypeName, guidText, readGptHeader } from '../../src/card/partition-table/gpt.js';
import { readMbrSlots } from '../../src/card/partition-table/mbr.js';

const hex = (text: string): Uint8Array =>
  Uint8Array.from(text.trim().split(/\s+/), (byte) => Number.parseInt(byte, 16));

// UEFI specification 2.10, chapter 5 "GUID Partition Table (GPT) Disk Layout".
describe('UEFI specification, chapter 5', () => {
  it('5.3.2: the signature is "EFI PART", 0x5452415020494645 as a little-endian number', () => {
    const block = new Uint8Array(1024);
    new DataView(block.buffer).setBigUint64(512, 0x5452415020494645n, true);
    expect(readGptHeader(new MemorySource(block), 512, 512)).toMatchObject({ at: 512, headerBytes: 0 });
    block[512] = 0x65;
    expect(readGptHeader(new MemorySource(block), 512, 512)).toBeNull();
  });

  it('5.2.3: the protective entry is type EE and starts at block 1, here on a medium of 266240 blocks', () => {
    const sector = new Uint8Array(512);
    sector.set(hex('00 00 02 00 EE 92 02 10 01 00 00 00 FF 0F 04 00'), 446);
    expect(readMbrSlots(sector)[0]).toMatchObject({
      bootFlag: 0,
      type: 0xee,
      startSector: 1,
      sectors: 266240 - 1,
      used: true,
    });
  });

  it('5.3.3, table 5-7: the EFI System partition, GUID mixed-endian as in appendix A', () => {
    const guid = guidText(hex('28 73 2A C1 1F F8 D2 11 BA 4B 00 A0 C9 3E C9 3B'));
    expect(guid).toBe('C12A7328-F81F-11D2-BA4B-00A0C93EC93B');
    expect(gptTypeName(guid)).toBe('EFI system');
  });

  // Microsoft, "PARTITION_INFORMATION_GPT structure": PARTITION_BASIC_DATA_GUID.
  it('the basic data partition', () => {
    const guid = guidText(hex('A2 A0 D0 EB E5 B9 33 44 87 C0 68 B6 B7 26 99 C7'));
    expect(guid).toBe('EBD0A0A2-B9E5-4433-87C0-68B6B72699C7');
    expect(gptTypeName(guid)).toBe('Microsoft basic data');
  });
});

// Catalogue of parametrised CRC algorithms (RevEng), CRC-32/ISO-HDLC: check value over "123456789".
it('CRC-32/ISO-HDLC check value', () => {
  expect(gptCrc32(new TextEncoder().encode('123456789'))).toBe(0xcbf43926);
});
