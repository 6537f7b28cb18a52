/**
 * Breaks a text at blanks so that no line is longer than `width` characters. Line breaks of the text stay; a line
 * that is indented by four blanks or more is something to type and is never broken; the rest of a numbered line is
 * indented to its text. A word longer than the width stands on a line of its own.
 * @param first what the first line begins with; every later line begins with as many blanks, or with `rest`
 */
export function wrap(text: string, width: number, first = '', rest = ' '.repeat(first.length)): string[] {
  const lines: string[] = [];
  let begin = first;
  for (const line of text.split('\n')) {
    if (/^ {4}/.test(line) || line.trim() === '') lines.push((begin + line).trimEnd());
    else {
      const [, indent = '', mark = ''] = /^( *)((?:\d+\.|[-*]) +)?/.exec(line) ?? [];
      const hang = rest + ' '.repeat(indent.length + mark.length);
      let current = begin + indent + mark;
      let empty = true;
      for (const word of line.slice(indent.length + mark.length).split(/ +/)) {
        if (!empty && lengthOf(current) + 1 + lengthOf(word) > width) {
          lines.push(current);
          current = hang + word;
        } else {
          current += empty ? word : ` ${word}`;
          empty = false;
        }
      }
      lines.push(current.trimEnd());
    }
    begin = rest;
  }
  return lines;
}

/** Joins the lines of each paragraph: a text that its author broke at some width of his own. */
export function reflow(text: string): string {
  return text
    .split(/\n[ \t]*\n/)
    .map((paragraph) => paragraph.trim().replace(/\s*\n\s*/g, ' '))
    .join('\n\n');
}

/** A text that may have come as half a sentence, with a capital and a full stop. */
export function sentence(text: string): string {
  const capital = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.:?]$/.test(capital) ? capital : `${capital}.`;
}

const lengthOf = (text: string): number => [...text].length;
