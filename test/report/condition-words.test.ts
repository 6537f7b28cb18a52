import { describe, expect, it } from 'vitest';
import { conditionWords } from '../../src/report/condition-words.js';
import { compileCondition } from '../../src/rules/compile.js';

const words = (source: string): string | null => conditionWords(compileCondition(source));

describe('conditions in plain words', () => {
  it.each([
    [
      'board.loader.erases == "after-checks" || board.loader.erases == "never-blank"',
      'the boot loader erases the old program only after it has checked the new one, or the boot loader never leaves the board without a program',
    ],
    ['board.update.checks.exists(c, c == "nothing")', 'the boot loader checks nothing'],
    [
      'board.loader.fileSystems.exists(f, f == "FAT32")',
      'file systems that the loader reads includes "FAT32"',
    ],
    [
      'board.loader.erases != "before-reading" && "vectors" in board.update.checks',
      'the boot loader does not erase the old program before it has read the new one, and it looks at the first words of the program before it starts it',
    ],
    ['board.loader.refusesDirty', 'the loader refuses a volume with a dirty mark'],
    ['volume.fatCount == 2', 'copies of the FAT is 2'],
    ['volume.fatCount != 2', 'copies of the FAT is not 2'],
    ['!media.wholeRead', null],
    ['!target.changed', null],
    ['!board.coreComplete', null],
    ['!present(volume.label)', 'volume label is not known'],
    [
      'board.loader.erases == "after-checks" && !("nothing" in board.update.checks)',
      'the boot loader erases the old program only after it has checked the new one, and it checks something before it starts the new program',
    ],
    [
      'board.update.checks.exists(c, c in ["checksum", "signature"])',
      'it compares the checksum of the file or it verifies the signature of the file',
    ],
    [
      '(volume.fatCount == 1 || volume.fatCount == 2) && present(board.update.checks) && board.update.checks.exists(c, c == "checksum" || c == "vectors")',
      'either copies of the FAT is 1, or copies of the FAT is 2, and it compares the checksum of the file or it looks at the first words of the program before it starts it',
    ],
    ['"nothing" in board.update.checks', 'the boot loader checks nothing'],
    [
      'present(board.card.otherFiles) && board.card.otherFiles == "forbidden"',
      'the board wants nothing else on the card',
    ],
    ['present(volume.label)', 'volume label is known'],
    [
      'companions.exists(c, c.required && !c.found)',
      'this is so for one of the files that the profile wants beside the update file on this machine: the flash needs it, and it is not there',
    ],
  ])('%s', (source, expected) => expect(words(source)).toBe(expected));

  it('are left out where the condition says more than they could', () => {
    for (const source of [
      'size(files) > 3',
      '!(board.update.encoding == "raw" && media.wholeRead)',
      'files.all(f, f.bytes > 0)',
      'volume.fileSystem in board.loader.fileSystems',
    ])
      expect(words(source)).toBeNull();
  });
});
