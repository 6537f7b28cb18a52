import { execFileSync } from 'node:child_process';
import {
  appendFileSync,
  chmodSync,
  linkSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ReadProblem } from '../../src/bytes/byte-source.js';
import { nodeDigests, sha256Hex } from '../../src/node/digests.js';
import { FileSource } from '../../src/node/file-source.js';
import { openImage } from '../../src/node/open-image.js';
import { readStagedFile, readStagingFolder } from '../../src/node/staging-folder.js';
import { cardPath, targetKind } from '../../src/node/target-kind.js';
import { WriteProblem, writeNewFile, writeObstacle } from '../../src/node/write-new-file.js';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const put = (name: string, content: string | Uint8Array): string => {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
};
const cause = (result: Uint8Array | ReadProblem): string =>
  result instanceof ReadProblem ? result.cause : 'read';

describe('a file as a source of bytes', () => {
  it('reads exactly what is asked, and nothing past the end', () => {
    const source = FileSource.open(put('plain', 'abcdefghij'));
    expect(source.size).toBe(10);
    expect(Buffer.from(source.read(3, 4) as Uint8Array).toString()).toBe('defg');
    expect(source.read(10, 0)).toEqual(new Uint8Array(0));
    for (const [at, length] of [
      [10, 1],
      [0, 11],
      [-1, 1],
      [0.5, 1],
      [Number.NaN, 1],
      [2 ** 53, 1],
    ] as const)
      expect(cause(source.read(at, length))).toBe('past-end');
    source.close();
    source.close();
  });

  it('says so when the file became shorter', () => {
    const path = put('shrinks', Buffer.alloc(5000, 1));
    const source = FileSource.open(path);
    const mark = source.changeMark();
    truncateSync(path, 1000);
    expect(source.read(500, 1000)).toMatchObject({ at: 500, length: 1000, cause: 'read-error' });
    expect(source.changeMark()).not.toBe(mark);
    source.close();
  });

  it('hands on the words of the system', () => {
    // A folder can be opened and not read.
    const source = FileSource.open(folder);
    expect(source.read(0, 1)).toMatchObject({
      cause: 'read-error',
      detail: expect.stringContaining('EISDIR'),
    });
    source.close();
    expect(() => FileSource.open(join(folder, 'nothing'))).toThrow(/ENOENT/);
  });
});

describe('opening an image', () => {
  it('goes by the content, not by the name', async () => {
    const packed = await openImage(put('packed.img', gzipSync(Buffer.alloc(70_000, 7))));
    expect(packed).toMatchObject({ container: 'gzip', bytes: 70_000, crcHeld: true, containerProblems: [] });
    packed.close();
    const plain = await openImage(put('plain.gz', 'no gzip at all'));
    expect(plain).toMatchObject({ container: 'none', bytes: 14, crcHeld: null });
    expect(plain.source.size).toBe(14);
    plain.close();
  });

  it('takes any length, none and one byte too', async () => {
    for (const length of [0, 1, 2, 511, 513]) {
      const opened = await openImage(put('odd', Buffer.alloc(length, 0x1f)));
      expect(opened).toMatchObject({ container: 'none', bytes: length });
      opened.close();
    }
  });

  it('notices that somebody wrote to the file', async () => {
    const path = put('busy', Buffer.alloc(1000));
    const opened = await openImage(path);
    expect(opened.changed()).toBe(false);
    appendFileSync(path, 'x');
    expect(opened.changed()).toBe(true);
    opened.close();
  });
});

describe('a staging folder', () => {
  it('is listed whole, links named and not followed', () => {
    const root = join(folder, 'stage');
    mkdirSync(join(root, 'b', 'inner'), { recursive: true });
    writeFileSync(join(root, 'B.BIN'), 'firmware');
    writeFileSync(join(root, '.hidden'), '');
    writeFileSync(join(root, 'b', 'inner', 'deep.txt'), 'deep');
    chmodSync(join(root, 'b', 'inner', 'deep.txt'), 0o444);
    symlinkSync('/etc', join(root, 'out'));
    symlinkSync('nowhere', join(root, 'broken'));
    execFileSync('mkfifo', [join(root, 'pipe')]);
    const staged = readStagingFolder(root);
    const shown = staged.entries.map((entry) => `${entry.path}${entry.isFolder ? '/' : ` ${entry.bytes}`}`);
    expect(shown).toEqual(['.hidden 0', 'B.BIN 8', 'b/', 'b/inner/', 'b/inner/deep.txt 4']);
    expect(staged.skipped.map(({ path, why }) => `${path}: ${why}`)).toEqual([
      'broken: link',
      'out: link',
      'pipe: not-a-file',
    ]);
    expect(staged.overLimit).toBeUndefined();
    expect(staged.entries.at(-1)).toMatchObject({
      name: 'deep.txt',
      folder: 'b/inner',
      readOnly: true,
      hidden: false,
    });
    expect(staged.entries[0]).toMatchObject({ folder: '', readOnly: false, hidden: true });
    const source = readStagedFile(staged, staged.entries[1]!);
    expect(Buffer.from(source.read(0, 8) as Uint8Array).toString()).toBe('firmware');
    source.close();
  });

  it('gives a source that says why when a file is gone', () => {
    const root = join(folder, 'gone');
    mkdirSync(root);
    writeFileSync(join(root, 'file'), 'x');
    const staged = readStagingFolder(root);
    rmSync(join(root, 'file'));
    const source = readStagedFile(staged, staged.entries[0]!);
    expect(source.read(0, 1)).toMatchObject({
      cause: 'read-error',
      detail: expect.stringContaining('ENOENT'),
    });
    expect(() => readStagingFolder(join(folder, 'nothing'))).toThrow(/ENOENT/);
  });
});

describe('what a path is', () => {
  it('tells files, folders and things that are no card apart', () => {
    expect(targetKind(put('kind', ''))).toBe('image');
    expect(targetKind(folder)).toBe('folder');
    expect(targetKind('/dev/null')).toBe('other');
    expect(() => targetKind(join(folder, 'nothing'))).toThrow(/ENOENT/);
  });

  it('reads every way to write a drive on Windows, and changes nothing elsewhere', () => {
    for (const typed of ['E', 'e', 'E:', 'E:\\', 'e:/', 'E:"', 'E:\\"'])
      expect(cardPath(typed, 'win32')).toBe('E:\\');
    for (const typed of ['card.img', 'E:\\card.img', 'EE', 'E:card', '.'])
      expect(cardPath(typed, 'win32')).toBe(typed);
    expect(cardPath('E:', 'linux')).toBe('E:');
  });
});

describe('digests', () => {
  it('are those of the published examples', () => {
    // FIPS 180-4 examples (NIST): SHA-256 of "abc"; the check value of CRC-32/ISO-HDLC for "123456789".
    expect(sha256Hex('abc')).toBe('ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad');
    const crc = nodeDigests.crc32();
    crc.update(Buffer.from('1234'));
    crc.update(Buffer.from('56789'));
    expect(crc.hex()).toBe('cbf43926');
    const sha = nodeDigests.sha256();
    sha.update(Buffer.from('a'));
    sha.update(Buffer.from('bc'));
    expect(sha.hex()).toBe(sha256Hex('abc'));
  });

  it('agree with sha256sum and gzip on larger data, and keep leading zeros', () => {
    const path = put('digest', Buffer.alloc(300_000, 0xa5));
    const sha = nodeDigests.sha256();
    sha.update(readFileSync(path));
    expect(execFileSync('sha256sum', [path]).toString().slice(0, 64)).toBe(sha.hex());
    const crc = nodeDigests.crc32();
    crc.update(readFileSync(path));
    const trailer = execFileSync('gzip', ['-c', path]).subarray(-8);
    expect(trailer.readUInt32LE(0).toString(16).padStart(8, '0')).toBe(crc.hex());
    expect(nodeDigests.crc32().hex()).toBe('00000000');
  });
});

describe('writing a report', () => {
  it('never overwrites unless told to', () => {
    const path = put('kept.txt', 'mine');
    expect(() => writeNewFile(path, 'theirs', false)).toThrow(WriteProblem);
    expect(readFileSync(path, 'utf8')).toBe('mine');
    writeNewFile(path, 'theirs', true);
    expect(readFileSync(path, 'utf8')).toBe('theirs');
  });

  it('leaves nothing else behind, whatever happens', () => {
    const inner = join(folder, 'out');
    mkdirSync(inner);
    writeNewFile(join(inner, 'a.txt'), 'a', false);
    expect(() => writeNewFile(join(inner, 'a.txt'), 'b', false)).toThrow(/--force/);
    expect(() => writeNewFile(join(inner, 'no', 'b.txt'), 'b', false)).toThrow(/no folder/);
    expect(() => writeNewFile(inner, 'b', true)).toThrow(/not a file/);
    expect(() => writeNewFile('/dev/null', 'b', true)).toThrow(/not a file/);
    expect(readdirSync(inner)).toEqual(['a.txt']);
  });

  it('keeps links, and the other names of a file', () => {
    const path = put('real.txt', 'old');
    const link = join(folder, 'link.txt');
    symlinkSync(path, link);
    linkSync(path, join(folder, 'twin.txt'));
    writeNewFile(link, 'new', true);
    expect(readFileSync(path, 'utf8')).toBe('new');
    expect(readFileSync(join(folder, 'twin.txt'), 'utf8')).toBe('old');
    expect(writeObstacle(link, false)).toMatch(/exists already/);
    expect(writeObstacle(join(folder, 'new.txt'), false)).toBeNull();
  });
});
