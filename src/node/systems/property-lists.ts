import { parse } from 'fast-plist';
import { Answer } from './answer.js';

/** One whole property list: what may stand in front of it, and its root. */
const whole = /^\s*(?:<\?xml[^<>]*\?>\s*)?(?:<!DOCTYPE[^<>]*>\s*)?<plist(?:\s[^<>]*)?>\s*<dict(?:\s*\/)?>/;
const end = '</plist>';
const count = (text: string, tag: RegExp): number => text.match(tag)?.length ?? 0;

/**
 * The XML property lists that a program printed one after the other, each a dictionary. Null when any of it is
 * something else, or breaks off: then none of it is believed.
 */
export function propertyLists(printed: string): Answer[] | null {
  const lists: Answer[] = [];
  let at = 0;
  for (;;) {
    const next = printed.indexOf(end, at);
    if (next < 0) return printed.slice(at).trim() === '' ? lists : null;
    const text = printed.slice(at, next + end.length);
    // The library overlooks a dictionary that is never closed, and would give an inner one for the outer.
    if (!whole.test(text) || count(text, /<dict\s*>/g) !== count(text, /<\/dict\s*>/g)) return null;
    try {
      lists.push(new Answer(parse(text)));
    } catch {
      return null;
    }
    at = next + end.length;
  }
}
