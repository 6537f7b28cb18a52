// Makes an ESP application image of one segment, after the layout that esptool's documentation describes: header of 24
// bytes, segment, zeros up to the checksum in the last byte of a row of 16, SHA-256.
// Use: node make-esp.mjs IN OUT CHIP    (CHIP: chip id in decimal)
import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';

const [, , from, to, chip] = process.argv;
const segment = readFileSync(from);
const header = Buffer.alloc(24);
header.set([0xe9, 1, 2, 0x20]);
header.writeUInt32LE(0x42000020, 4);
header.writeUInt16LE(Number(chip), 12);
header[23] = 1;
const head = Buffer.alloc(8);
head.writeUInt32LE(0x3c000020, 0);
head.writeUInt32LE(segment.length, 4);
const body = Buffer.concat([header, head, segment]);
const padded = Buffer.alloc(Math.ceil((body.length + 1) / 16) * 16);
padded.set(body);
padded[padded.length - 1] = segment.reduce((sum, byte) => sum ^ byte, 0xef);
writeFileSync(to, Buffer.concat([padded, createHash('sha256').update(padded).digest()]));
