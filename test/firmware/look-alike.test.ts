import { describe, expect, it } from 'vitest';
import { lookAlike } from '../../src/firmware/look-alike.js';

const ascii = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0));
const code = (bytes: Uint8Array, size = bytes.length): string | null => lookAlike(bytes, size)?.code ?? null;
const filled = (length: number, value: number): Uint8Array => new Uint8Array(length).fill(value);

describe('look-alikes', () => {
  // WHATWG MIME Sniffing, "Identifying a resource with an unknown MIME type".
  it.each([
    ['<!DOCTYPE html><html>', 'web-page'],
    ['\n\t <HTML lang="en">', 'web-page'],
    ['<!-- saved from -->', 'web-page'],
    ['<h1>404</h1>', 'web-page'],
    ['\xef\xbb\xbf<html>', 'web-page'],
    ['<?xml version="1.0"?><a/>', 'xml'],
    ['<htmlx>', 'text'],
    ['%PDF-1.7\n%\x80\x80', 'pdf'],
    ['{"message": "Not Found"}', 'json'],
    ['[1, 2]', 'json'],
    ['[section]\nkey=value\n', 'text'],
    ['#!/bin/sh\n', 'script'],
    ['G28 X Y\nM104 S200\n', 'text'],
    ['GIF89a\x01\x00', 'picture'],
    ['\x89PNG\r\n\x1a\n', 'picture'],
    ['\xff\xd8\xff\xe0\x00\x10JFIF', 'picture'],
    ['Rar!\x1a\x07\x00', 'rar'],
    ['Rar!\x1a\x07\x01\x00', 'rar'],
    ['PK\x05\x06', 'zip'],
  ])('%j is %s', (text, what) => expect(code(ascii(text))).toBe(what));

  // Git LFS specification, "The Pointer".
  it('a Git LFS pointer', () => {
    const pointer =
      'version https://git-lfs.github.com/spec/v1\n' +
      'oid sha256:4d7a214614ab2935c943f9e0ff69d22eadbb8f32b1258daaa5e2ca24d17e2393\nsize 12345\n';
    expect(code(ascii(pointer))).toBe('lfs-pointer');
    expect(lookAlike(ascii(pointer), pointer.length)?.what).toContain('Git LFS pointer');
  });

  it('blank flash, told apart from a blank head', () => {
    expect(code(filled(0, 0))).toBe('empty');
    expect(code(filled(1000, 0xff))).toBe('all-ones');
    expect(code(filled(1000, 0x00))).toBe('all-zero');
    const head = filled(1000, 0x00);
    head[64] = 1;
    expect(code(head)).toBe('blank-head');
    head[63] = 1;
    expect(code(head)).toBeNull();
    // Of a file that is not whole here, only the head is known to be blank.
    expect(code(filled(512, 0xff), 2000)).toBe('blank-head');
  });

  it('a BMP picture and a Windows program want more than two letters', () => {
    const bmp = filled(70, 3);
    bmp.set([0x42, 0x4d, 70, 0, 0, 0, 0, 0, 0, 0]);
    expect(code(bmp)).toBe('picture');
    bmp[2] = 71;
    expect(code(bmp)).toBeNull();
    const exe = filled(300, 3);
    exe.set([0x4d, 0x5a]);
    exe.set([0x80, 0, 0, 0], 60);
    expect(code(exe)).toBe('windows-program');
    exe[61] = 0x80;
    expect(code(exe)).toBeNull();
  });

  it('text in two-byte characters', () => {
    expect(code(ascii('\xff\xfe<\0h\0t\0m\0l\0>\0'))).toBe('web-page');
    expect(code(ascii('\xff\xfeG\x002\x008\0'))).toBe('text');
  });

  it('records and programs are no look-alikes', () => {
    expect(code(ascii(':020000040800F2\n'))).toBeNull();
    expect(code(ascii('S9030000FC\n'))).toBeNull();
    expect(code(Uint8Array.from([0x00, 0x50, 0x00, 0x20, 0x41, 0x01, 0x00, 0x08]))).toBeNull();
  });
});
