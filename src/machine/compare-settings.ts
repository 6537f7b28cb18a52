import { decimalDifference } from './decimal.js';
import type { RecordedSetting } from './record.js';
import { keyedSettings, repeatedWords } from './setting-keys.js';

/**
 * How one setting came out. `same`, `differs`; `gone`: it was recorded and the report after the flash lacks it;
 * `added`: only that report has it; `other-unit`: the two numbers are in different units.
 */
export type Comparison = 'same' | 'differs' | 'gone' | 'added' | 'other-unit';

/** One setting before and after. */
export interface ComparedSetting {
  /** `M301 E0 P`, under the word that it had before. */
  readonly key: string;
  readonly word: string;
  /** `E0`: for which heater, tool or slot; empty when the word has one line. */
  readonly index: string;
  readonly letter: string;
  /** The word of the report after the flash, when the profile says that it was renamed. */
  readonly renamedTo: string | null;
  readonly unit: string | null;
  readonly before: number | null;
  readonly after: number | null;
  /** After less before, as decimals; null where that says nothing. */
  readonly difference: number | null;
  readonly comparison: Comparison;
}

/**
 * Every setting of two reports, in the order of the first; then those that only the second has. Numbers are compared as
 * decimals, so 80.00 is 80.
 * @param renamed words that have another name after the flash, by their old name; used where the old name is gone
 */
export function compareSettings(
  before: readonly RecordedSetting[],
  after: readonly RecordedSetting[],
  renamed: Readonly<Record<string, string>>,
): ComparedSetting[] {
  const wordsAfter = new Set(after.map(({ word }) => word));
  const wordsBefore = new Set(before.map(({ word }) => word));
  const newName = (word: string): string | null => {
    const name = Object.hasOwn(renamed, word) ? renamed[word]! : null;
    // A report that has both says itself that they are two things.
    return name !== null && !wordsAfter.has(word) && wordsAfter.has(name) && !wordsBefore.has(name)
      ? name
      : null;
  };
  const repeated = new Set(repeatedWords(before, after));
  for (const word of [...repeated]) {
    const name = newName(word);
    if (name !== null) repeated.add(name);
  }
  const hasOtherUnits = isInInches(before) !== isInInches(after);
  const late = new Map(
    keyedSettings(after, repeated)
      .filter(({ isIndex }) => !isIndex)
      .map((one) => [one.key, one]),
  );
  const rows: ComparedSetting[] = [];
  for (const { key, setting, index, isIndex } of keyedSettings(before, repeated)) {
    if (isIndex) continue;
    const renamedTo = newName(setting.word);
    const other = late.get(renamedTo === null ? key : key.replace(setting.word, () => renamedTo));
    if (other !== undefined) late.delete(other.key);
    const now = other?.setting.value ?? null;
    const comparison =
      now === null ? 'gone' : hasOtherUnits ? 'other-unit' : now === setting.value ? 'same' : 'differs';
    rows.push({
      key,
      word: setting.word,
      index,
      letter: setting.letter,
      renamedTo: now === null ? null : renamedTo,
      unit: setting.unit ?? other?.setting.unit ?? null,
      before: setting.value,
      after: now,
      difference: now === null || hasOtherUnits ? null : decimalDifference(setting.value, now),
      comparison,
    });
  }
  for (const { key, setting, index } of late.values())
    rows.push({
      key,
      word: setting.word,
      index,
      letter: setting.letter,
      renamedTo: null,
      unit: setting.unit ?? null,
      before: null,
      after: setting.value,
      difference: null,
      comparison: 'added',
    });
  return rows;
}

/** A report is in inches or in millimetres as a whole (`G20`, `G21`: RS274/NGC 3.5.7). */
export const isInInches = (settings: readonly RecordedSetting[]): boolean =>
  settings.some(({ unit }) => unit !== undefined && /(?:^|\/)in\b/.test(unit));
