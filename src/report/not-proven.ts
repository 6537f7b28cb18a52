import { keystoneText } from './keystone-words.js';
import type { Report } from './report.js';

/**
 * What stands for a verdict in forms that know only rules and their findings: there a card on which something was not
 * seen must not look like one on which nothing is wrong.
 */
export const notProvenRule = 'verdict/not-proven';
export const notProvenTitle = 'Everything that matters could be seen';

/** Why a card is not proven, in plain lines; the first one is a sentence of its own. */
export function notProvenLines({ findings, keystonesMissing, target }: Report): string[] {
  const waiting = findings.filter(({ outcome, hazard }) => outcome === 'unknown' && hazard !== 'advice');
  const causes = new Set(
    waiting.flatMap(({ missing = [] }) =>
      missing.map(
        ({ text, settle }) => `- ${text}${settle === undefined ? '' : ` (to settle it: ${settle})`}`,
      ),
    ),
  );
  return [
    `Not proven: do not flash ${target.kind === 'staging' ? 'these files' : 'from this card'} yet. Nothing wrong was found, but not everything that matters could be seen.`,
    ...causes,
    ...keystonesMissing.map((name) => `- It could not be shown that ${keystoneText(name)}.`),
  ];
}
