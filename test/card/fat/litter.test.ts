import { describe, expect, it } from 'vitest';
import { litterOf } from '../../../src/card/litter.js';

describe('by-products of computers', () => {
  it.each([
    ['System Volume Information', 'desktop-index'],
    ['.Spotlight-V100', 'desktop-index'],
    ['.fseventsd', 'desktop-index'],
    ['.TemporaryItems', 'desktop-index'],
    ['$RECYCLE.BIN', 'trash'],
    ['RECYCLER', 'trash'],
    ['.Trashes', 'trash'],
    ['.Trash-1000', 'trash'],
    ['._update.bin', 'resource-fork'],
    ['Thumbs.db', 'thumbnail'],
    ['.DS_Store', 'folder-settings'],
    ['desktop.ini', 'folder-settings'],
    ['.directory', 'folder-settings'],
    ['FOUND.000', 'recovered'],
    ['FSCK0000.REC', 'recovered'],
    ['LOST.DIR', 'recovered'],
    ['update.bin', 'none'],
    ['FOUND.bin', 'none'],
    ['constructor', 'none'],
    ['__proto__', 'none'],
  ])('%s is %s', (name, kind) => {
    expect(litterOf(name)).toBe(kind);
  });
});
