import { readFileSync } from 'node:fs';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { loadRule, loadRuleSet, RuleError, type RuleProblem, runCases } from '../../src/rules/load.js';
import { keystones, releaseKeystones } from '../../src/rules/rule.js';
import { smallRule, soundRule, soundRuleWith } from './rule-text.js';

/** All problems of a rule file. */
function problemsOf(text: string): readonly RuleProblem[] {
  try {
    loadRule(text, 'rule.yaml');
  } catch (error) {
    if (error instanceof RuleError) return error.problems;
    throw error;
  }
  return [];
}

/** Line and column, from 1, of a stretch of a text. */
function placeOf(text: string, stretch: string, nth = 0): { line: number; column: number } {
  let at = text.indexOf(stretch);
  for (let index = 0; index < nth; index++) at = text.indexOf(stretch, at + 1);
  expect(at).toBeGreaterThanOrEqual(0);
  const lines = text.slice(0, at).split('\n');
  return { line: lines.length, column: lines.at(-1)!.length + 1 };
}

/** The only problem of the sound rule after one change; its place is that of `at` in the changed text. */
function problemAfter(found: string, put: string, at: string, nth = 0): RuleProblem {
  const text = soundRuleWith(found, put);
  const problems = problemsOf(text);
  expect(problems).toHaveLength(1);
  const { line, column } = problems[0]!;
  expect({ line, column }).toEqual(placeOf(text, at, nth));
  return problems[0]!;
}

const sound = 'volume.clusterBytes in board.loader.clusterBytes\n';
const must = (expression: string): string => `${expression}\n`;

describe('a sound rule', () => {
  test('becomes plain data', () => {
    const { cases, ...rule } = loadRule(soundRule, 'rule.yaml');
    expect(JSON.parse(JSON.stringify(rule))).toEqual(rule);
    expect(rule).toMatchObject({
      id: 'volume/cluster-size',
      hazard: [
        { if: ['==', ['fact', 'board.loader.erases'], ['value', 'before-reading']], is: 'unbootable' },
        { is: 'ignored' },
      ],
      keystone: null,
      after: [],
      when: ['call', 'present', [['fact', 'volume.clusterBytes']]],
      must: ['in', ['fact', 'volume.clusterBytes'], ['fact', 'board.loader.clusterBytes']],
      each: null,
      // The schema says that the fact counts bytes, so the choice prints as sizes.
      needed: [{ expression: ['call', 'sizesText', [['fact', 'board.loader.clusterBytes']]] }],
      touches: ['board.loader.clusterBytes', 'volume.clusterBytes'],
    });
    expect(cases).toHaveLength(4);
    expect(runCases({ cases, ...rule }, 'rule.yaml')).toEqual([]);
  });

  test('passes the published schema, and what the schema refuses the loader refuses', () => {
    const schema = JSON.parse(
      readFileSync(new URL('../../src/rules/schema/rule.schema.json', import.meta.url), 'utf8'),
    );
    const validate = new Ajv2020({ strict: false }).compile(schema);
    const passes = (text: string): boolean => validate(parse(text, { logLevel: 'silent' }));
    expect(passes(soundRule)).toBe(true);
    for (const [found, put] of [
      ['keystone: false', 'keystone: yes'],
      ['title: Cluster', 'titel: Cluster'],
      ['is: ignored', 'is: harmless'],
      ['rights: none', 'rights: administrator'],
      ['id: volume/', 'id: Volume '],
      ['    mend: { volume.clusterBytes: 4096 }\n', ''],
      ['expect: unknown', 'expect: waived'],
      ['practice: "common practice, no published source"', 'section: "3"'],
    ] as const) {
      const text = soundRuleWith(found, put);
      expect([put, passes(text), problemsOf(text).length > 0]).toEqual([put, false, true]);
    }
  });

  test('each, show, provided, settledBy', () => {
    const rule = loadRule(
      smallRule(
        'file/a',
        'item.bytes > 0',
        `hazard: advice
each: |-
  files
show: "{quote(item.path)}"
provided:
  - text: always
  - { if: target.kind == "folder", text: "eject {quote(target.path)}" }
settledBy: |-
  media.history == "fresh"`,
      ),
      'rule.yaml',
    );
    expect(rule.each).toEqual(['fact', 'files']);
    expect(rule.must).toEqual(['>', ['field', ['variable', 'item'], 'bytes'], ['value', 0]]);
    expect(rule.provided.map((each) => each.if === undefined)).toEqual([true, false]);
    expect(rule.settledBy).toEqual(['==', ['fact', 'media.history'], ['value', 'fresh']]);
  });
});

describe('places of problems', () => {
  test('on a later line of a literal block', () => {
    const text = soundRuleWith(sound, 'present(volume.label)\n\n    && volume.fatCount == "two"\n');
    const [problem] = problemsOf(text);
    expect(problem).toMatchObject({ file: 'rule.yaml', ...placeOf(text, 'volume.fatCount == "two"') });
    expect(problem!.message).toContain('no such overload: int == string');
  });

  test('in a literal block with CRLF line ends', () => {
    const text = soundRuleWith(sound, 'present(volume.label)\n  && volume.fatCoun == 2\n').replaceAll(
      '\n',
      '\r\n',
    );
    expect(problemsOf(text)).toEqual([
      {
        file: 'rule.yaml',
        ...placeOf(text, 'volume.fatCoun =='),
        message: 'there is no fact volume.fatCoun',
        expected: 'volume.fatCount',
      },
    ]);
  });

  test('several in one expression and in several keys, all told', () => {
    const text = soundRuleWith(sound, 'volume.fatCoun == 2 && media.byts == 3\n').replace(
      'id: volume',
      'id: Volume',
    );
    expect(problemsOf(text).map(({ line, column }) => ({ line, column }))).toEqual([
      placeOf(text, 'Volume/'),
      placeOf(text, 'volume.fatCoun'),
      placeOf(text, 'media.byts'),
    ]);
  });

  test('in texts: double quotes with escapes, single quotes, plain, block', () => {
    problemAfter('found: "{sizeText', 'found: "a\\t\\"b\\" {sizetext', 'sizetext(');
    problemAfter(
      'found: "{sizeText(volume.clusterBytes)} clusters"',
      "found: 'it''s {volume.label + 1}'",
      'volume.label + 1',
    );
    problemAfter('why: The loader', 'why: The {volume.labl} loader', 'volume.labl');
    problemAfter('why: The loader', 'why: |-\n  The first line\n  the {volume.labl}', 'volume.labl');
  });

  test('in guards', () => {
    problemAfter(
      'if: board.loader.erases == "before-reading"',
      'if: board.loader.erases == "at-once"',
      '"at-once"',
    );
  });

  test('the error itself stands for the first', () => {
    const text = soundRuleWith('keystone: false', 'keystone: none');
    try {
      loadRule(text, 'x/y.yaml');
      expect.unreachable();
    } catch (error) {
      expect(error).toBeInstanceOf(RuleError);
      expect((error as RuleError).message).toBe(
        `x/y.yaml:4:11: keystone is "none"; expected one of ${keystones.join(', ')}`,
      );
      expect(error).toMatchObject({ file: 'x/y.yaml', line: 4, column: 11 });
    }
  });
});

describe('refused in expressions', () => {
  test.each([
    ['has(volume.label)', 'has('],
    ['updateFile.name.matches("(a+)+$")', 'updateFile.name.matches'],
    ['files.map(f, f.bytes) == [1]', 'files.map'],
    ['files.filter(f, f.bytes > 1) == []', 'files.filter'],
    ['files.exists_one(f, f.bytes > 1)', 'files.exists_one'],
    ['cel.bind(x, 1, x == 1)', 'cel.bind'],
    ['dyn(volume.fatCount) == 2', 'dyn('],
    ['int(volume.label) == 2', 'int('],
    ['string(volume.fatCount) == "2"', 'string('],
    ['timestamp("2020-01-01T00:00:00Z") == timestamp("")', 'timestamp('],
    ['type(volume.fatCount) == type(1)', 'type('],
    ['{"a": 1} == {"a": 1}', '{"a": 1}'],
    ['volume.fatCount == null', 'null'],
    ['volume.fatCount == 2u', '2u'],
    ['b"a" == b"a"', 'b"a" =='],
    ['volume.fatCount == 9007199254740993', '9007199254740993'],
    ['volume.?label == "a"', '?label'],
    ['[1][?0] == 1', '?0'],
    ['files.size() == 1', 'files.size'],
    ['nonsense(1) == 1', 'nonsense('],
    ['files.all(f, updateFile.candidates.exists(c, c == f.path))', 'updateFile.candidates'],
    ['files.all(volume, volume.bytes > 0)', 'volume, '],
    ['item.bytes > 0', 'item.bytes'],
    ['present(volume)', 'volume)'],
    ['present(1)', '1)'],
    ['files.bytes > 0', 'files.bytes'],
    ['volume.label.x == 1', 'volume.label.x'],
    ['files[0]["bytes"] == 1', 'files[0]["bytes"]'],
    ['files == files', 'files =='],
    ['board.loader.clusterBytes == [512]', 'board.loader.clusterBytes =='],
    ['files[0] in files', 'files[0] in'],
    ['partition.type > 3', 'partition.type >'],
    ['partition.type + 3 == 3', 'partition.type +'],
    ['lower(partition.type) == "a"', 'partition.type)'],
    ['(partition.found ? partition.type : 3) < 4', 'partition.found ?'],
    ['volume.fatCount', 'volume.fatCount'],
    ['files.all(f, f.bytes)', 'bytes)'],
    ['volume.fatCount == 2 &&', ''],
    ['volume.fatCount = 2', '= 2'],
    ['true < false', 'true <'],
    ['board.update.checks + ["x"] == []', 'board.update.checks +'],
  ])('%s', (expression, at) => {
    const problems = problemsOf(soundRuleWith(sound, must(expression)));
    const text = soundRuleWith(sound, must(expression));
    expect(problems.length).toBeGreaterThan(0);
    const line = placeOf(text, expression).line;
    const columns = problems.map((problem) => [problem.line, problem.column]);
    if (at !== '') expect(columns).toContainEqual([line, 3 + expression.indexOf(at)]);
    else expect(problems[0]!.line).toBe(line);
    for (const problem of problems) {
      expect(problem.expected).not.toBe('');
      expect(problem.message).not.toMatch(/\$|record_/);
    }
  });

  test('words outside a vocabulary, on either side, in lists, in fields and loop variables', () => {
    for (const [expression, at] of [
      ['volume.fileSystem == "Fat32"', '"Fat32"'],
      ['"Fat32" != volume.fileSystem', '"Fat32"'],
      ['volume.fileSystem in ["FAT16", "FAT23"]', '"FAT23"'],
      ['"FAT23" in board.loader.fileSystems', '"FAT23"'],
      ['volume.fileSystem == (partition.found ? "FAT32" : "FAT23")', '"FAT23"'],
      ['files.all(f, f.litter == "rubbish")', '"rubbish"'],
      ['board.loader.fileSystems.exists(s, s == "FAT23")', '"FAT23"'],
      ['board.loader.fileSystems[0] == "FAT23"', '"FAT23"'],
    ] as const) {
      const problem = problemAfter(sound, must(expression), at);
      expect(problem.expected).toMatch(/^one of /);
    }
    expect(problemAfter(sound, must('target.kind == volume.fileSystem'), 'target.kind').message).toContain(
      'in common',
    );
    expect(problemAfter(sound, must('volume.fileSystem == "FAT23"'), '"FAT23"').message).toContain(
      'did you mean',
    );
  });

  test('iteration inside a rule with each', () => {
    const text = smallRule(
      'file/a',
      'files.exists(f, f.path == item.path)',
      'hazard: ignored\neach: |-\n  files\nshow: x',
    );
    expect(problemsOf(text).map((problem) => problem.message)).toEqual([
      'exists inside a rule with each would look at every pair of items',
    ]);
  });

  test('an expression that is too long or too deep is refused and does not crash', () => {
    for (const expression of [
      `${'!'.repeat(3900)}partition.found`,
      Array.from({ length: 200 }, () => 'partition.found').join('&&'),
      `${'('.repeat(300)}true${')'.repeat(300)}`,
      `${'x'.repeat(5000)}`,
    ])
      expect(problemsOf(soundRuleWith(sound, must(expression))).length).toBeGreaterThan(0);
  });
});

describe('what YAML would change silently', () => {
  test('an expression outside a literal block', () => {
    for (const put of ['must: partition.found #', 'must: "partition.found"', 'must: >-\n  partition.found']) {
      const text = soundRuleWith(`must: |-\n  ${sound}`, `${put}\n`);
      const [problem, ...rest] = problemsOf(text);
      expect(rest).toEqual([]);
      expect(problem).toMatchObject(placeOf(text, put.slice(6)));
      expect(problem!.message).toContain('drops what follows " #"');
      expect(problem!.expected).toContain('|-');
    }
  });

  test('a leading ! and a comment in a guard', () => {
    const tagged = problemsOf(
      soundRuleWith('if: board.loader.erases == "before-reading"', 'if: !partition.found'),
    );
    expect(tagged[0]!.message).toContain('Unresolved tag');
    const text = soundRuleWith(
      'hazard: [{ if: board.loader.erases == "before-reading", is: unbootable }, { is: ignored }]',
      'hazard:\n  - if: partition.found # && partition.pastEnd\n    is: unbootable\n  - is: ignored',
    );
    expect(problemsOf(text)[0]!.message).toContain('YAML took whole');
  });

  test('any warning, duplicate keys, aliases, several documents', () => {
    expect(problemsOf(soundRuleWith('title: Cluster', 'title: !x Cluster'))[0]).toMatchObject({
      line: 2,
      column: 8,
    });
    expect(problemsOf(soundRuleWith('keystone: false', 'title: again'))[0]!.message).toContain('unique');
    expect(problemsOf(soundRuleWith('title: Cluster', 'title: &a Cluster'))[0]!.message).toContain('anchor');
    expect(problemsOf(`${soundRule}---\na: 1\n`).length).toBeGreaterThan(0);
    for (const text of ['', '- 1', 'a: [', '['.repeat(100_000)])
      expect(problemsOf(text).length).toBeGreaterThan(0);
  });
});

describe('keys', () => {
  test.each([
    ['title: Cluster', 'titel: Cluster', 'titel'],
    ['id: volume/cluster-size', 'id: cluster-size', 'cluster-size'],
    ['{ is: ignored }', '{ is: harmless }', 'harmless'],
    ['{ is: ignored }]', '{ if: partition.found, is: ignored }]', 'if: partition.found'],
    ['if: board.loader.erases == "before-reading", is', 'is', '{ is: unbootable }'],
    ['keystone: false', 'keystone: true', 'true'],
    ['keystone: false', 'after: volume/file-system', 'volume/file-system'],
    ['keystone: false', 'show: "x"', 'show: "x"'],
    ['keystone: false', 'each: |-\n  files', 'each'],
    ['rights: none', 'rights: administrator', '- { system'],
    ['erases: true', 'erases: "yes"', '"yes"'],
    ['system: any', 'system: beos', 'beos'],
    ['where: volume.clusterBytes', 'where: volume.clusterByte', 'volume.clusterByte\n'],
    ['catalogue: ["2.7"]', 'catalogue: [2.7]', '2.7]'],
    ['remedy:\n  - {', 'remedy: format-card\nsources_:\n  - {', 'format-card'],
    ['    mend: { volume.clusterBytes: 4096 }\n', '', 'name: too large'],
    ['expect: unknown', 'expect: unknown\n    mend: {}', 'mend: {}'],
    ['name: not seen', 'name: too large', 'too large\n    facts: { board'],
    ['found: "{sizeText', 'found: "} {sizeText', '} {'],
    ['found: "{sizeText(volume.clusterBytes)}', 'found: "{sizeText(volume.clusterBytes)', '{sizeText'],
    [
      'found: "{sizeText(volume.clusterBytes)}',
      'found: "{board.loader.clusterBytes}',
      'board.loader.clusterBytes}',
    ],
  ])('%s -> %s', (found, put, at) => {
    const text = soundRuleWith(found, put);
    const places = problemsOf(text).map(({ line, column }) => ({ line, column }));
    expect(places).toContainEqual(placeOf(text, at));
  });

  test('every required key', () => {
    for (const key of ['id', 'title', 'must', 'needed', 'why', 'sources', 'cases']) {
      const text = soundRule.replace(new RegExp(`^${key}:.*\n(?:[ ].*\n)*`, 'm'), '');
      expect(problemsOf(text).map((problem) => problem.message)).toContain(`the rule has no ${key}`);
    }
  });
});

describe('facts of cases', () => {
  const facts = 'facts: { volume.clusterBytes: 4096, board.loader.clusterBytes: [4096] }';
  test.each([
    ['volume.clusterByte: 4096', 'volume.clusterByte', 'there is no fact volume.clusterByte'],
    ['volume.clusterBytes: "4096"', '"4096"', 'volume.clusterBytes is of type int'],
    ['volume.clusterBytes: 1.5', '1.5', 'volume.clusterBytes is of type int'],
    ['volume.label: 1.10', '1.10', 'volume.label is of type string'],
    ['volume.fileSystem: FAT23', 'FAT23', '"FAT23" is not a word of volume.fileSystem'],
    ['board.loader.fileSystems: [FAT23]', 'FAT23', '"FAT23" is not a word of board.loader.fileSystems[]'],
    ['board.loader.fileSystems: FAT32', 'FAT32', 'board.loader.fileSystems is not a list'],
    ['files: [{ path: a, byts: 1 }]', 'byts', 'unknown key byts in files[]'],
    ['files: [{ bytes: a }]', 'a }]', 'files[].bytes is of type int'],
    ['files: [7]', '7', 'files[] is not a map'],
    ['volume: 7', '7', 'volume is not a map'],
    ['volume.label: !unseen broken', 'broken', 'broken is no cause'],
    ['volume.label: !absent x', 'x }', '!absent takes no word'],
    ['volume.fatCount: 2, volume: { fatCount: 2 }', 'fatCount: 2 }', 'volume.fatCount is given twice'],
    ['volume.fatCount: 9007199254740993', '9007199254740993', 'volume.fatCount is of type int'],
  ])('%s', (put, at, message) => {
    const text = soundRuleWith(facts, `facts: { ${put} }`);
    const problem = problemsOf(text).find((each) => each.message === message);
    const from = text.indexOf(put);
    const place = placeOf(text, text.slice(from + put.lastIndexOf(at.replace(/ \}$/, ''))));
    expect(problem).toMatchObject(place);
  });

  test('are read with their tags', () => {
    const { cases } = loadRule(
      soundRuleWith(
        facts,
        `facts:
      volume: !absent
      partition: { type: "EBD0", found: true }
      media.history: !unseen not-told
      files: !incomplete
        - { path: A, bytes: !absent }
        - !unseen damaged
      board.loader: { clusterBytes: !incomplete [512], fileSystems: [FAT32, !unseen ] }
      power.peakWatts: 3`,
      ),
      'rule.yaml',
    );
    expect(cases[0]!.facts.map(({ path, group }) => [path, group])).toEqual([
      ['volume', true],
      ['partition.type', false],
      ['partition.found', false],
      ['media.history', false],
      ['files', false],
      ['board.loader.clusterBytes', false],
      ['board.loader.fileSystems', false],
      ['power.peakWatts', false],
    ]);
    expect(cases[0]!.facts[4]!.value).toMatchObject({
      incomplete: { cause: 'not-visible' },
      items: [{ path: 'A', bytes: { text: 'files[].bytes does not exist' } }, { cause: 'damaged' }],
    });
    expect(cases[0]!.facts[3]!.value).toMatchObject({ cause: 'not-told' });
  });
});

describe('cases', () => {
  const run = (text: string): string[] =>
    runCases(loadRule(text, 'rule.yaml'), 'rule.yaml').map(
      ({ line, column, message }) => `${line}:${column} ${message}`,
    );

  test('that do not come out are told with their place', () => {
    const wrong = soundRuleWith('expect: unknown', 'expect: holds');
    const { line } = placeOf(wrong, 'name: not seen');
    expect(run(wrong)).toEqual([
      `${line}:5 case "not seen": the rule gives unknown, for lack of volume.clusterBytes`,
    ]);
    expect(run(soundRuleWith('hazard: unbootable', 'hazard: ignored'))[0]).toContain(
      'the hazard is unbootable',
    );
    expect(
      run(soundRuleWith('mend: { volume.clusterBytes: 4096 }', 'mend: { volume.clusterBytes: 8192 }'))[0],
    ).toContain('with its mend the rule gives failed');
    expect(
      run(soundRuleWith('mend: { volume.clusterBytes: 4096 }', 'mend: { volume: !absent }'))[0],
    ).toContain('with its mend the rule gives not-applicable');
  });

  test('settledBy wants a case that only it makes hold', () => {
    const settled = soundRuleWith('keystone: false', 'settledBy: |-\n  media.history == "fresh"');
    expect(run(settled)).toEqual(['1:1 no case shows what settledBy of volume/cluster-size settles']);
    expect(
      run(
        `${settled}  - { name: fresh, facts: { board.loader.clusterBytes: [4096], media.history: fresh }, expect: holds }\n`,
      ),
    ).toEqual([]);
  });
});

describe('a set of rules', () => {
  const cases = `cases:
  - { name: a, facts: { partition.found: false }, expect: failed, mend: { partition.found: true } }
  - { name: b, facts: { partition.found: true }, expect: holds }`;
  const rule = (id: string, more: string) => ({
    name: `${id}.yaml`,
    text: smallRule(id, 'partition.found', more).replace(/^cases:\n.*\n.*/m, cases),
  });
  const carriers = keystones.map((keystone) =>
    rule(`key/${keystone}`, `hazard: ignored\nkeystone: ${keystone}`),
  );
  const messages = (files: { name: string; text: string }[]): string[] => {
    try {
      loadRuleSet(files, '1', 'f'.repeat(64));
      return [];
    } catch (error) {
      if (error instanceof RuleError)
        return error.problems.map((problem) => `${problem.file}: ${problem.message}`);
      throw error;
    }
  };

  test('that is sound is plain data without cases', () => {
    const set = loadRuleSet(
      [...carriers, rule('a/b', 'hazard: ignored\nafter: [key/encoding]')],
      '1.2',
      'ab',
    );
    expect(set).toMatchObject({ version: '1.2', sha256: 'ab' });
    expect(set.rules).toHaveLength(9);
    expect(JSON.parse(JSON.stringify(set))).toEqual(set);
    expect(Object.keys(set.rules[0]!)).not.toContain('cases');
  });

  test('path and id, ids that stand twice or do not exist, circles, keystones', () => {
    expect(messages([...carriers, { ...rule('a/b', 'hazard: ignored'), name: 'a/c.yaml' }])).toEqual([
      'a/c.yaml: the file of the rule a/b is called a/c.yaml',
    ]);
    expect(messages([...carriers, carriers[0]!])[0]).toContain('stands in key/medium-read.yaml already');
    expect(messages([...carriers, rule('a/b', 'hazard: ignored\nafter: [key/encodin]')])).toEqual([
      'a/b.yaml: a/b comes after key/encodin, which does not exist',
    ]);
    expect(
      messages([
        ...carriers,
        rule('a/a', 'hazard: ignored\nafter: [a/b]'),
        rule('a/b', 'hazard: ignored\nafter: [a/c]'),
        rule('a/c', 'hazard: ignored\nafter: [a/a]'),
      ]),
    ).toEqual(['a/a.yaml: rules come after one another in a circle: a/a after a/b after a/c after a/a']);
    expect(messages([...carriers, rule('a/b', 'hazard: ignored\nafter: [a/b]')])[0]).toContain('circle');
    expect(messages(carriers.slice(1))).toEqual(['the rules: no rule carries the keystone medium-read']);
    expect(messages([])).toHaveLength(keystones.length);
  });

  test('rules about releases: keystones of their own, and none after a rule that is never judged with them', () => {
    const sealed = releaseKeystones.map((keystone) =>
      rule(`release/${keystone}`, `hazard: ignored\nkeystone: ${keystone}`),
    );
    expect(messages([...carriers, ...sealed])).toEqual([]);
    expect(messages([...carriers, ...sealed.slice(1)])).toEqual([
      'the rules: no rule carries the keystone folder-read',
    ]);
    expect(
      messages([...carriers, ...sealed, rule('release/b', 'hazard: ignored\nafter: [key/encoding]')]),
    ).toEqual(['release/b.yaml: release/b comes after key/encoding, with which it is never judged']);
    expect(
      messages([...carriers, ...sealed, rule('a/b', 'hazard: ignored\nafter: [release/folder-read]')]),
    ).toEqual(['a/b.yaml: a/b comes after release/folder-read, with which it is never judged']);
    expect(
      messages([...carriers, ...sealed, rule('release/b', 'hazard: ignored\nkeystone: encoding')])[0],
    ).toBe('release/b.yaml: keystone is "encoding"');
    expect(messages([...carriers, ...sealed, rule('a/b', 'hazard: ignored\nkeystone: folder-read')])[0]).toBe(
      'a/b.yaml: keystone is "folder-read"',
    );
  });

  test('all problems of all files at once, and cases that do not come out', () => {
    const broken = { name: 'a/b.yaml', text: 'id: 7' };
    const found = messages([...carriers, broken, { name: 'a/c.yaml', text: '[' }]);
    expect(found.some((each) => each.startsWith('a/b.yaml'))).toBe(true);
    expect(found.some((each) => each.startsWith('a/c.yaml'))).toBe(true);
    const wrong = { ...carriers[0]!, text: carriers[0]!.text.replace('expect: holds', 'expect: unknown') };
    expect(messages([...carriers.slice(1), wrong, rule('a/b', 'hazard: ignored')]).join()).toContain(
      'no case expects holds',
    );
    const failing = {
      ...carriers[0]!,
      text: `${carriers[0]!.text}  - x\n`
        .replace(cases, `${cases}\n  - { name: c, facts: {}, expect: holds }`)
        .replace('  - x\n', ''),
    };
    expect(messages([...carriers.slice(1), failing])).toEqual([
      'key/medium-read.yaml: case "c": the rule gives unknown, for lack of partition.found',
    ]);
  });

  test('shared steps', () => {
    const steps = {
      name: 'remedies.yaml',
      text: 'start-again:\n  - { system: any, rights: none, erases: true, do: "format {quote(target.path)}" }\n',
    };
    const text = smallRule('a/b', 'partition.found')
      .replace(/^remedy:.*/m, 'remedy: start-again')
      .replace(/^cases:\n.*\n.*/m, cases);
    const named = { name: 'a/b.yaml', text };
    const set = loadRuleSet(
      [named, steps, ...carriers, { name: 'processors.yaml', text: '- not a rule' }],
      '1',
      '',
    );
    expect(set.rules[0]!.remedy).toEqual([
      {
        system: 'any',
        rights: 'none',
        erases: true,
        do: ['format ', { expression: ['call', 'quote', [['fact', 'target.path']]] }],
      },
    ]);
    expect(messages([named, ...carriers])).toEqual([
      'a/b.yaml: there are no shared steps called start-again',
    ]);
    expect(messages([{ ...steps, text: 'a:\n  - { system: any }\n' }, ...carriers])[0]).toContain(
      'remedies.yaml',
    );
  });
});
