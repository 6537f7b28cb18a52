import { describe, expect, test } from 'vitest';
import { Absent, FactList, type FactValue, Unseen, type UnseenCause } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import { factSchema } from '../../src/facts/schema.js';
import type { Finding } from '../../src/report/report.js';
import { compileCondition, compileExpression, compileTemplate } from '../../src/rules/compile.js';
import { type JudgeOptions, judge } from '../../src/rules/judge.js';
import { type Hazard, keystones, type Rule, type RuleSet } from '../../src/rules/rule.js';
import { verdict } from '../../src/rules/verdict.js';

function storeOf(facts: Record<string, FactValue> = {}): FactStore {
  const store = new FactStore();
  for (const [path, value] of Object.entries(facts)) store.set(path, value);
  return store;
}

/** A rule that only has what a test gives it. */
function rule(id: string, must: string, more: Partial<Rule> = {}): Rule {
  return {
    id,
    title: `Title of ${id}`,
    hazard: [{ is: 'ignored' }],
    keystone: null,
    after: [],
    when: null,
    must: compileCondition(must),
    each: null,
    show: null,
    settledBy: null,
    provided: [],
    found: ['found'],
    needed: ['needed'],
    why: ['why'],
    remedy: [],
    where: null,
    sources: [{ practice: 'none' }],
    catalogue: [],
    touches: [],
    ...more,
  };
}

const setOf = (...rules: Rule[]): RuleSet => ({ version: '1', sha256: '', rules });
const is = (hazard: Hazard): Pick<Rule, 'hazard'> => ({ hazard: [{ is: hazard }] });

function findingOf(one: Rule, facts: Record<string, FactValue> = {}, options: JudgeOptions = {}): Finding {
  return judge(storeOf(facts), setOf(one), options).findings[0]!;
}

const unseen = (cause: UnseenCause): Unseen => new Unseen(cause, `because ${cause}`);

describe('the outcome of a rule', () => {
  // The table "Outcome of a rule" of the contract: rows are `when`, columns are `must`.
  const facts: Record<string, FactValue> = { 'partition.found': true, 'partition.pastEnd': false };
  const [T, F, U] = ['partition.found', 'partition.pastEnd', 'partition.overlaps'];
  test.each([
    [T, T, 'holds'],
    [T, F, 'failed'],
    [T, U, 'unknown'],
    [U, T, 'holds'],
    [U, F, 'unknown'],
    [U, U, 'unknown'],
    [F, T, 'not-applicable'],
    [F, F, 'not-applicable'],
    [F, U, 'not-applicable'],
  ] as const)('when %s, must %s: %s', (when, must, expected) => {
    expect(findingOf(rule('a/a', must!, { when: compileCondition(when!) }), facts).outcome).toBe(expected);
  });

  test('unknown names what is missing, of when and of must, each path once for each cause', () => {
    const one = rule('a/a', 'volume.fatCount == 2 && volume.fatCount > 0', {
      when: compileCondition('partition.overlaps'),
    });
    const finding = findingOf(one, {
      'volume.fatCount': new Unseen('damaged', 'unreadable', 'another reader'),
    });
    expect(finding.missing).toEqual([
      { fact: 'partition.overlaps', cause: 'not-visible', text: 'this was not looked at' },
      { fact: 'volume.fatCount', cause: 'damaged', text: 'unreadable', settle: 'another reader' },
    ]);
  });

  test('a forgotten guard on an absent fact is unknown, with what is known of it', () => {
    const finding = findingOf(rule('a/a', 'volume.label != "X"'), {
      'volume.label': new Absent('it has no label'),
    });
    expect(finding.outcome).toBe('unknown');
    expect(finding.missing).toEqual([
      { fact: 'volume.label', cause: 'not-visible', text: 'it has no label' },
    ]);
  });
});

describe('each', () => {
  const each = compileExpression('files');
  const one = rule('file/sizes', 'true', {
    each: each.expression,
    must: compileCondition('item.bytes > 0', each.items),
    show: compileTemplate('{quote(item.path)}', each.items),
  });
  const file = (path: string, bytes: FactValue): FactValue => ({ path, bytes });

  test('fails with the offenders when one item fails, even when another is unseen', () => {
    const files = new FactList(
      [file('A', 1), file('B', 0), file('C', unseen('damaged')), file('D\n', 0)],
      unseen('damaged'),
    );
    const finding = findingOf(one, { files });
    expect(finding).toMatchObject({ outcome: 'failed', shown: ['"B"', '"D<U+000A>"'], total: 2 });
    expect(finding.missing).toBeUndefined();
  });

  test('offenders are capped and counted', () => {
    const files = new FactList(Array.from({ length: 70 }, (_, index) => file(`F${index}`, 0)));
    const finding = findingOf(one, { files });
    expect([finding.shown?.length, finding.total]).toEqual([50, 70]);
  });

  test.each([
    ['every item', new FactList([file('A', 1)]), 'holds'],
    ['no item', new FactList([]), 'holds'],
    ['an unseen size', new FactList([file('A', 1), file('B', unseen('damaged'))]), 'unknown'],
    ['an unseen item', new FactList([unseen('damaged')]), 'unknown'],
    ['an incomplete list', new FactList([file('A', 1)], unseen('over-limit')), 'unknown'],
    ['an unseen list', unseen('no-permission'), 'unknown'],
  ])('%s', (_name, files, expected) => {
    expect(findingOf(one, { files }).outcome).toBe(expected);
  });
});

describe('hazards', () => {
  const guarded = rule('a/a', 'false', {
    hazard: [
      { if: compileCondition('board.loader.erases == "before-reading"'), is: 'unbootable' },
      { if: compileCondition('volume.fatCount == 1'), is: 'unsafe' },
      { is: 'ignored' },
    ],
  });
  test('the first true guard decides, the last entry otherwise', () => {
    const of = (facts: Record<string, FactValue>) => findingOf(guarded, facts).hazard;
    expect(of({ 'board.loader.erases': 'before-reading' })).toBe('unbootable');
    expect(of({ 'board.loader.erases': 'after-checks', 'volume.fatCount': 1 })).toBe('unsafe');
    expect(of({ 'board.loader.erases': 'after-checks', 'volume.fatCount': 2 })).toBe('ignored');
  });
  test('a guard that cannot be decided counts as the worst of the list', () => {
    expect(findingOf(guarded, { 'volume.fatCount': 2 }).hazard).toBe('unsafe');
    expect(findingOf(guarded, { 'board.loader.erases': 'after-checks' }).hazard).toBe('unsafe');
  });
});

describe('after', () => {
  const set = setOf(
    rule('c/last', 'true', { after: ['b/middle'] }),
    rule('b/middle', 'true', { after: ['a/first'] }),
    rule('a/first', 'partition.found'),
  );
  const outcomesOf = (rules: RuleSet, facts: Record<string, FactValue>, options: JudgeOptions = {}) =>
    Object.fromEntries(
      judge(storeOf(facts), rules, options).findings.map((each) => [each.rule, each.outcome]),
    );

  test('a failed rule makes the next one not applicable and says so', () => {
    const { findings } = judge(storeOf({ 'partition.found': false }), set);
    expect(findings.map((each) => [each.rule, each.outcome, each.because])).toEqual([
      ['a/first', 'failed', undefined],
      ['c/last', 'holds', undefined],
      ['b/middle', 'not-applicable', 'Title of a/first (a/first) failed'],
    ]);
  });

  test('an unknown, waived or holding rule does not', () => {
    expect(outcomesOf(set, {})['b/middle']).toBe('holds');
    expect(outcomesOf(set, { 'partition.found': true })['b/middle']).toBe('holds');
    const waivers = [{ rule: 'a/first', because: 'we know' }];
    expect(outcomesOf(set, { 'partition.found': false }, { waivers })).toMatchObject({
      'a/first': 'waived',
      'b/middle': 'holds',
    });
  });

  test('a failure that is only advice hides no rule that would refuse', () => {
    const rules = setOf(
      rule('a/advice', 'false', is('advice')),
      rule('b/real', 'false', { after: ['a/advice'] }),
      rule('c/advice', 'false', { after: ['a/advice'], ...is('advice') }),
    );
    expect(outcomesOf(rules, {})).toEqual({
      'a/advice': 'failed',
      'b/real': 'failed',
      'c/advice': 'not-applicable',
    });
  });

  test('a circle or a rule that does not exist is our own fault', () => {
    const circle = setOf(rule('a/a', 'true', { after: ['a/b'] }), rule('a/b', 'true', { after: ['a/a'] }));
    expect(() => judge(storeOf(), circle)).toThrow(/circle/);
    expect(() => judge(storeOf(), setOf(rule('a/a', 'true', { after: ['a/x'] })))).toThrow(/does not exist/);
  });
});

describe('settledBy', () => {
  const settled = (more: Partial<Rule> = {}): Rule =>
    rule('a/a', 'updateFile.fragments == 1', {
      settledBy: compileCondition('media.history == "fresh"'),
      ...more,
    });
  const facts = (fragments: FactValue): Record<string, FactValue> => ({
    'media.history': 'fresh',
    'updateFile.fragments': fragments,
  });

  test("turns unknown into holds, with the owner's word as the reason", () => {
    const store = storeOf();
    store.set('media.history', 'fresh', { origin: 'stated' });
    store.set('updateFile.fragments', unseen('not-visible'));
    const [finding] = judge(store, setOf(settled())).findings;
    expect(finding).toMatchObject({
      outcome: 'holds',
      because: 'could not be seen, and is settled because media.history is "fresh" (the owner\'s word)',
    });
    expect(finding!.missing).toBeUndefined();
  });

  test('never a failure', () => {
    expect(findingOf(settled(), facts(2)).outcome).toBe('failed');
  });

  test('only when it is true', () => {
    const lost = unseen('not-visible');
    expect(findingOf(settled(), { ...facts(lost), 'media.history': 'used' }).outcome).toBe('unknown');
    expect(findingOf(settled(), { ...facts(lost), 'media.history': unseen('not-told') }).outcome).toBe(
      'unknown',
    );
  });

  test.each([
    ['not-visible', 'holds', 'holds'],
    ['no-permission', 'holds', 'unknown'],
    ['damaged', 'unknown', 'unknown'],
    ['over-limit', 'unknown', 'unknown'],
    ['not-told', 'unknown', 'unknown'],
    ['profile-silent', 'unknown', 'unknown'],
    ['not-built-yet', 'unknown', 'unknown'],
  ] as const)('%s: %s, and in a keystone %s', (cause, plain, keystone) => {
    expect(findingOf(settled(), facts(unseen(cause))).outcome).toBe(plain);
    expect(findingOf(settled({ keystone: 'encoding' }), facts(unseen(cause))).outcome).toBe(keystone);
  });

  test('never an absent fact or an impossible value', () => {
    expect(findingOf(settled(), facts(new Absent('gone'))).outcome).toBe('unknown');
    const divided = settled({ must: compileCondition('4 / updateFile.fragments == 1') });
    expect(findingOf(divided, facts(0)).outcome).toBe('unknown');
  });

  test('never when a second fact is missing for another reason', () => {
    const two = settled({
      must: compileCondition('updateFile.fragments <= board.loader.fragments.max'),
    });
    const store = { ...facts(unseen('not-visible')), 'board.loader.fragments.max': unseen('profile-silent') };
    expect(findingOf(two, store).outcome).toBe('unknown');
  });
});

describe('waivers', () => {
  const waiver = { rule: 'a/a', because: 'the owner of the profile accepts it' };
  const failing = (more: Partial<Rule> = {}): Rule => rule('a/a', 'false', more);
  const judged = (one: Rule, options: JudgeOptions, facts: Record<string, FactValue> = {}) => {
    const { findings, waivers } = judge(storeOf(facts), setOf(one), options);
    return [findings[0]!.outcome, waivers[0]?.used, waivers[0]?.unused];
  };

  test('turn failed into waived, with the reason', () => {
    expect(judged(failing(), { waivers: [waiver] })).toEqual(['waived', true, undefined]);
    expect(findingOf(failing(), {}, { waivers: [waiver] }).because).toBe(waiver.because);
  });

  test('turn nothing else into anything', () => {
    expect(judged(rule('a/a', 'partition.found'), { waivers: [waiver] })).toEqual([
      'unknown',
      false,
      'the rule did not fail',
    ]);
    expect(judged(rule('a/a', 'true'), { waivers: [waiver] })[0]).toBe('holds');
    expect(judged(rule('a/b', 'false'), { waivers: [waiver] })).toEqual([
      'failed',
      false,
      'there is no such rule',
    ]);
  });

  test('never a keystone, never unsafe, not even by a guard that cannot be decided', () => {
    expect(judged(failing({ keystone: 'encoding' }), { waivers: [waiver] })[0]).toBe('failed');
    expect(judged(failing(is('unsafe')), { waivers: [waiver] })[0]).toBe('failed');
    const maybe = failing({
      hazard: [{ if: compileCondition('partition.found'), is: 'unsafe' }, { is: 'ignored' }],
    });
    expect(judged(maybe, { waivers: [waiver] })).toEqual(['failed', false, 'the hazard is unsafe']);
    expect(judged(maybe, { waivers: [waiver] }, { 'partition.found': false })[0]).toBe('waived');
  });

  test('are switched off by useWaivers: false', () => {
    expect(judged(failing(), { waivers: [waiver], useWaivers: false })[0]).toBe('failed');
  });

  test('hold only where `only` is true, and until their release', () => {
    const only = { ...waiver, only: compileCondition('partition.found') };
    expect(judged(failing(), { waivers: [only] })[0]).toBe('failed');
    expect(judged(failing(), { waivers: [only] }, { 'partition.found': false })[0]).toBe('failed');
    expect(judged(failing(), { waivers: [only] }, { 'partition.found': true })[0]).toBe('waived');
    const until = { ...waiver, until: '31' };
    expect(judged(failing(), { waivers: [until], isPast: () => false })[0]).toBe('waived');
    expect(judged(failing(), { waivers: [until], isPast: () => true })[0]).toBe('failed');
    expect(judged(failing(), { waivers: [until], isPast: () => undefined })[0]).toBe('failed');
    expect(judged(failing(), { waivers: [until] })).toEqual([
      'failed',
      false,
      'it was meant until release 31',
    ]);
  });

  test('the second one for a rule is used when the first does not apply', () => {
    const waivers = [{ ...waiver, only: compileCondition('partition.found') }, waiver];
    const result = judge(storeOf(), setOf(failing()), { waivers });
    expect(result.findings[0]!.outcome).toBe('waived');
    expect(result.waivers.map((each) => each.used)).toEqual([false, true]);
  });
});

describe('the judgement as a whole', () => {
  test('findings stand in their order, whatever the order of the rules', () => {
    const rules = [
      rule('z/holds', 'true'),
      rule('y/ignored', 'false'),
      rule('x/unsafe', 'false', is('unsafe')),
      rule('w/advice', 'false', is('advice')),
      rule('v/unknown', 'partition.found'),
      rule('u/waived', 'false'),
      rule('t/never', 'false', { when: compileCondition('false') }),
      rule('s/ignored', 'false'),
      rule('r/unknown', 'partition.found', is('unsafe')),
    ];
    const options = { waivers: [{ rule: 'u/waived', because: 'so' }] };
    const expected = [
      'x/unsafe',
      's/ignored',
      'y/ignored',
      'w/advice',
      'r/unknown',
      'v/unknown',
      'u/waived',
      'z/holds',
      't/never',
    ];
    for (const order of [rules, rules.toReversed()]) {
      const { findings, counts } = judge(storeOf(), setOf(...order), options);
      expect(findings.map((each) => each.rule)).toEqual(expected);
      expect(counts).toEqual({ holds: 1, failed: 4, unknown: 2, notApplicable: 1, waived: 1 });
    }
  });

  test('texts are filled in, and the place is that of the fact', () => {
    const store = storeOf();
    store.set('volume.clusterBytes', 4096, { where: { offset: 1048589, length: 1 } });
    const one = rule('a/a', 'false', {
      found: compileTemplate('{sizeText(volume.clusterBytes)}'),
      remedy: [
        {
          system: 'any',
          rights: 'none',
          erases: true,
          do: compileTemplate('not {volume.clusterBytes}, {volume.label}'),
        },
      ],
      where: 'volume.clusterBytes',
      keystone: 'volume-found',
    });
    expect(judge(store, setOf(one)).findings[0]).toEqual({
      rule: 'a/a',
      outcome: 'failed',
      hazard: 'ignored',
      keystone: 'volume-found',
      title: 'Title of a/a',
      found: '4 KiB',
      needed: 'needed',
      why: 'why',
      remedy: [{ system: 'any', rights: 'none', erases: true, do: 'not 4096, (not seen)' }],
      where: { offset: 1048589, length: 1 },
      sources: [{ practice: 'none' }],
    });
  });

  test('provisos: a guard decides, an undecided one is said, none is said unless the rule is not applicable', () => {
    const guard = compileCondition('target.kind == "folder"');
    const said = (facts: Record<string, FactValue>, when = 'true'): string[] =>
      judge(
        storeOf(facts),
        setOf(
          rule('b/b', 'true', {
            provided: [{ if: guard, text: ['eject'] }, { text: ['always'] }],
            when: compileCondition(when),
          }),
          rule('a/a', 'true', { provided: [{ text: ['always'] }, { text: ['first'] }] }),
        ),
        { provisos: [{ id: 'core', text: 'from outside' }] },
      ).provided.map((each) => `${each.id}: ${each.text}`);
    expect(said({ 'target.kind': 'folder' })).toEqual([
      'core: from outside',
      'a/a: always',
      'a/a: first',
      'b/b: eject',
    ]);
    expect(said({ 'target.kind': 'image' })).toEqual(['core: from outside', 'a/a: always', 'a/a: first']);
    expect(said({})).toContain('b/b: eject');
    expect(said({ 'target.kind': 'folder' }, 'false')).toContain('b/b: eject');
  });

  test('something wrong with the facts themselves throws', () => {
    expect(() => findingOf(rule('a/a', 'partition.found'), { 'partition.found': 3 })).toThrow();
  });
});

describe('the verdict', () => {
  const carriers = keystones.map((keystone) => rule(`key/${keystone}`, 'partition.found', { keystone }));
  const verdictOf = (rules: Rule[], facts: Record<string, FactValue>, options: JudgeOptions = {}) =>
    verdict(judge(storeOf(facts), setOf(...rules), options).findings, rules);
  const good = { 'partition.found': true };

  test('fit when nothing failed, nothing is unknown and every keystone holds', () => {
    expect(verdictOf(carriers, good)).toEqual({ verdict: 'fit', hazard: null, keystonesMissing: [] });
  });

  test('refused with the worst hazard when a rule failed, whatever is unknown', () => {
    const more = [
      rule('a/a', 'false'),
      rule('a/b', 'false', is('unbootable')),
      rule('a/c', 'media.reinserted'),
    ];
    expect(verdictOf([...carriers, ...more], good)).toEqual({
      verdict: 'refused',
      hazard: 'unbootable',
      keystonesMissing: [],
    });
  });

  test('not proven when a rule is unknown', () => {
    expect(verdictOf([...carriers, rule('a/c', 'media.reinserted')], good)).toEqual({
      verdict: 'not-proven',
      hazard: null,
      keystonesMissing: [],
    });
  });

  test('advice never counts, failed or unknown', () => {
    const advice = [rule('a/a', 'false', is('advice')), rule('a/b', 'media.reinserted', is('advice'))];
    expect(verdictOf([...carriers, ...advice], good).verdict).toBe('fit');
  });

  test('not even when a guard decided on it; undecided, the worse word counts', () => {
    const guarded = rule('a/a', 'false', {
      hazard: [{ if: compileCondition('media.reinserted'), is: 'advice' }, { is: 'ignored' }],
    });
    expect(verdictOf([...carriers, guarded], { ...good, 'media.reinserted': true }).verdict).toBe('fit');
    expect(verdictOf([...carriers, guarded], good).verdict).toBe('refused');
  });

  test('a waived rule lets the verdict be fit', () => {
    const waivers = [{ rule: 'a/a', because: 'so' }];
    expect(verdictOf([...carriers, rule('a/a', 'false')], good, { waivers }).verdict).toBe('fit');
  });

  test.each(keystones)('not proven without the keystone %s: not carried, or not applicable', (keystone) => {
    const others = carriers.filter((each) => each.keystone !== keystone);
    const missing = { verdict: 'not-proven', hazard: null, keystonesMissing: [keystone] };
    expect(verdictOf(others, good)).toEqual(missing);
    const idle = rule(`key/${keystone}`, 'true', { keystone, when: compileCondition('false') });
    expect(verdictOf([...others, idle], good)).toEqual(missing);
    // One that holds does not make up for another of the same name that does not apply.
    expect(verdictOf([...carriers, { ...idle, id: 'key/second' }], good)).toEqual(missing);
    // Nor does one whose own fault counts only as advice.
    expect(verdictOf([...others, { ...rule('key/x', 'false', is('advice')), keystone }], good)).toEqual(
      missing,
    );
  });

  test('a keystone whose finding got lost does not hold', () => {
    const { findings } = judge(storeOf(good), setOf(...carriers));
    expect(verdict(findings.slice(1), carriers).verdict).toBe('not-proven');
    expect(verdict([], carriers).keystonesMissing).toEqual([...keystones]);
  });
});

describe('never fit', () => {
  const each = compileExpression('files');
  const rules = [
    ...keystones.map((keystone, index) =>
      rule(`key/${keystone}`, 'true', {
        keystone,
        must: compileCondition(
          [
            'media.wholeRead',
            'partition.found',
            'updateFile.whole',
            'image.encoding == board.update.encoding',
          ][index] ?? 'image.isKnownBuild',
        ),
      }),
    ),
    rule('file/sizes', 'true', {
      each: each.expression,
      must: compileCondition('item.bytes > 0', each.items),
    }),
    rule('volume/label', 'volume.label == "X"', { when: compileCondition('present(volume.label)') }),
  ];

  test('with no rules', () => {
    const full = storeOf({ 'partition.found': true });
    expect(verdict(judge(full, setOf()).findings, [])).toEqual({
      verdict: 'not-proven',
      hazard: null,
      keystonesMissing: [...keystones],
    });
  });

  test.each(['not-visible', 'no-permission', 'damaged', 'over-limit', 'not-told', 'profile-silent'] as const)(
    'with every fact unseen: %s',
    (cause) => {
      const store = new FactStore();
      for (const path of Object.keys(factSchema)) store.set(path, unseen(cause));
      expect(verdict(judge(store, setOf(...rules)).findings, rules).verdict).toBe('not-proven');
    },
  );

  test('with an empty store, with every fact absent, and with every list empty', () => {
    const absent = new FactStore();
    const empty = new FactStore();
    for (const [path, { type }] of Object.entries(factSchema)) {
      absent.set(path, new Absent('nothing there'));
      if (type.startsWith('list')) empty.set(path, new FactList([]));
    }
    for (const store of [new FactStore(), absent, empty])
      expect(verdict(judge(store, setOf(...rules)).findings, rules).verdict).toBe('not-proven');
  });
});
