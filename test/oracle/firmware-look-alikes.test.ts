import { gzipSync } from 'node:zlib';
import { afterAll, describe, expect, it } from 'vitest';
import { detectEncodings } from '../../src/firmware/encodings/registry.js';
import { lookAlike } from '../../src/firmware/look-alike.js';
import { buildProgram, Workshop } from './firmware-tools.js';

const shop = new Workshop();
afterAll(() => shop.remove());

const what = (name: string): string | undefined => {
  const bytes = shop.read(name);
  return lookAlike(bytes, bytes.length)?.code;
};

describe('files made by the real tools', () => {
  buildProgram(shop, 'program', 0x08004000);

  it.each([
    ['zip', 'zip', ['zip', '-q', 'out.zip', 'program.bin'], 'out.zip'],
    ['7z', '7z', ['7z', 'a', '-bd', 'out.7z', 'program.bin'], 'out.7z'],
    ['xz', 'xz', ['xz', '-k', 'program.bin'], 'program.bin.xz'],
    ['bzip2', 'bzip2', ['bzip2', '-k', 'program.bin'], 'program.bin.bz2'],
    ['zstd', 'zstd', ['zstd', '-q', '-k', 'program.bin'], 'program.bin.zst'],
    ['tar', 'tar', ['tar', '-cf', 'out.tar', 'program.bin'], 'out.tar'],
    ['gzip', 'gzip', ['gzip', '-k', 'program.bin'], 'program.bin.gz'],
  ])('%s', (code, tool, [, ...options], name) => {
    shop.run(tool, ...options);
    expect(what(name)).toBe(code);
    const encodings = detectEncodings(shop.read(name)).map(({ encoding }) => encoding.id);
    expect(encodings).toEqual(code === 'gzip' ? ['packed-gzip'] : []);
  });

  it('the name that gzip stored and the size of what it packed are read', () => {
    const bytes = shop.read('program.bin.gz');
    const { details } = detectEncodings(bytes)[0]!.encoding.decode(bytes);
    expect(details).toEqual({
      kind: 'packed-gzip',
      name: 'program.bin',
      contentBytes: shop.read('program.bin').length,
    });
    const nameless = new Uint8Array(gzipSync('abc'));
    expect(detectEncodings(nameless)[0]!.encoding.decode(nameless).details).toMatchObject({
      name: null,
      contentBytes: 3,
    });
  });

  it.each([
    ['mkfs.fat', ['-C', 'fat.img', '2048'], 'fat.img'],
    ['mkfs.fat', ['-S', '4096', '-C', 'fat4k.img', '8192'], 'fat4k.img'],
    ['mkfs.exfat', ['exfat.img'], 'exfat.img'],
    ['sfdisk', ['-q', 'mbr.img'], 'mbr.img'],
  ])('an image of a card by %s', (tool, options, name) => {
    if (name === 'exfat.img' || name === 'mbr.img') shop.run('truncate', '-s', '8M', name);
    if (tool === 'sfdisk')
      shop.run('sh', '-c', `printf 'label: dos\\nstart=2048, type=c\\n' | sfdisk -q ${name}`);
    else shop.run(tool, ...options);
    const head = shop.read(name).subarray(0, 4096);
    expect(lookAlike(head, 8 * 1024 * 1024)?.code).toBe('card-image');
  });

  it.each(['elf', 'hex', 'srec', 'bin'])('a program as %s is none of them', (kind) => {
    expect(what(`program.${kind}`)).toBeUndefined();
  });
});
