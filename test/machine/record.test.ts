import { describe, expect, test } from 'vitest';
import { machineFromRecord, RecordError, readRecord } from '../../src/machine/record.js';
import { sample } from '../board/profiles.js';

const tansy = sample('tansy');
const clinker = sample('clinker');
const read = (text: string, profile = tansy) => readRecord(text, 'mine.yaml', profile);

/** `line:column message` of every problem. */
function problemsOf(text: string, profile = tansy): string[] {
  try {
    read(text, profile);
  } catch (error) {
    if (!(error instanceof RecordError)) throw error;
    return error.problems.map(({ line, column, message }) => `${line}:${column} ${message}`);
  }
  return [];
}

const whole = `schema: flashworthy-machine/1
board: tansy
revision: 7
supply: 24V/6.5A
installed: "30"
loader: newer
lastFileName: TANSY.LKF
identity: { LK_RELEASE: "30", LK_BOARD: tansy }
settings:
  - { word: M92, letter: X, value: 80, unit: steps/mm, line: "echo:  M92 X80.00" }
capture:
  - "echo:  M92 X80.00"
  - ok
`;

describe('a machine record', () => {
  test('says what the options of the command line would say', () => {
    const { machine, problems } = machineFromRecord(read(whole), {}, tansy);
    expect(problems).toEqual([]);
    expect(machine).toEqual({
      board: 'tansy',
      supply: { id: 'small', volts: 24, amps: 6.5 },
      installed: '30',
      answers: { loader: 'newer' },
      lastFileName: 'TANSY.LKF',
      settingsNoted: 1,
    });
  });

  test('gives way to the options of the command line, each by itself', () => {
    const { machine } = machineFromRecord(read(whole), { supply: 'large', sets: { loader: 'older' } }, tansy);
    expect(machine).toMatchObject({
      supply: { id: 'large' },
      installed: '30',
      answers: { loader: 'older' },
    });
  });

  test('what ran last is forgotten when the owner says that something runs', () => {
    const text = 'schema: flashworthy-machine/1\nboard: tansy\nunsure: true\nnone: true\nwas: "17"\n';
    expect(machineFromRecord(read(text), {}, tansy).machine).toMatchObject({
      supplyUnsure: true,
      nothingInstalled: true,
      was: '17',
    });
    const { machine, problems } = machineFromRecord(read(text), { installed: '31' }, tansy);
    expect(problems).toEqual([]);
    expect(machine.installed).toBe('31');
    expect(machine.was).toBeUndefined();
    expect(machine.nothingInstalled).toBeUndefined();
  });

  test('answers the further questions of the board under their own names', () => {
    const text = 'schema: flashworthy-machine/1\nboard: clinker\nboardRevision: C\nmade: "2025-07-01"\n';
    expect(machineFromRecord(read(text, clinker), {}, clinker).machine.answers).toEqual({
      boardRevision: 'C',
      made: '2025-07-01',
    });
  });

  const head = 'schema: flashworthy-machine/1\nboard: tansy\n';
  test.each([
    [
      'another board',
      'schema: flashworthy-machine/1\nboard: burr\n',
      /^2:8 board: this record is for the board burr/,
    ],
    ['a release that is no text', `${head}installed: 30\n`, /^3:12 installed: .*put it in quotes: "30"/],
    [
      'a key that nobody knows',
      `${head}instaled: "30"\n`,
      /^3:1 instaled: there is no such key.*did you mean installed\?/,
    ],
    [
      'an unknown key with a number',
      `${head}suply: 24\n`,
      /^3:1 suply: there is no such key.*did you mean supply\?/,
    ],
    ['no answer of the question', `${head}loader: newest\n`, /^3:9 loader: 'newest' is no answer/],
    ['no supply', `${head}supply: 24 volts\n`, /^3:9 supply: '24 volts' is no supply/],
    ['the supply twice', `${head}supply: small\nunsure: true\n`, /^4:1 unsure: supply stands here already/],
    ['what runs twice', `${head}installed: "30"\nnone: true\n`, /^4:1 none: installed stands here already/],
    [
      'what ran last beside what runs',
      `${head}installed: "30"\nwas: "29"\n`,
      /^4:6 was: it goes with none: true/,
    ],
    ['no release of this board', `${head}installed: "1.2"\n`, /^3:12 installed: '1\.2' is no whole number/],
    [
      'a newer format',
      'schema: flashworthy-machine/2\nboard: tansy\n',
      /^1:9 schema: .*Get a newer flashworthy/,
    ],
    ['no schema', 'board: tansy\n', /^1:1 schema: this key is missing/],
    ['a list', '- a\n', /^1:1 expected a machine record/],
    [
      'a setting without its line',
      `${head}settings: [{ word: M92, letter: X, value: 1 }]\n`,
      /^3:12 settings\[0\]\.line: this key is missing/,
    ],
  ])('%s is told with its place', (_name, text, expected) => {
    const problems = problemsOf(text);
    expect(problems).toHaveLength(1);
    expect(problems[0]).toMatch(expected);
  });

  test('a board without loader generations has no such question', () => {
    expect(problemsOf('schema: flashworthy-machine/1\nboard: clinker\nloader: newer\n', clinker)).toEqual([
      expect.stringMatching(/^3:1 loader: there is no such key/),
    ]);
  });

  test('deep nesting ends in a problem', () => {
    expect(problemsOf(`${head}identity: ${'['.repeat(20000)}`)[0]).toMatch(/too deeply|flow/i);
  });
});
