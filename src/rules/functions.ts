/**
 * The functions that expressions and texts of rules may call besides the built-in ones of the language. One entry
 * here is all that a new one needs: the type checker, the evaluator and the list of words in the documentation are
 * made from this table.
 */
import { limits } from '../bytes/limits.js';
import { sizeText } from '../bytes/size-text.js';
import type { Scalar } from '../facts/fact.js';
import type { capacityClasses, encodings } from '../facts/schema.js';
import { visible } from './visible.js';

/** A list as a function sees it: at most the first `limits.listed` items, and how many there are. */
export interface ListArgument {
  readonly items: readonly Scalar[];
  readonly total: number;
}

export type Argument = Scalar | ListArgument;

export interface RuleFunction {
  readonly name: string;
  /** In the notation of the expression language, one for each accepted combination of types. */
  readonly signatures: readonly string[];
  /** True when it also takes a fact of type `dyn`, which is a number here and a text there. */
  readonly takesNumberOrText?: boolean;
  /** One sentence. */
  readonly meaning: string;
  /** Gets known values of the declared types only; never throws. */
  run(args: readonly Argument[]): Scalar;
}

/** A number in hexadecimal with 2, 4, 8 or 16 digits: `0x0C`, `0x0800`, `0x08007000`. */
export function hex(value: number): string {
  if (value < 0) return `-${hex(-value)}`;
  const digits = value.toString(16).toUpperCase();
  const width = [2, 4, 8, 16].find((each) => digits.length <= each) ?? digits.length;
  return `0x${digits.padStart(width, '0')}`;
}

/** Forms of firmware files in words, with the usual endings of their names. */
const encodingTexts: Readonly<Record<(typeof encodings)[number], string>> = {
  raw: 'plain bytes (.bin)',
  'intel-hex': 'Intel HEX text (.hex)',
  's-record': 'S-record text (.srec, .s19)',
  uf2: 'UF2 blocks (.uf2)',
  elf: 'an ELF file (.elf)',
  'esp-image': 'an ESP image (.bin)',
  dfuse: 'a DfuSe file (.dfu)',
  'packed-gzip': 'bytes packed with gzip (.gz)',
  scrambled: "bytes scrambled in the maker's own way",
};

/** Capacity families of cards with their limits, as the SD Association publishes them and prints them on cards. */
const classTexts: Readonly<Record<(typeof capacityClasses)[number], string>> = {
  SDSC: 'SDSC (up to 2 GB)',
  SDHC: 'SDHC (over 2 GB, up to 32 GB)',
  SDXC: 'SDXC (over 32 GB, up to 2 TB)',
  SDUC: 'SDUC (over 2 TB, up to 128 TB)',
};

const inWords = (words: Readonly<Record<string, string>>, word: string): string =>
  Object.hasOwn(words, word) ? words[word]! : word;

/** `A`, `A or B`, `A, B or C`; with more than `limits.listed` items the rest is counted; `nothing` for none. */
function either(words: readonly string[], total: number): string {
  if (total === 0) return 'nothing';
  if (total > words.length) return `${words.join(', ')} or one of ${total - words.length} more`;
  if (words.length === 1) return words[0]!;
  return `${words.slice(0, -1).join(', ')} or ${words.at(-1)}`;
}

const list = (argument: Argument | undefined): ListArgument => {
  if (typeof argument !== 'object') throw new Error('a function of a rule expected a list');
  return argument;
};
const number = (argument: Argument | undefined): number => {
  if (typeof argument !== 'number') throw new Error('a function of a rule expected a number');
  return argument;
};
const text = (argument: Argument | undefined): string => {
  if (typeof argument !== 'string') throw new Error('a function of a rule expected a text');
  return argument;
};

/** All functions of rules, by name. */
export const ruleFunctions: readonly RuleFunction[] = [
  {
    name: 'sizeText',
    signatures: ['sizeText(int): string'],
    meaning: 'A size in bytes in words: 512 bytes, 4 KiB, 7.4 GiB.',
    run: ([size]) => sizeText(number(size)),
  },
  {
    name: 'anyOf',
    signatures: ['anyOf(list<string>): string', 'anyOf(list<int>): string'],
    meaning: 'The items of a list as a choice: A, B or C; a fact that counts bytes prints as sizes.',
    run: ([items]) => either(list(items).items.map(String), list(items).total),
  },
  {
    name: 'sizesText',
    signatures: ['sizesText(list<int>): string'],
    meaning: 'A list of sizes in bytes as a choice: 512 bytes or 4 KiB.',
    run: ([sizes]) =>
      either(
        list(sizes).items.map((size) => sizeText(number(size))),
        list(sizes).total,
      ),
  },
  {
    name: 'hex',
    signatures: ['hex(int): string'],
    takesNumberOrText: true,
    meaning: 'A number in hexadecimal: 0x0C, 0x0800, 0x08007000; a text stays as it is.',
    run: ([value]) => (typeof value === 'string' ? value : hex(number(value))),
  },
  {
    name: 'plural',
    signatures: ['plural(int, string, string): string'],
    meaning: 'The first word for 1, else the second, without the number: plural(n, "file", "files").',
    run: ([count, one, many]) => (number(count) === 1 ? text(one) : text(many)),
  },
  {
    name: 'count',
    signatures: ['count(int, string, string): string'],
    meaning: 'The number with the first word for 1, else with the second: count(n, "file", "files").',
    run: ([value, one, many]) => `${number(value)} ${number(value) === 1 ? text(one) : text(many)}`,
  },
  {
    name: 'digits',
    signatures: ['digits(int): string'],
    meaning: 'A whole number as a text in decimal, to be joined with other texts.',
    run: ([value]) => String(number(value)),
  },
  {
    name: 'figure',
    signatures: ['figure(double): string'],
    meaning: 'A measured or estimated number with one decimal at most: 124.4, 156.',
    run: ([value]) => String(Math.round(number(value) * 10) / 10),
  },
  {
    name: 'hexOf',
    signatures: ['hexOf(list<int>): string'],
    meaning: 'A list of numbers as a choice in hexadecimal: 0x0B or 0x0C.',
    run: ([values]) =>
      either(
        list(values).items.map((value) => hex(number(value))),
        list(values).total,
      ),
  },
  {
    name: 'classesText',
    signatures: ['classesText(list<string>): string'],
    meaning: 'Capacity families of cards as a choice, each with its limits.',
    run: ([classes]) =>
      either(
        list(classes).items.map((each) => inWords(classTexts, text(each))),
        list(classes).total,
      ),
  },
  {
    name: 'encodingText',
    signatures: ['encodingText(string): string'],
    meaning: 'The form of a firmware file in words.',
    run: ([encoding]) => inWords(encodingTexts, text(encoding)),
  },
  {
    name: 'join',
    signatures: ['join(list<string>, string): string', 'join(list<int>, string): string'],
    meaning: 'The items of a list with a text between them.',
    run: ([items, between]) => {
      const { items: shown, total } = list(items);
      const more = total > shown.length ? ` and ${total - shown.length} more` : '';
      return shown.map(String).join(text(between)) + more;
    },
  },
  {
    name: 'quote',
    signatures: ['quote(string): string'],
    meaning: 'The text in double quotes, with hidden and control characters written out.',
    run: ([value]) => `"${visible(text(value))}"`,
  },
  {
    name: 'lower',
    signatures: ['lower(string): string'],
    meaning: 'The text in lower case.',
    run: ([value]) => text(value).toLowerCase(),
  },
  {
    name: 'upper',
    signatures: ['upper(string): string'],
    meaning: 'The text in upper case.',
    run: ([value]) => text(value).toUpperCase(),
  },
];

const byName = new Map(ruleFunctions.map((each) => [each.name, each]));

/** The function of that name, or undefined. */
export function ruleFunction(name: string): RuleFunction | undefined {
  return byName.get(name);
}

/** Built-in words of the language that rules may use, with their meaning; all others are refused at load. */
export const builtIns: Readonly<Record<string, string>> = {
  all: 'list.all(x, …): true when the condition holds for every item.',
  exists: 'list.exists(x, …): true when it holds for one item or more.',
  startsWith: 'text.startsWith(text)',
  endsWith: 'text.endsWith(text)',
  contains: 'text.contains(text)',
  size: 'size(list) or size(text): items, or characters.',
  present: 'present(fact): true when known, false when proved absent, unknown when unseen.',
};

/** Most items of a list that a function is given. */
export const listedItems = limits.listed;
