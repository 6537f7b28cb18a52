import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ReadProblem } from '../../src/bytes/byte-source.js';
import { type DeviceRead, DeviceSource } from '../../src/node/device-source.js';
import { noise, poke } from '../support/disk-images.js';
import { mayMount, withLoop } from '../support/loop-device.js';

const systemError = (code: string, text: string): Error =>
  Object.assign(new Error(`${code}: ${text}, read`), { code, syscall: 'read' });

/** A device in memory that takes whole sectors only, as raw devices do, and fails where it is told to. */
function device(
  bytes: Uint8Array,
  sectorBytes: number,
  fails: (at: number, length: number) => Error | null = () => null,
) {
  const calls: [at: number, length: number][] = [];
  const read: DeviceRead = (buffer, at) => {
    calls.push([at, buffer.length]);
    if (at % sectorBytes !== 0 || buffer.length % sectorBytes !== 0)
      throw systemError('EINVAL', 'not aligned');
    const error = fails(at, buffer.length);
    if (error) throw error;
    const piece = bytes.subarray(at, at + buffer.length);
    buffer.set(piece);
    return piece.length;
  };
  return { source: new DeviceSource(read, { bytes: bytes.length, sectorBytes }), calls };
}

/** Comparing long arrays value by value takes seconds. */
const isSame = (got: Uint8Array | ReadProblem, wanted: Uint8Array): boolean =>
  !(got instanceof ReadProblem) && Buffer.compare(got, wanted) === 0;

const touches =
  (sector: number, sectorBytes: number, code: string, text: string) => (at: number, length: number) =>
    at < (sector + 1) * sectorBytes && at + length > sector * sectorBytes ? systemError(code, text) : null;

describe('a device as a source of bytes', () => {
  it.each([512, 1024, 2048, 4096])(
    'gives any stretch out of reads of whole sectors of %i bytes',
    (sectorBytes) => {
      const bytes = noise(sectorBytes * 200);
      const { source, calls } = device(bytes, sectorBytes);
      for (const [at, length] of [
        [0, 1],
        [0, bytes.length],
        [511, 2],
        [65_535, 2],
        [65_536, 30_000],
        [100_001, 3],
        [bytes.length - 1, 1],
        [bytes.length, 0],
        [0, 0],
      ] as const)
        expect(isSame(source.read(at, length), bytes.slice(at, at + length))).toBe(true);
      expect(calls.every(([at, length]) => at % sectorBytes === 0 && length % sectorBytes === 0)).toBe(true);
      for (const [at, length] of [
        [bytes.length, 1],
        [-1, 1],
        [0, bytes.length + 1],
        [0.5, 1],
      ] as const)
        expect(source.read(at, length)).toMatchObject({ cause: 'past-end' });
    },
  );

  it('fetches a place once, however often it is asked for', () => {
    const { source, calls } = device(noise(1024 * 1024), 512);
    for (let at = 0; at < 65_536; at += 32) source.read(at, 32);
    expect(calls).toHaveLength(1);
  });

  it('loses one bad sector and none of its neighbours', () => {
    const bytes = noise(512 * 1024);
    const { source } = device(bytes, 512, touches(300, 512, 'EIO', 'i/o error'));
    const bad = 300 * 512;
    for (const [at, length] of [
      [bad, 512],
      [bad - 1, 2],
      [bad + 511, 2],
      [0, bytes.length],
    ] as const)
      expect(source.read(at, length)).toMatchObject({
        at,
        length,
        cause: 'read-error',
        detail: expect.stringContaining('EIO'),
      });
    expect(isSame(source.read(bad - 512, 512), bytes.slice(bad - 512, bad))).toBe(true);
    expect(isSame(source.read(bad + 512, 4096), bytes.slice(bad + 512, bad + 512 + 4096))).toBe(true);
    expect(source.read(bad, 0)).toHaveLength(0);
  });

  it('says so when it ends before its size, or was pulled out', () => {
    const bytes = noise(256 * 1024);
    const short = new DeviceSource(
      (buffer, at) => {
        const piece = bytes.subarray(at, Math.min(at + buffer.length, 100_000));
        buffer.set(piece);
        return piece.length;
      },
      { bytes: bytes.length, sectorBytes: 512 },
    );
    expect(isSame(short.read(0, 1000), bytes.slice(0, 1000))).toBe(true);
    expect(short.read(150_000, 10)).toMatchObject({
      cause: 'read-error',
      detail: expect.stringContaining('gives nothing'),
    });
    let isThere = true;
    const { source } = device(bytes, 512, () =>
      isThere ? null : systemError('ENXIO', 'no such device or address'),
    );
    expect(isSame(source.read(0, 512), bytes.slice(0, 512))).toBe(true);
    isThere = false;
    expect(source.read(200_000, 512)).toMatchObject({
      cause: 'read-error',
      detail: expect.stringMatching(/not there any more.*ENXIO/),
    });
    expect(source.changed()).toBe(true);
    const { source: locked } = device(bytes, 512, () => systemError('EPERM', 'operation not permitted'));
    expect(locked.read(0, 512)).toMatchObject({ cause: 'no-permission' });
  });

  it('reads on after a short read', () => {
    const bytes = noise(64 * 1024);
    const source = new DeviceSource(
      (buffer, at) => {
        const piece = bytes.subarray(at, at + Math.min(buffer.length, 4096));
        buffer.set(piece);
        return piece.length;
      },
      { bytes: bytes.length, sectorBytes: 512 },
    );
    expect(isSame(source.read(0, bytes.length), bytes)).toBe(true);
  });

  it('knows when what was read first is not there any more', () => {
    const bytes = noise(512 * 1024);
    const { source } = device(bytes, 512);
    source.read(0, 512);
    source.read(300_000, 512);
    expect(source.changed()).toBe(false);
    bytes[450_000]! ^= 1;
    // Nobody asked for that place.
    expect(source.changed()).toBe(false);
    bytes[300_100]! ^= 1;
    expect(source.changed()).toBe(true);
  });
});

describe.runIf(mayMount)('a real device', () => {
  let folder: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it.each([512, 4096])(
    'with sectors of %i bytes gives the bytes of its file, and tells when they change',
    async (sector) => {
      const path = join(folder, `card-${sector}.img`);
      writeFileSync(path, noise(1024 * 1024));
      await withLoop(
        path,
        (name) => {
          const source = DeviceSource.open(name, { bytes: 1024 * 1024, sectorBytes: sector });
          try {
            const bytes = new Uint8Array(readFileSync(path));
            for (const [at, length] of [
              [0, 3],
              [4095, 2],
              [70_000, 200_000],
              [1024 * 1024 - 5, 5],
            ] as const)
              expect(isSame(source.read(at, length), bytes.slice(at, at + length))).toBe(true);
            expect(source.changed()).toBe(false);
            poke(name, 70_001, [bytes[70_001]! ^ 0xff]);
            expect(source.changed()).toBe(true);
          } finally {
            source.close();
          }
        },
        ['--sector-size', String(sector)],
      );
      expect(() => DeviceSource.open(join(folder, 'nothing'), { bytes: 1, sectorBytes: 512 })).toThrow(
        /ENOENT/,
      );
    },
  );
});

it('a problem keeps the place that was asked for', () => {
  const { source } = device(noise(128 * 1024), 512, () => systemError('EIO', 'i/o error'));
  expect(source.read(65_000, 2000)).toBeInstanceOf(ReadProblem);
  expect(source.read(65_000, 2000)).toMatchObject({ at: 65_000, length: 2000 });
});
