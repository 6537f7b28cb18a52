/**
 * Lines of G-code after RS274/NGC (Kramer, NISTIR 6556, section 3.3: line, word, number, comment), with the two things
 * that controllers added on serial lines: comments from `;` to the end, and a checksum behind `*`.
 */

/** A letter and its number. */
export interface GcodeWord {
  /** Capital letter. */
  readonly letter: string;
  readonly value: number;
  /** The number has a blank inside: allowed by the grammar, and never printed by a machine. */
  readonly isSplit: boolean;
}

/** One line as parsed. With a fault, `words` are those before it. */
export interface GcodeLine {
  readonly words: readonly GcodeWord[];
  /** Letters that stand by themselves, without a number. The grammar knows none; reports of machines have them. */
  readonly flags: readonly string[];
  /** Number behind `N`, which the sender counts; null without one. */
  readonly lineNumber: number | null;
  readonly checksum: 'none' | 'right' | 'wrong';
  /** What breaks the grammar, as a plain phrase; null when nothing does. */
  readonly fault: string | null;
}

/** Longest line, in characters (RS274/NGC 3.3.1). */
export const longestLine = 256;
/** Digits that a number keeps exactly: IEEE 754 double precision. */
const mostDigits = 15;

const isBlank = (character: string | undefined): boolean => character === ' ' || character === '\t';
const isLetter = (character: string | undefined): boolean =>
  character !== undefined && /^[A-Za-z]$/.test(character);

/** Parses any text as one line; one pass, whatever it holds. */
export function parseGcode(text: string): GcodeLine {
  const words: GcodeWord[] = [];
  const flags: string[] = [];
  let lineNumber: number | null = null;
  let checksum: GcodeLine['checksum'] = 'none';
  const end = (fault: string | null = null): GcodeLine => ({ words, flags, lineNumber, checksum, fault });
  if (text.length > longestLine) return end(`it is longer than ${longestLine} characters`);
  let at = 0;
  while (isBlank(text[at])) at++;
  // A slash in front marks a line that may be left out.
  if (text[at] === '/') at++;
  while (at < text.length) {
    const character = text[at]!;
    if (isBlank(character)) at++;
    else if (character === ';') break;
    else if (character === '(') {
      const close = text.indexOf(')', at);
      if (close < 0 || text.slice(at + 1, close).includes('(')) return end('a comment is not closed');
      at = close + 1;
    } else if (character === '*') {
      const number = /^\*[ \t]*([0-9]{1,3})[ \t]*(?:;.*)?$/.exec(text.slice(at));
      if (number === null) return end('its checksum is no number');
      checksum = Number(number[1]) === xor(text.slice(0, at)) ? 'right' : 'wrong';
      break;
    } else if (!isLetter(character)) return end(`'${character}' stands where a letter was expected`);
    else {
      const number = readNumber(text, at + 1);
      const letter = character.toUpperCase();
      if (number === 'malformed') return end(`the number of ${letter} is none`);
      if (number === null) {
        // Letters in a row are a text for people.
        if (isLetter(text[at + 1])) return end('it holds a text');
        flags.push(letter);
        at++;
      } else {
        at = number.end;
        const isFirst = words.length === 0 && flags.length === 0 && lineNumber === null;
        if (letter === 'N' && isFirst) lineNumber = number.value;
        else words.push({ letter, value: number.value, isSplit: number.isSplit });
      }
    }
  }
  return end();
}

/** The number from an offset on, blanks allowed inside; null when there is none. */
function readNumber(
  text: string,
  start: number,
): { value: number; end: number; isSplit: boolean } | 'malformed' | null {
  let at = start;
  let digits = '';
  let end = start;
  let isSplit = false;
  for (; at < text.length; at++) {
    const character = text[at]!;
    if (isBlank(character)) continue;
    const isPart =
      /^[0-9]$/.test(character) ||
      (character === '.' && !digits.includes('.')) ||
      (digits === '' && (character === '+' || character === '-'));
    if (!isPart) break;
    if (digits !== '' && at > end) isSplit = true;
    digits += character;
    end = at + 1;
  }
  if (digits === '') return null;
  const plain = digits.replace(/[^0-9]/g, '').replace(/^0+/, '');
  if (!/[0-9]/.test(digits) || plain.length > mostDigits) return 'malformed';
  // Adding zero drops a negative zero.
  return { value: Number(digits) + 0, end, isSplit };
}

/** All bytes before the asterisk, combined by exclusive or. Common practice on serial lines, no published source. */
const xor = (text: string): number => {
  let sum = 0;
  for (let at = 0; at < text.length; at++) sum ^= text.charCodeAt(at) & 0xff;
  return sum;
};

/** `M92` for a line that begins with that command, whatever zeros it was written with; null for another line. */
export function commandOf({ words }: GcodeLine): string | null {
  const [first] = words;
  return first !== undefined && 'GM'.includes(first.letter) && first.value >= 0 && !first.isSplit
    ? `${first.letter}${first.value}`
    : null;
}
