/** Cards and release folders are judged by the same engine, each by its own rules. */
import { type Keystone, keystones, type RuleSet, releaseKeystones } from './rule.js';

/** What a run judges: a card (or the files that are meant for one), or a release folder. */
export type RuleSubject = 'card' | 'release';

/** What a rule of this id is about. The group says it, so that no rule is ever judged over facts that are not its own. */
export const subjectOf = (rule: string): RuleSubject => (rule.startsWith('release/') ? 'release' : 'card');

/** The rules about one subject. */
export const rulesAbout = (subject: RuleSubject, ruleSet: RuleSet): RuleSet => ({
  ...ruleSet,
  rules: ruleSet.rules.filter(({ id }) => subjectOf(id) === subject),
});

/** What must all hold for one subject. */
export const keystonesOf = (subject: RuleSubject): readonly Keystone[] =>
  subject === 'release' ? releaseKeystones : keystones;
