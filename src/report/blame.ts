import { hazards } from '../rules/rule.js';
import type { Finding, Report } from './report.js';

/** What an owner can have got wrong, in the order in which it is mended. */
export const culprits = ['card', 'files', 'image', 'choice', 'profile', 'release'] as const;
export type Culprit = (typeof culprits)[number];

/** Failed rules by what is to blame; `other` are those of groups that the package does not know. */
export interface Blame extends Readonly<Record<Culprit | 'other', number>> {
  /** What to mend first; null when nothing failed. */
  readonly first: Culprit | 'other' | null;
  /** True when the rules about the card were all judged, and none of them failed. */
  readonly cardCleared: boolean;
  /** True when the rules about the update file itself were all judged, and none of them failed. */
  readonly imageCleared: boolean;
}

const groups: Readonly<Record<string, Culprit>> = {
  card: 'card',
  volume: 'card',
  file: 'files',
  companion: 'files',
  image: 'image',
  machine: 'choice',
  power: 'choice',
  board: 'profile',
  release: 'release',
};

/** Rules of the group `card` that are about files on it: these are mended by removing files, not by formatting. */
const aboutFiles = new Set(['card/litter', 'card/other-files', 'card/other-loader']);

/** What the rule of this id is about: its group is the part before the `/`. */
export const culpritOf = (rule: string): Culprit | 'other' =>
  aboutFiles.has(rule) ? 'files' : (groups[rule.split('/')[0] ?? ''] ?? 'other');

/** Failed findings that decide the verdict. */
const counts = ({ outcome, hazard }: Finding): boolean => outcome === 'failed' && hazard !== 'advice';

/** Card, files, update file or choice of build: what failed, counted. Advice does not count. */
export function blame({ findings }: Pick<Report, 'findings'>): Blame {
  const failed = findings.filter(counts).map(({ rule }) => culpritOf(rule));
  const count = (culprit: Culprit | 'other'): number => failed.filter((each) => each === culprit).length;
  const cleared = (culprit: Culprit): boolean => {
    const judged = findings.filter(({ rule, hazard }) => culpritOf(rule) === culprit && hazard !== 'advice');
    // A rule that another one's failure put aside was not judged.
    const open = judged.some(
      ({ outcome, because }) =>
        ['failed', 'unknown'].includes(outcome) || (outcome === 'not-applicable' && because !== undefined),
    );
    return !open && judged.some(({ outcome }) => outcome === 'holds');
  };
  return {
    card: count('card'),
    files: count('files'),
    image: count('image'),
    choice: count('choice'),
    profile: count('profile'),
    release: count('release'),
    other: count('other'),
    first: [...culprits, 'other' as const].find((culprit) => failed.includes(culprit)) ?? null,
    cardCleared: cleared('card'),
    imageCleared: cleared('image'),
  };
}

const names: Readonly<Record<Culprit | 'other', string>> = {
  card: 'the card',
  files: 'the files on it',
  image: 'the update file itself',
  choice: 'the choice of build for this machine and its supply',
  profile: 'the board profile',
  release: 'the release itself',
  other: 'something else',
};

/** "The card is to blame, not the file.": one sentence or two for the owner; null when nothing failed. */
export function blameText(
  { first, cardCleared, imageCleared, ...count }: Blame,
  kind: Report['target']['kind'],
): string | null {
  const guilty = [...culprits, 'other' as const].filter((culprit) => count[culprit] > 0);
  if (first === null || (guilty.length === 1 && first === 'other')) return null;
  const isCard = kind !== 'staging';
  if (guilty.length > 1) {
    const parts = guilty.map((culprit) => {
      // Where the card is not at fault itself, "it" would have nothing to stand for.
      const name = culprit === 'files' && count.card === 0 ? fileNames(isCard) : names[culprit];
      return `${name} (${count[culprit]} ${count[culprit] === 1 ? 'fault' : 'faults'})`;
    });
    const list = `${parts.slice(0, -1).join(', ')} and ${parts.at(-1)}`;
    return `To blame: ${list}. Mend them in the order below.`;
  }
  if (first === 'card')
    return imageCleared
      ? 'The card is to blame, not the file.'
      : 'The card is to blame. Whether the file on it is right will show when the card is mended.';
  const notCard = isCard && cardCleared ? ', not the card' : '';
  if (first === 'files')
    return `The names, places or contents of ${fileNames(isCard)} are to blame${notCard}.`;
  if (first === 'profile') return 'The board profile is to blame: it leaves out what must be known.';
  if (first === 'image') return `The update file itself is to blame${notCard}.`;
  return `The choice of build for this machine and its supply is to blame${imageCleared ? ', not the file' : ''}${
    notCard && (imageCleared ? ' and not the card' : notCard)
  }.`;
}

const fileNames = (isCard: boolean): string => (isCard ? 'the files on the card' : 'the files');

/**
 * Findings in the order in which to mend them: the card before the files on it, these before the update file, this
 * before the choice of build; among equals the worst hazard first. What comes after a failed rule did not fail itself.
 */
export function mendOrder(findings: readonly Finding[]): Finding[] {
  const place = ({ rule }: Finding): number => {
    const culprit = culpritOf(rule);
    return culprit === 'other' ? culprits.length : culprits.indexOf(culprit);
  };
  return [...findings].sort(
    (one, other) =>
      place(one) - place(other) ||
      hazards.indexOf(one.hazard) - hazards.indexOf(other.hazard) ||
      (one.rule < other.rule ? -1 : one.rule > other.rule ? 1 : 0),
  );
}
