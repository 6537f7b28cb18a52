import type { Profile, Said } from '../board/profile.js';
import { decimalDifference } from './decimal.js';
import type { RecordedSetting } from './record.js';
import { keyedSettings, repeatedWords } from './setting-keys.js';

/** One number of the machine before and after. */
export interface SettingChange {
  /** `M92 X`, or `M301 E0 P` where a word stands on several lines. */
  readonly key: string;
  /** Null: it was not there. */
  readonly before: number | null;
  readonly after: number | null;
  /** After less before; null where one of them lacks, or where their units differ. */
  readonly difference: number | null;
  /** Null: not known. */
  readonly unit: string | null;
  /**
   * `same`; `differs`; `gone`: the release has no such number any more; `new`: it had none before; `other-unit`: the
   * two reports are in different units, so that the numbers cannot be compared.
   */
  readonly state: 'same' | 'differs' | 'gone' | 'new' | 'other-unit';
  /** What the profile says of its word: it carries over, it is dropped, or nothing. */
  readonly word: 'carries-over' | 'dropped' | 'not-said';
  /** The word by which the new release knows it; null when that is the same one. */
  readonly renamedTo: string | null;
  /** Line of the record in which it stood; null for a new one. */
  readonly line: string | null;
}

/**
 * Every setting before and after, in the order of the record, then the new ones. A word that the profile renames is
 * compared with its new name.
 */
export function compareSettings(
  before: readonly RecordedSetting[],
  after: readonly RecordedSetting[],
  { settings }: Pick<Profile, 'settings'>,
): SettingChange[] {
  const renamed = mapOf(settings.renamed);
  const repeated = repeatedWords(before, after);
  const newKey = (word: string, key: string): string =>
    Object.hasOwn(renamed, word) ? `${renamed[word]}${key.slice(word.length)}` : key;
  const found = new Map(
    keyedSettings(after, repeated)
      .filter(({ isIndex }) => !isIndex)
      .map(({ key, setting }) => [key, setting]),
  );
  const met = new Set<string>();
  const changes = keyedSettings(before, repeated)
    .filter(({ isIndex }) => !isIndex)
    .map(({ key, setting }): SettingChange => {
      const { word, value, unit, line } = setting;
      const now = newKey(word, key);
      const next = found.get(now);
      met.add(now);
      const isOtherUnit = next !== undefined && (next.unit ?? unit) !== (unit ?? next.unit);
      return {
        key,
        before: value,
        after: next?.value ?? null,
        difference: next === undefined || isOtherUnit ? null : decimalDifference(value, next.value),
        unit: unit ?? next?.unit ?? null,
        state:
          next === undefined
            ? 'gone'
            : isOtherUnit
              ? 'other-unit'
              : next.value === value
                ? 'same'
                : 'differs',
        word: saidOf(word, settings),
        renamedTo: Object.hasOwn(renamed, word) ? (renamed[word] ?? null) : null,
        line,
      };
    });
  for (const [key, { word, value, unit }] of found)
    if (!met.has(key))
      changes.push({
        key,
        before: null,
        after: value,
        difference: null,
        unit: unit ?? null,
        state: 'new',
        word: saidOf(word, settings),
        renamedTo: null,
        line: null,
      });
  return changes;
}

const mapOf = (said: Said<Record<string, string>>): Record<string, string> =>
  said === undefined || said === 'any' ? {} : said;

function saidOf(word: string, { carry, dropped }: Profile['settings']): SettingChange['word'] {
  if (Array.isArray(dropped) && dropped.includes(word)) return 'dropped';
  return carry === 'any' || (Array.isArray(carry) && carry.includes(word)) ? 'carries-over' : 'not-said';
}

/**
 * Lines that bring back what carries over and differs: each line of the record whole, as the machine printed it, under
 * its new word where it has one. What is in other units is left out.
 */
export function linesToEnter(changes: readonly SettingChange[]): string[] {
  const lines = new Set<string>();
  for (const { key, state, word, renamedTo, line } of changes) {
    if (word !== 'carries-over' || line === null || (state !== 'differs' && state !== 'gone')) continue;
    const code = line.replace(/[;(].*$/, '').trim();
    const name = key.split(' ')[0] ?? '';
    lines.add(renamedTo === null ? code : code.replace(new RegExp(`^${name}(?=\\s|$)`), renamedTo));
  }
  return [...lines];
}
