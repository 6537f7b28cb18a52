import { group } from './fact-values.js';
import type { Finding, Report } from './report.js';
import type { ReportOptions } from './reporters.js';

/** One way to find out what a mounted folder does not show. */
export interface Way {
  readonly title: string;
  /** True when the steps erase the card. */
  readonly erases: boolean;
  readonly steps: string;
}

type About = Pick<ReportOptions, 'system' | 'line'>;

/**
 * The three ways, in the order in which to try them, when a mounted folder left something open that one of them may
 * show; none for any other report.
 */
export function waysToSettle(report: Report, { system, line }: About): Way[] {
  const { target, verdict, findings } = report;
  const facts = group(report.facts.target);
  if (verdict !== 'not-proven' || target.kind !== 'folder' || facts.showsMedium !== false) return [];
  if (!findings.some(isOpen)) return [];
  const isNamed = typeof facts.card === 'string';
  const card = typeof facts.card === 'string' ? facts.card : unnamed[system ?? 'linux'];
  const which = isNamed
    ? ''
    : `, with the name of the card, which flashworthy cards shows, in place of ${card}`;
  const check = (path: string, ...more: string[]): string =>
    line?.(path, more) ?? `flashworthy check ${path}`;
  const isFresh = group(report.facts.media).history === 'fresh';
  return [
    ...(isFresh ? [] : [freshly(check(target.path, 'fresh'))]),
    // A folder whose card this computer does not name leads nowhere with more rights either.
    withRights(check(isNamed ? target.path : card), which, system),
    image(card, which, check, system),
  ];
}

/** What stands for the name of a card that the report does not know. */
const unnamed = { windows: '\\\\.\\PhysicalDriveN', macos: '/dev/rdiskN', linux: '/dev/sdX' } as const;

const isOpen = ({ outcome, hazard, missing = [] }: Finding): boolean =>
  outcome === 'unknown' &&
  hazard !== 'advice' &&
  missing.some(({ cause }) => cause === 'not-visible' || cause === 'no-permission');

const freshly = (line: string): Way => ({
  title: 'Without administrator rights: a fresh card',
  erases: true,
  steps: `1. Copy what you want to keep from the card to your computer, and format the card.
2. Copy the update file first, then its companion files, once, and nothing else.
3. Type:
    ${line}
A card that was formatted just now has no damage, no leftovers and no files in pieces. What is still open then can be seen in the other two ways only.`,
});

const withRights = (line: string, which: string, system: About['system']): Way => ({
  title: 'With administrator rights: the card itself is read too',
  erases: false,
  steps:
    system === 'windows'
      ? `Open a command prompt with "Run as administrator". Type this line, with the number that flashworthy cards shows in place of N:\n    ${line}`
      : `Type this line${which}:\n    sudo ${line}`,
});

function image(card: string, which: string, check: (path: string) => string, system: About['system']): Way {
  const make =
    system === 'windows'
      ? 'Read the whole card into a file card.img with a program that makes images of cards, and type:'
      : `Type these lines${which}:\n    sudo dd if=${card} of=card.img bs=${system === 'macos' ? '1m' : '1M'}`;
  return {
    title: 'On another computer, or later: an image of the card',
    erases: false,
    steps: `${make}\n    ${check('card.img')}`,
  };
}
