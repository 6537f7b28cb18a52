import { familyMap, uf2Families } from 'uf2';
import { describe, expect, it } from 'vitest';
import { uf2 } from '../../src/firmware/encodings/uf2.js';
import { uf2FamilyNames } from '../../src/firmware/encodings/uf2-families.js';

describe('UF2', () => {
  // The npm package uf2 carries a copy of the specification's list of families.
  it('knows every family of the published list under its name', () => {
    expect(familyMap.size).toBeGreaterThan(35);
    for (const { id, shortName } of uf2Families)
      expect([id, uf2FamilyNames.get(id)]).toEqual([id, shortName]);
  });

  // README of https://github.com/microsoft/uf2, "Extension tags": version 0.1.2 for a device named ACME Toaster mk3.
  it('reads the extension tags of the specification', () => {
    const block = Buffer.alloc(512, 0xff);
    block.writeUInt32LE(0x0a324655, 0);
    block.writeUInt32LE(0x9e5d5157, 4);
    block.writeUInt32LE(0x2000 + 0x8000, 8);
    for (const [at, value] of [
      [12, 0x2000],
      [16, 256],
      [20, 0],
      [24, 1],
      [28, 0x68ed2b88],
      [508, 0x0ab16f30],
    ] as const)
      block.writeUInt32LE(value, at);
    block.write('09bcc79f302e312e32000000149d0d6541434d4520546f6173746572206d6b33ffffffff', 32 + 256, 'hex');
    const read = uf2.decode(new Uint8Array(block));
    expect(read.problems).toEqual([]);
    expect(read.details).toMatchObject({
      tags: { version: '0.1.2', device: 'ACME Toaster mk3' },
      families: [{ name: 'SAMD21' }],
    });
    expect(read.map.ranges).toEqual([{ start: 0x2000, end: 0x2100 }]);
  });
});
