import { describe, expect, test } from 'vitest';
import { ProfileError, readProfile } from '../../src/board/read.js';
import { linesOf, problemsOf, profileOf } from './profiles.js';

describe('form', () => {
  test('a wrong word is named with its place, what was expected and what is near', () => {
    expect(linesOf('loader:\n  partitioning: MBR\n')).toEqual([
      "6:17: loader.partitioning: expected a list of mbr, gpt, hybrid, none, or any; found 'MBR'; did you mean mbr?",
    ]);
    expect(linesOf('loader:\n  partitioning: [mbr, MBR]\n')).toEqual([
      "6:23: loader.partitioning[1]: expected mbr, gpt, hybrid or none; found 'MBR'; did you mean mbr?",
    ]);
  });

  test('the error names the file, and carries the parts', () => {
    try {
      readProfile('schema: flashworthy-board/1\nid: x\ntitle: X\nrevision: one\n', 'shed/board.yaml');
      expect.unreachable();
    } catch (error) {
      expect(error).toBeInstanceOf(ProfileError);
      if (!(error instanceof ProfileError)) return;
      expect(error.message).toBe(
        "shed/board.yaml:4:11: revision: expected a whole number of 1 or more; found 'one'",
      );
      expect(error.problems).toEqual([
        {
          file: 'shed/board.yaml',
          line: 4,
          column: 11,
          message: "revision: expected a whole number of 1 or more; found 'one'",
          expected: 'a whole number of 1 or more',
        },
      ]);
    }
  });

  test('an unknown key is an error at the key, with the nearest one', () => {
    expect(linesOf('loader:\n  fragmants: { max: 1 }\n')).toEqual([
      '6:3: loader.fragmants: there is no such key; did you mean fragments?',
    ]);
    expect(linesOf('loaders:\n  a:\n    erase: any\n')).toEqual([
      '7:5: loaders.a.erase: there is no such key; did you mean erases?',
    ]);
    expect(problemsOf('card: { colour: red }\n')[0]?.expected).toBe(
      'one of the keys otherFiles or maxEntries',
    );
  });

  test('a missing key is an error at the map that lacks it', () => {
    expect(linesOf('memory:\n  application:\n    start: 0x100\n')[0]).toBe(
      '7:5: memory.application.bytes: this key is missing; expected a size such as 512 or 28KiB',
    );
    expect(linesOf('id: x\n', false).map((line) => line.slice(0, 60))).toEqual([
      '1:1: schema: this key is missing; expected flashworthy-board',
      '1:1: title: this key is missing; expected text',
      '1:1: revision: this key is missing; expected a whole number ',
    ]);
  });

  test('versions are strings: a bare number says how to write it', () => {
    expect(linesOf('releases:\n  locks:\n    - { from: 1.10, because: x }\n')).toEqual([
      '7:15: releases.locks[0].from: expected a release in quotes such as "31"; found 1.10; put it in quotes: "1.10"',
    ]);
    expect(linesOf('axes:\n  - { id: a, ask: b, values: [10] }\n')[0]).toContain('put it in quotes: "10"');
    expect(
      linesOf(
        'axes:\n  - id: installed\n    ask: b\n  - id: loader\n    ask: c\n    from:\n      old: { installed: 31 }\n',
      )[0],
    ).toBe(
      '11:25: axes[1].from.old.installed: expected a range in quotes such as "31", "<31" or ">=20 <31", or a list of values in quotes; found 31; put it in quotes: "31"',
    );
  });

  test('a key with a bare number loses digits, so it is refused', () => {
    expect(linesOf('axes:\n  - id: loader\n    ask: b\n    from:\n      1.10: { installed: "3" }\n')).toEqual(
      ['9:7: the key 1.10 is no text: put it in quotes: "1.10"'],
    );
  });

  test('a key without a value, and a value of the wrong kind', () => {
    expect(linesOf('loader:\n')[0]).toMatch(
      /^5:8: loader: expected a map with partitioning, .*, or any; found nothing$/,
    );
    expect(linesOf('loader:\n  refusesDirty: "yes"\n')).toEqual([
      "6:17: loader.refusesDirty: expected true, false or any; found 'yes'",
    ]);
    expect(linesOf('supplies:\n  - { id: a, title: t, volts: 0, amps: 2 }\n')[0]).toContain(
      'expected a number above 0; found 0',
    );
  });

  test('several problems are told at once, in the order of the file', () => {
    expect(
      linesOf('loader:\n  erases: never\n  fragments: { max: 0 }\nupdate:\n  encoding: hex\n').map(
        (line) => line.split(':')[0],
      ),
    ).toEqual(['6', '7', '9']);
  });

  test('a newer schema is one clear error', () => {
    expect(linesOf('schema: flashworthy-board/2\nnews: 1\n', false)).toEqual([
      '1:9: schema: this profile is flashworthy-board/2; this version of flashworthy reads flashworthy-board/1. Get a newer flashworthy.',
    ]);
    expect(linesOf('schema: flashworthy-bord/1\nid: x\ntitle: X\nrevision: 1\n', false)[0]).toContain(
      'expected flashworthy-board/1',
    );
  });
});

describe('YAML', () => {
  test('duplicate keys, broken text and unknown tags are errors with their place', () => {
    expect(linesOf('loader: any\nloader: any\n')[0]).toMatch(/^6:1: /);
    expect(linesOf('loader: [\n')[0]).toMatch(/^\d+:\d+: /);
    expect(linesOf('cautions: !mine [hot]\n')[0]).toMatch(/^5:11: /);
    expect(linesOf('%YAML 1.1\n---\nid: x\n', false)[0]).toContain('expected YAML 1.2');
    expect(linesOf('id: x\n---\nid: y\n', false)[0]).toMatch(/^\d+:\d+: /);
    expect(linesOf('- a\n', false)[0]).toContain('expected a board profile');
    expect(linesOf('', false)[0]).toContain('expected a board profile');
  });

  test('aliases are refused, so no file can grow or turn in a circle', () => {
    expect(linesOf('update: &u\n  path: A.B\ncard: *u\n')[0]).toMatch(/^7:7: aliases/);
    expect(linesOf('others: &a [*a]\n')[0]).toContain('aliases');
  });

  test('a file that nests without end or is too large is an error, not a crash', () => {
    expect(linesOf(`update: ${'['.repeat(200_000)}\n`)[0]).toMatch(/^\d+:\d+: /);
    expect(linesOf(`update: ${'['.repeat(20_000)}${']'.repeat(20_000)}\n`)[0]).toContain(
      'the file nests lists or maps too deeply',
    );
    expect(linesOf(`title: ${'x'.repeat(5_000_000)}\n`, false)[0]).toContain('larger than');
  });

  test('a message cannot move the cursor of a terminal', () => {
    expect(linesOf('loader: { erases: "a\\e[2J" }\n')[0]).toContain("found 'a<U+001B>[2J'");
  });

  test('no key reaches the prototype of an object', () => {
    expect(linesOf('__proto__: { id: y }\n')[0]).toContain('there is no such key');
    expect(
      linesOf('axes:\n  - id: a\n    ask: b\n    from:\n      __proto__: { installed: "1" }\n')[0],
    ).toContain('as a key');
  });
});

describe('numbers', () => {
  test('sizes and addresses become numbers, trade sizes with their tolerance', () => {
    const profile = profileOf(`
memory:
  application: { start: 0x08007000, bytes: 28KiB }
  settings: [{ start: "0x08000000", bytes: 512 }]
loader:
  clusterBytes: [512, 4KiB]
  cardBytes: { max: 32GB }
  volumeBytes: { min: 16MiB, max: 2GiB }
  partitionTypes: [0x0B, "0x0C"]
update:
  bytes: { max: 1.5KiB }
  skipBytes: [{ for: { installed: "<2" }, skipBytes: 1KiB }, { skipBytes: 0 }]
`);
    expect(profile.memory.application).toEqual({ start: 0x08007000, bytes: 28_672 });
    expect(profile.memory.settings).toEqual([{ start: 0x08000000, bytes: 512 }]);
    expect(profile.loader.clusterBytes).toEqual([512, 4096]);
    expect(profile.loader.cardBytes).toEqual({ max: 32_640_000_000 });
    expect(profile.loader.volumeBytes).toEqual({ min: 16_777_216, max: 2_147_483_648 });
    expect(profile.loader.partitionTypes).toEqual([0x0b, 0x0c]);
    expect(profile.update.bytes).toEqual({ max: 1536 });
    expect(profile.update.skipBytes).toEqual([
      { for: { installed: '<2' }, skipBytes: 1024 },
      { skipBytes: 0 },
    ]);
  });

  test('slips in sizes and addresses are found', () => {
    expect(linesOf('memory:\n  application: { start: 8007000, bytes: 28KiB }\n')).toEqual([
      '6:25: memory.application.start: expected a hexadecimal number such as 0x0C; found 8007000',
    ]);
    expect(linesOf('loader:\n  clusterBytes: [4KB]\n')[0]).toContain("found '4KB'");
    expect(linesOf('loader:\n  volumeBytes: { max: 32GB }\n')[0]).toContain("found '32GB'");
    expect(linesOf('loader:\n  clusterBytes: [0.3B]\n')).toEqual([
      "6:18: loader.clusterBytes[0]: '0.3B' is no whole number of bytes",
    ]);
  });

  test('any in place of a map stands for each of its keys; a single word for a list of one', () => {
    const profile = profileOf(
      'loader: any\nreleases: any\nbuilds: [{ id: a, title: A, kind: both, files: [F.BIN] }]\nwhenUnsure: a\n',
    );
    expect(profile.loader.erases).toBe('any');
    expect(profile.loader.fileSystems).toBe('any');
    expect(profile.releases.locks).toBe('any');
    expect(profile.update).toEqual({});
    expect(profile.whenUnsure).toEqual(['a']);
  });

  test('locate gives the place of a key', () => {
    const { locate } = readProfile(
      'schema: flashworthy-board/1\nid: x\ntitle: X\nrevision: 1\nloader:\n  fileSystems: [FAT16, FAT32]\n',
      'b',
    );
    expect(locate(['loader', 'fileSystems', 1])).toEqual({ line: 6, column: 24 });
    expect(locate(['loader', 'erases'])).toEqual({ line: 6, column: 3 });
  });
});

describe('sense', () => {
  const axes =
    'axes:\n  - { id: installed, ask: a, numbering: integer }\n  - { id: chip, ask: b, values: [one, two] }\n';
  const build = (more: string) =>
    `${axes}builds:\n  - { id: a, title: A, kind: both, files: [A.BIN], ${more} }\n`;

  test('a condition names a question that exists, and answers that it can have', () => {
    expect(linesOf(build('for: { chap: one }'))).toEqual([
      '9:59: builds[0].for.chap: there is no such question in axes; did you mean chip?',
    ]);
    expect(linesOf(build('for: { chip: three }'))).toEqual([
      "9:65: builds[0].for.chip: the question chip has no answer 'three'; expected one or two",
    ]);
    expect(linesOf(build('for: { installed: "<1.2" }'))).toEqual([
      "9:70: builds[0].for.installed: '1.2' is no whole number",
    ]);
    expect(linesOf(build('for: { chip: "<two" }'))[0]).toContain('have no order');
  });

  test('loader generations are answers of the question loader', () => {
    expect(linesOf('loaders:\n  old: { erases: any }\n')[0]).toContain('add loader to axes');
    expect(
      linesOf('axes:\n  - { id: loader, ask: a, values: [old, new] }\nloaders:\n  odl: { erases: any }\n'),
    ).toEqual(['8:3: loaders.odl: the question loader has no such answer; did you mean old?']);
    expect(
      linesOf('axes:\n  - { id: loader, ask: a, values: [old], from: { new: { installed: "1" } } }\n')[0],
    ).toContain("'new' is not among the values");
    expect(
      linesOf(
        'axes:\n  - { id: a, ask: a, from: { x: { b: y } } }\n  - { id: b, ask: b, from: { y: { a: x } } }\n',
      )[0],
    ).toContain('follows from another question itself');
  });

  test('ids are unique and names refer to something', () => {
    expect(
      linesOf(
        'supplies:\n  - { id: a, title: A, volts: 1, amps: 1 }\n  - { id: a, title: B, volts: 2, amps: 1 }\n',
      ),
    ).toEqual(['7:11: supplies[1].id: there are two of the name a']);
    expect(linesOf('builds: any\nwhenUnsure: small\n')[0]).toContain("there is no build 'small'");
    expect(linesOf(build('heaters: { together: [[bed]] }'))[0]).toContain("there is no load 'bed'");
    expect(linesOf('basis: { loader.clusterByte: seen }\n')).toEqual([
      '5:10: basis.loader.clusterByte: there is no such key; did you mean loader.clusterBytes?',
    ]);
  });

  test('areas of memory lie apart, unless they are for different machines', () => {
    const area = (name: string, start: string) => `  ${name}: { start: ${start}, bytes: 4KiB }\n`;
    expect(linesOf(`memory:\n${area('loader', '0x0')}${area('application', '0xFFF')}`)).toEqual([
      '7:16: memory.application: overlaps memory.loader: 0xfff to 0x1ffe and 0x0 to 0xfff',
    ]);
    expect(profileOf(`memory:\n${area('loader', '0x0')}${area('application', '0x1000')}`).id).toBe('x');
    const byAxis = (second: string) =>
      `${axes}memory:\n  loader: [{ for: { chip: one }, start: 0x0, bytes: 4KiB }]\n  application: [{ for: { chip: ${second} }, start: 0x0, bytes: 4KiB }]\n`;
    expect(profileOf(byAxis('two')).id).toBe('x');
    expect(linesOf(byAxis('one'))[0]).toContain('overlaps memory.loader');
  });

  test('one way to name the update file, and paths that stay on the card', () => {
    expect(linesOf('update: { path: A.BIN, names: [B.BIN] }\n')[0]).toContain(
      'only one of path, names and match',
    );
    for (const path of ['/A.BIN', '..\\A.BIN', 'A/../../B', 'A//B', 'E:/A.BIN'])
      expect(linesOf(`update: { path: '${path}' }\n`)[0], path).toContain('is no path such as');
    expect(linesOf('builds: [{ id: a, title: A, kind: both, files: [../A.BIN] }]\n')[0]).toContain(
      'is no path',
    );
    expect(linesOf('update: { match: { glob: "*.A", contains: b } }\n')[0]).toContain(
      'expected one of glob and contains',
    );
    expect(linesOf('companions: [{ role: asset, required: true }]\n')[0]).toContain(
      'expected one of path and glob',
    );
  });

  test('limits, loads and releases make sense', () => {
    expect(linesOf('loader: { volumeBytes: { min: 2GiB, max: 1GiB } }\n')[0]).toContain('is above max');
    expect(linesOf('loads: [{ id: a, watts: 1, amps: 1 }]\n')[0]).toContain(
      'expected one of watts, amps and ohms',
    );
    expect(linesOf('loads: [{ id: a, ohms: 1, material: copper }]\n')[0]).toContain('at is missing');
    expect(linesOf('releases: { numbering: integer, locks: [{ from: "1.2", because: b }] }\n')[0]).toContain(
      'no whole number',
    );
    expect(
      linesOf('releases: { numbering: dotted, steps: [{ from: "<", to: "2", via: "1" }] }\n')[0],
    ).toContain('no dotted number');
    expect(linesOf(`${axes}releases: { numbering: dotted }\n`)[0]).toContain('releases.numbering is dotted');
  });
});
