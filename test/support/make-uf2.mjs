// Packs a file into UF2 blocks of 256 bytes with the npm package `uf2`, which is not ours.
// Use: node make-uf2.mjs IN OUT START [FAMILY]    (START and FAMILY in hexadecimal)
import { readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const { encodeBlock, UF2Flags } = createRequire(import.meta.url)('uf2');
const [, , from, to, start, family] = process.argv;
const program = readFileSync(from);
const totalBlocks = Math.ceil(program.length / 256);
const blocks = [];
for (let blockNumber = 0; blockNumber < totalBlocks; blockNumber++) {
  const payload = new Uint8Array(256);
  payload.set(program.subarray(blockNumber * 256, blockNumber * 256 + 256));
  blocks.push(
    encodeBlock({
      flags: family === undefined ? 0 : UF2Flags.familyIDPresent,
      flashAddress: Number.parseInt(start, 16) + blockNumber * 256,
      blockNumber,
      totalBlocks,
      boardFamily: family === undefined ? 0 : Number.parseInt(family, 16),
      payload,
    }),
  );
}
writeFileSync(to, Buffer.concat(blocks));
