import type { Verdict } from '../report.js';
import { type Markup, tag } from './markup.js';

/** What stands on the card of each verdict: a tick, a bar, a question mark. */
const marks: Readonly<Record<Verdict, string>> = {
  fit: 'M18 42 l10 11 l19 -23',
  refused: 'M18 42 h28',
  'not-proven': 'M24 35 a8.5 8.5 0 1 1 12.5 7.4 c-3 1.7 -4.2 3.2 -4.2 6.4 M32.3 58 v.2',
};

/** A memory card with the mark of the verdict; the words beside it say the same. */
export function verdictIcon(verdict: Verdict, size: 'large' | 'small' = 'large'): Markup {
  return tag(
    'svg',
    { class: `icon icon-${size}`, viewBox: '0 0 64 76', 'aria-hidden': 'true', focusable: 'false' },
    tag('path', {
      class: 'icon-card',
      d: 'M10 3 h32 l13 13 v51 a6 6 0 0 1 -6 6 h-39 a6 6 0 0 1 -6 -6 v-58 a6 6 0 0 1 6 -6 z',
    }),
    tag('path', { class: 'icon-contacts', d: 'M14 10 v9 M22 10 v9 M30 10 v9 M38 10 v9' }),
    tag('path', { class: 'icon-mark', d: marks[verdict] }),
  );
}
