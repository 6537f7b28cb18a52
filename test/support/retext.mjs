// node retext.mjs FROM TO OLD NEW: a copy of a firmware file with one text in place of another of the same length, and
// the CRC-32 in its last four bytes (little-endian, over all before them) made right again.
import { readFileSync, writeFileSync } from 'node:fs';
import { crc32 } from 'node:zlib';

const [from, to, old, text] = process.argv.slice(2);
const bytes = readFileSync(from);
if (old.length !== text.length || !bytes.includes(old))
  throw new Error(`cannot put "${text}" in place of "${old}"`);
for (let at = bytes.indexOf(old); at >= 0; at = bytes.indexOf(old)) bytes.write(text, at, 'latin1');
bytes.writeUInt32LE(crc32(bytes.subarray(0, -4)), bytes.length - 4);
writeFileSync(to, bytes);
