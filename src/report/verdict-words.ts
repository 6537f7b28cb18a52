import { blame, blameText } from './blame.js';
import { hazardText, releaseHazardText } from './hazard-words.js';
import type { Report } from './report.js';

/** The verdict in words. */
export interface VerdictWords {
  /** One line, without the waived rules. */
  readonly headline: string;
  /** ` (waived: rule, rule)`, or nothing. */
  readonly waivers: string;
  /** What it means, and what is to blame. */
  readonly sentences: readonly string[];
}

/** What the verdict is called, what it means, and what is to blame. */
export function verdictWords(report: Report): VerdictWords {
  const { verdict, target, hazard, findings } = report;
  if (target.kind === 'release') return releaseWords(report);
  const isStaging = target.kind === 'staging';
  const waivers = waiversText(findings);
  if (verdict === 'fit')
    return { headline: isStaging ? 'FILES FIT, NO CARD CHECKED' : 'FIT TO FLASH', waivers, sentences: [] };
  if (verdict === 'not-proven')
    return {
      headline: isStaging
        ? 'NOT PROVEN: do not flash these files yet.'
        : 'NOT PROVEN: do not flash from this card yet.',
      waivers,
      sentences: [notSeen],
    };
  const most = worstOf(report);
  const blamed = blameText(blame(report), target.kind);
  return {
    headline: isStaging
      ? 'REFUSED: do not flash these files.'
      : 'REFUSED: do not put this card into the machine.',
    waivers,
    sentences: [
      ...(hazard === null ? [] : [`${most}${hazardText(hazard)}`]),
      ...(blamed === null ? [] : [blamed]),
    ],
  };
}

const notSeen = 'Nothing wrong was found, but not everything that matters could be seen.';

/** The same of a release folder. */
function releaseWords(report: Report): VerdictWords {
  const { verdict, hazard, findings } = report;
  const waivers = waiversText(findings);
  if (verdict === 'fit')
    return {
      headline: 'COMPLETE: every machine has its build, and every file is right.',
      waivers,
      sentences: [],
    };
  if (verdict === 'not-proven')
    return { headline: 'CANNOT TELL: do not publish this release yet.', waivers, sentences: [notSeen] };
  return {
    headline: 'NOT COMPLETE: do not publish this release.',
    waivers,
    sentences: hazard === null ? [] : [`${worstOf(report)}${releaseHazardText(hazard)}`],
  };
}

function waiversText(findings: Report['findings']): string {
  const waived = findings.filter(({ outcome }) => outcome === 'waived').map(({ rule }) => rule);
  return waived.length === 0 ? '' : ` (waived: ${waived.join(', ')})`;
}

/** What stands in front of the worst hazard when there are several faults. */
function worstOf({ findings }: Report): string {
  const faults = findings.filter(({ outcome, hazard }) => outcome === 'failed' && hazard !== 'advice').length;
  return faults > 1 ? `${faults} faults. The worst one: ` : '';
}

/** How many rules came out how, in one sentence. */
export function countsText({ counts, findings }: Report): string {
  const { holds, failed, unknown, waived, notApplicable } = counts;
  const all = holds + failed + unknown + waived + notApplicable;
  // A failed rule whose hazard is advice is a remark: under "fit" the word "failed" would only frighten.
  const remarks = findings.filter(
    ({ outcome, hazard }) => outcome === 'failed' && hazard === 'advice',
  ).length;
  const remarked = remarks === 0 ? '' : `, ${remarks} ${remarks === 1 ? 'remark' : 'remarks'}`;
  return `${all} ${all === 1 ? 'rule' : 'rules'}: ${holds} held, ${failed - remarks} failed, ${unknown} not judged, ${waived} waived, ${notApplicable} not applicable${remarked}.`;
}
