import { execFileSync } from 'node:child_process';
import { deflateRawSync, gzipSync, crc32 as zlibCrc32 } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { MemorySource, ReadProblem } from '../../src/bytes/byte-source.js';
import { unpackGzip } from '../../src/node/gzip.js';

/** Bytes that look random and are the same each time. */
function noise(length: number, seed = 1): Buffer {
  const bytes = Buffer.alloc(length);
  let state = seed;
  for (let at = 0; at < length; at++) {
    state = (Math.imul(state, 1103515245) + 12345) >>> 0;
    bytes[at] = state >>> 24;
  }
  return bytes;
}

/** A gzip member with a header as RFC 1952 section 2.3 describes it, built by hand. */
function member(
  content: Buffer,
  options: { flags?: number; extra?: Buffer; name?: string; comment?: string } = {},
): Buffer {
  const { flags = 0, extra, name, comment } = options;
  let head = Buffer.from([0x1f, 0x8b, 8, flags, 0, 0, 0, 0, 0, 255]);
  if (extra) head = Buffer.concat([head, Buffer.from([extra.length & 255, extra.length >> 8]), extra]);
  if (name) head = Buffer.concat([head, Buffer.from(`${name}\0`, 'latin1')]);
  if (comment) head = Buffer.concat([head, Buffer.from(`${comment}\0`, 'latin1')]);
  if (flags & 2) {
    const check = Buffer.alloc(2);
    check.writeUInt16LE(zlibCrc32(head) & 0xffff);
    head = Buffer.concat([head, check]);
  }
  const tail = Buffer.alloc(8);
  tail.writeUInt32LE(zlibCrc32(content), 0);
  tail.writeUInt32LE(content.length, 4);
  return Buffer.concat([head, deflateRawSync(content), tail]);
}

const unpack = (
  packed: Buffer,
  ...rest: Parameters<typeof unpackGzip> extends [unknown, ...infer R] ? R : never
) => unpackGzip(new MemorySource(packed), ...rest);
const whole = async (packed: Buffer): Promise<Buffer> => {
  const { source } = await unpack(packed);
  const bytes = source.read(0, source.size);
  if (bytes instanceof ReadProblem) throw new Error(`not read: ${bytes.cause}`);
  return Buffer.from(bytes);
};
const cause = (result: Uint8Array | ReadProblem): string =>
  result instanceof ReadProblem ? result.cause : 'read';

describe('unpacking', () => {
  it('gives back what gzip(1) packed', async () => {
    const content = Buffer.concat([noise(100_000), Buffer.alloc(300_000), noise(70_001, 7)]);
    const packed = execFileSync('gzip', ['-c', '-9'], { input: content });
    const { source, bytes, crcHeld, problems } = await unpack(packed);
    expect({ bytes, crcHeld, problems }).toEqual({ bytes: content.length, crcHeld: true, problems: [] });
    expect(Buffer.from(source.read(0, content.length) as Uint8Array).equals(content)).toBe(true);
    // Across the edge of a page, and past the end.
    expect(source.read(65_500, 100)).toEqual(Uint8Array.from(content.subarray(65_500, 65_600)));
    expect(cause(source.read(content.length - 1, 2))).toBe('past-end');
    expect(cause(source.read(-1, 2))).toBe('past-end');
  });

  it('joins members, as gzip(1) does', async () => {
    const parts = [noise(1000), Buffer.alloc(0), noise(200_000, 3), noise(1, 5)];
    const packed = Buffer.concat(parts.map((part) => gzipSync(part)));
    expect((await whole(packed)).equals(execFileSync('gzip', ['-dc'], { input: packed }))).toBe(true);
    expect((await whole(packed)).equals(Buffer.concat(parts))).toBe(true);
  });

  it('reads every optional part of a header', async () => {
    const content = noise(500);
    const all = { extra: noise(300, 9), name: 'card.img', comment: 'a comment' };
    for (const flags of [0x00, 0x04, 0x08, 0x10, 0x02, 0x1f]) {
      const packed = member(content, {
        flags,
        ...(flags & 4 ? { extra: all.extra } : {}),
        ...(flags & 8 ? { name: all.name } : {}),
        ...(flags & 16 ? { comment: all.comment } : {}),
      });
      expect((await whole(packed)).equals(content)).toBe(true);
    }
  });

  it('keeps nothing of pages that are zero', async () => {
    const before = process.memoryUsage().arrayBuffers;
    const { source } = await unpack(gzipSync(Buffer.alloc(64 * 1024 * 1024), { level: 1 }));
    expect(source.size).toBe(64 * 1024 * 1024);
    expect(source.read(1_000_000, 4)).toEqual(new Uint8Array(4));
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(80 * 1024 * 1024);
  });

  it('tells how far it is', async () => {
    const packed = gzipSync(noise(600_000));
    const steps: number[] = [];
    await unpack(packed, (done, total) => {
      expect(total).toBe(packed.length);
      steps.push(done);
    });
    expect(steps.at(-1)).toBe(packed.length);
    expect([...steps].sort((a, b) => a - b)).toEqual(steps);
  });
});

describe('files that are not whole', () => {
  const content = noise(300_000);
  const packed = gzipSync(content);

  it('trusts nothing of a piece whose checksum does not hold', async () => {
    const wrong = Buffer.from(packed);
    wrong[wrong.length - 8]! ^= 1;
    const { source, bytes, crcHeld, problems } = await unpack(wrong);
    expect({ bytes, crcHeld }).toEqual({ bytes: null, crcHeld: false });
    expect(problems).toMatchObject([{ code: 'checksum', at: packed.length - 8 }]);
    for (const [at, length] of [
      [0, 1],
      [0, content.length],
      [200_000, 512],
      [10_000_000, 512],
    ] as const)
      expect(cause(source.read(at, length))).toBe('damaged');
  });

  it('sees that the length is wrong', async () => {
    const wrong = Buffer.from(packed);
    wrong[wrong.length - 1]! ^= 1;
    const { crcHeld, problems, source } = await unpack(wrong);
    expect(crcHeld).toBe(false);
    expect(problems).toMatchObject([{ code: 'length', at: packed.length - 4 }]);
    expect(cause(source.read(0, 1))).toBe('damaged');
  });

  it('sees that it was cut off, wherever', async () => {
    for (
      let length = 1;
      length < packed.length;
      length += length < 40 || length > packed.length - 40 ? 1 : 9973
    ) {
      const { crcHeld, bytes, problems, source } = await unpack(packed.subarray(0, length));
      expect({ length, crcHeld, bytes }).toEqual({ length, crcHeld: false, bytes: null });
      expect(problems).toMatchObject([{ code: 'truncated', at: length }]);
      expect(cause(source.read(0, 1))).toBe('damaged');
    }
  });

  it('takes any flipped byte for damage, or unpacks the same', async () => {
    const small = member(noise(400, 11), { flags: 8, name: 'x' });
    for (let at = 0; at < small.length; at++) {
      const wrong = Buffer.from(small);
      wrong[at]! ^= 0x55;
      const { crcHeld, source } = await unpack(wrong);
      const got = source.read(0, 400);
      if (crcHeld) expect(Buffer.from(got as Uint8Array).equals(noise(400, 11))).toBe(true);
      else expect(cause(got)).toBe('damaged');
    }
  });

  it('still reads the pieces before a broken one', async () => {
    const broken = Buffer.from(packed);
    broken[broken.length - 8]! ^= 1;
    const { source, bytes, crcHeld } = await unpack(Buffer.concat([packed, broken, packed]));
    expect({ bytes, crcHeld }).toEqual({ bytes: null, crcHeld: false });
    expect(Buffer.from(source.read(0, content.length) as Uint8Array).equals(content)).toBe(true);
    expect(cause(source.read(content.length - 1, 2))).toBe('damaged');
    expect(cause(source.read(content.length, 1))).toBe('damaged');
    expect(cause(source.read(content.length * 2, 1))).toBe('damaged');
  });

  it('names what follows the last piece, but not padding', async () => {
    const padded = await unpack(Buffer.concat([packed, Buffer.alloc(1000)]));
    expect(padded).toMatchObject({ bytes: content.length, crcHeld: true, problems: [] });
    const followed = await unpack(Buffer.concat([packed, Buffer.from('hello')]));
    expect(followed).toMatchObject({ bytes: content.length, crcHeld: true });
    expect(followed.problems).toEqual([
      { code: 'trailing-bytes', text: expect.stringContaining('5 bytes'), at: packed.length },
    ]);
  });

  it('takes a second header that leads nowhere for a broken piece', async () => {
    const { bytes, crcHeld, problems, source } = await unpack(
      Buffer.concat([packed, Buffer.from([0x1f, 0x8b])]),
    );
    expect({ bytes, crcHeld }).toEqual({ bytes: null, crcHeld: false });
    expect(problems).toMatchObject([{ code: 'truncated' }]);
    expect(cause(source.read(0, content.length))).toBe('read');
    expect(cause(source.read(content.length, 1))).toBe('damaged');
  });

  it('hands on that the packed file itself could not be read', async () => {
    const failing = {
      size: packed.length,
      read: (at: number, length: number) =>
        at + length > 100_000
          ? new ReadProblem(at, length, 'read-error', 'EIO')
          : packed.subarray(at, at + length),
    };
    const { source, problems } = await unpackGzip({ ...failing, size: packed.length });
    expect(problems).toMatchObject([{ code: 'unreadable' }]);
    expect(cause(source.read(0, 1))).toBe('read-error');
  });
});

describe('limits', () => {
  const few = { unpackedBytes: 200_000, unpackedSize: 1_000_000, gzipMembers: 3 };

  it('closes what would need too much memory and still proves the rest', async () => {
    const { source, bytes, crcHeld } = await unpack(gzipSync(noise(500_000)), undefined, few);
    expect({ bytes, crcHeld }).toEqual({ bytes: 500_000, crcHeld: true });
    expect(cause(source.read(0, 65_536))).toBe('read');
    expect(cause(source.read(400_000, 1))).toBe('over-limit');
  });

  it('stops where the image would be too large', async () => {
    const { source, bytes } = await unpack(gzipSync(Buffer.alloc(5_000_000)), undefined, few);
    expect(bytes).toBeNull();
    expect(cause(source.read(0, 1))).toBe('over-limit');
  });

  it('stops after too many pieces', async () => {
    const { source, bytes, problems } = await unpack(
      Buffer.concat(Array(4).fill(gzipSync(noise(10)))),
      undefined,
      few,
    );
    expect(bytes).toBeNull();
    expect(problems).toMatchObject([{ code: 'too-many-members' }]);
    expect(cause(source.read(0, 30))).toBe('read');
    expect(cause(source.read(30, 1))).toBe('over-limit');
  });
});
