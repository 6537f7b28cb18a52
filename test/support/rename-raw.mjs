// Gives a directory entry of a FAT16 volume at 1 MiB any short and any long name, as no formatter or copier would.
// Use: node rename-raw.mjs IMAGE FOLDER OLD NEW LONG   (FOLDER: root, or the eleven bytes of a folder in the root;
// OLD and NEW: eleven bytes of a short name). Names after the FAT specification, sections 6 and 7.
import { readFileSync, writeFileSync } from 'node:fs';

const [, , image, folder, oldName, newName, longName] = process.argv;
const card = readFileSync(image);
const volume = 1024 * 1024;
const reserved = card.readUInt16LE(volume + 14);
const rootSlots = card.readUInt16LE(volume + 17);
const fatSectors = card.readUInt16LE(volume + 22);
const clusterBytes = card[volume + 13] * 512;
const root = volume + (reserved + card[volume + 16] * fatSectors) * 512;
const data = root + rootSlots * 32;

const slotsAt = (at, count) =>
  Array.from({ length: count }, (_, i) => card.subarray(at + i * 32, at + i * 32 + 32));
const nameOf = (slot) => slot.toString('latin1', 0, 11);
let start = root;
let count = rootSlots;
if (folder !== 'root') {
  const entry = slotsAt(root, rootSlots).find((slot) => nameOf(slot) === folder);
  start = data + (entry.readUInt16LE(26) - 2) * clusterBytes;
  count = clusterBytes / 32;
}
const slots = slotsAt(start, count).map((slot) => Buffer.from(slot));
const at = slots.findIndex((slot) => nameOf(slot) === oldName && slot[11] !== 0x0f);
if (at < 0) throw new Error(`no entry ${oldName}`);
let from = at;
while (from > 0 && slots[from - 1][11] === 0x0f) from--;

const renamed = Buffer.from(slots[at]);
renamed.write(newName, 0, 11, 'latin1');
renamed[12] = 0;
let checksum = 0;
for (let i = 0; i < 11; i++) checksum = (((checksum & 1) << 7) + (checksum >> 1) + renamed[i]) & 0xff;
const units = [...longName].map((character) => character.charCodeAt(0));
if (units.length % 13 !== 0) units.push(0);
while (units.length % 13 !== 0) units.push(0xffff);
const pieces = [];
for (let piece = units.length / 13; piece > 0; piece--) {
  const slot = Buffer.alloc(32);
  slot[0] = piece | (pieces.length === 0 ? 0x40 : 0);
  slot[11] = 0x0f;
  slot[13] = checksum;
  const places = [1, 3, 5, 7, 9, 14, 16, 18, 20, 22, 24, 28, 30];
  for (const [i, place] of places.entries()) slot.writeUInt16LE(units[(piece - 1) * 13 + i], place);
  pieces.push(slot);
}
const all = [...slots.slice(0, from), ...pieces, renamed, ...slots.slice(at + 1)].slice(0, count);
Buffer.concat([...all, Buffer.alloc(Math.max(0, (count - all.length) * 32))]).copy(card, start);
writeFileSync(image, card);
