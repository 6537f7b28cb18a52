/**
 * Characters that a terminal obeys or a reader cannot see: C0 and C1 controls, soft hyphen, bidirectional marks and
 * overrides, zero-width and invisible characters, line and paragraph separators, byte-order mark, interlinear
 * marks, tag characters, lone surrogates (Unicode 15, general categories Cc, Cf, Zl, Zp, Cs).
 */
const hidden = /[\p{Cc}\p{Cf}\p{Zl}\p{Zp}\p{Cs}]/gu;

/**
 * The text with every control, bidirectional or invisible character written out as `<U+202E>`. Names come from a
 * stranger's card, and one of them must not be able to move the cursor or to turn the reading direction. Applying it
 * twice changes nothing more; neither `<` nor `>` can stand in a FAT or exFAT name, so such a mark is never a name.
 */
export function visible(text: string): string {
  return withoutHidden(
    text,
    (character) => `<U+${character.codePointAt(0)!.toString(16).toUpperCase().padStart(4, '0')}>`,
  );
}

/** The text with each of those characters replaced. */
export const withoutHidden = (text: string, instead: (character: string) => string): string =>
  text.replace(hidden, instead);
