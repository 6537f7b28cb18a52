/**
 * The reply of a machine that is asked what it is: `KEY:value` pairs on one line, parted by blanks, where values hold
 * blanks, colons and brackets of their own. Seen in captures of common controllers; there is no published source.
 */

/** Keys by which such a reply is known whatever the board. */
const usualKeys = ['FIRMWARE_NAME', 'FIRMWARE_VERSION', 'PROTOCOL_VERSION', 'MACHINE_TYPE'];

const longestKey = 64;

export interface IdentityPairs {
  readonly pairs: Readonly<Record<string, string>>;
  /** Keys that stood there twice with different values. */
  readonly unclear: readonly string[];
  /** The last key: its value may go on where the line broke off. */
  readonly last: string;
}

/**
 * The pairs of a line that begins with one; null for another line. A value runs to the next capital key, so that the
 * colon of an address (`https:`) parts nothing.
 * @param wanted keys to find whatever letters they are written in
 */
export function identityPairs(text: string, wanted: readonly string[]): IdentityPairs | null {
  const keys = [...wanted.map(escaped), `[A-Z][A-Z0-9_-]{1,${longestKey - 1}}`].join('|');
  const starts = [...text.matchAll(new RegExp(`(?:^| )(${keys}):`, 'g'))];
  if (starts[0]?.index !== 0) return null;
  const pairs = new Map<string, string>();
  const unclear = new Set<string>();
  for (const [index, start] of starts.entries()) {
    const key = start[1]!;
    const value = text.slice(start.index + start[0].length, starts[index + 1]?.index).trim();
    if (pairs.has(key) && pairs.get(key) !== value) unclear.add(key);
    pairs.set(key, value);
  }
  for (const key of unclear) pairs.delete(key);
  return { pairs: Object.fromEntries(pairs), unclear: [...unclear], last: starts.at(-1)![1]! };
}

/** Whether the pairs are the reply itself, and not another line that happens to have their form. */
export const isReply = ({ pairs, unclear }: IdentityPairs, wanted: readonly string[]): boolean =>
  [...Object.keys(pairs), ...unclear].some((key) => wanted.includes(key) || usualKeys.includes(key));

const escaped = (text: string): string => text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');
