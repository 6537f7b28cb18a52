/**
 * What the numbers behind the usual settings words are. The words are those of the public reference of G-code words and
 * of settings reports of common controllers; dialects differ, so a letter that does not stand here keeps its number,
 * without a unit.
 */

/** Letters that turn instead of moving along (RS274/NGC 2.1.1: A, B and C). */
const rotary = 'ABC';
const axes = 'XYZE';

interface SettingWord {
  /** Unit of the letters; `mm` becomes `in` in a report in inches, and `deg` for an axis that turns. */
  readonly units?: readonly (readonly [letters: string, unit: string])[];
  /** Letters that say which heater, tool or slot the other numbers of the line are for. */
  readonly index?: string;
}

const words: Readonly<Record<string, SettingWord>> = {
  M92: { units: [[axes + rotary, 'steps/mm']], index: 'T' },
  M145: { index: 'S' },
  M200: { index: 'T' },
  M201: { units: [[axes + rotary, 'mm/s²']], index: 'T' },
  M203: { units: [[axes + rotary, 'mm/s']], index: 'T' },
  M204: { units: [['PRT', 'mm/s²']] },
  M205: { units: [[axes, 'mm/s']] },
  M206: { units: [['XYZ', 'mm']] },
  M218: { units: [['XYZ', 'mm']], index: 'T' },
  M301: { index: 'EH' },
  M304: {},
  M421: { index: 'IJ' },
  M665: {
    units: [
      ['LRH', 'mm'],
      ['XYZ', 'deg'],
    ],
  },
  M666: { units: [['XYZ', 'mm']] },
  M851: { units: [['XYZ', 'mm']] },
  M900: { index: 'T' },
  M906: { units: [[axes, 'mA']], index: 'IT' },
};

export const isSettingWord = (word: string): boolean => Object.hasOwn(words, word);

/** The unit of one number; undefined when it is not known. */
export function unitOf(word: string, letter: string, isInches: boolean): string | undefined {
  const units = isSettingWord(word) ? words[word]?.units : undefined;
  const unit = units?.find(([letters]) => letters.includes(letter))?.[1];
  if (unit === undefined) return undefined;
  if (rotary.includes(letter)) return unit.replace('mm', 'deg');
  return isInches ? unit.replace('mm', 'in') : unit;
}

/** Letters that say which of several lines of a known word a line is. */
export const indexLetters = (word: string): string => (isSettingWord(word) ? (words[word]?.index ?? '') : '');
