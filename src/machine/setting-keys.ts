import type { RecordedSetting } from './record.js';
import { indexLetters, isSettingWord } from './setting-words.js';

/** A setting with what tells it from every other one of the machine. */
export interface KeyedSetting {
  readonly setting: RecordedSetting;
  /** `E0`: for which heater, tool or slot its line is; empty when the word has one line. */
  readonly index: string;
  /** The letter says for which heater, tool or slot the line is, and is no setting itself. */
  readonly isIndex: boolean;
  /** `M301 E0 P` */
  readonly key: string;
}

/** Words that stand on several lines of one of these lists. */
export function repeatedWords(...lists: readonly (readonly RecordedSetting[])[]): ReadonlySet<string> {
  const repeated = new Set<string>();
  for (const settings of lists) {
    const lines = new Map<string, string>();
    for (const { word, line } of settings) {
      if ((lines.get(word) ?? line) !== line) repeated.add(word);
      lines.set(word, line);
    }
  }
  return repeated;
}

/** The settings in their order, each with its key. */
export function keyedSettings(
  settings: readonly RecordedSetting[],
  repeated: ReadonlySet<string> = repeatedWords(settings),
): KeyedSetting[] {
  const lines = new Map<string, RecordedSetting[]>();
  const lineKey = ({ word, line }: RecordedSetting): string => `${word}\n${line}`;
  for (const setting of settings) {
    const known = lines.get(lineKey(setting));
    if (known) known.push(setting);
    else lines.set(lineKey(setting), [setting]);
  }
  const indexes = new Map([...lines].map(([key, line]) => [key, indexOf(line, repeated)]));
  return settings.map((setting) => {
    const index = indexes.get(lineKey(setting)) ?? [];
    const text = index.map(({ letter, value }) => `${letter}${value}`).join(' ');
    return {
      setting,
      index: text,
      isIndex: index.some(({ letter }) => letter === setting.letter),
      key: [setting.word, text, setting.letter].filter((part) => part !== '').join(' '),
    };
  });
}

/** The letters of one line that say which of the lines of its word it is. */
function indexOf(line: readonly RecordedSetting[], repeated: ReadonlySet<string>): RecordedSetting[] {
  const { word } = line[0]!;
  const isRepeated = repeated.has(word);
  // A word that nobody knows is numbered, if at all, by what stands first in its line.
  const letters = isSettingWord(word) ? indexLetters(word) : isRepeated ? line[0]!.letter : '';
  const isNumber = ({ letter, value }: RecordedSetting): boolean =>
    letters.includes(letter) && Number.isInteger(value) && value >= 0;
  const found = line.filter(isNumber);
  // A line of nothing but an index holds no setting; then the letter is the setting.
  return found.length < line.length ? found : [];
}
