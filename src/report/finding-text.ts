import { visible } from '../rules/visible.js';
import { hazardText } from './hazard-words.js';
import type { Finding, RemedyText } from './report.js';
import { systemWords } from './target-words.js';
import { reflow } from './wrap.js';

/** What a finding says in one line: title, what was found and what was needed, or what could not be seen. */
export function findingLine({ outcome, title, found, needed, because, missing = [] }: Finding): string {
  if (outcome === 'failed' || outcome === 'waived')
    return visible(`${title}. Found: ${sentence(found)} Needed: ${sentence(needed)}`);
  if (outcome === 'unknown') {
    const reasons = missing.map(({ text }) => inLine(text)).join('; ');
    return visible(`${title}: could not be judged${reasons === '' ? '' : `, because ${reasons}`}.`);
  }
  const how = outcome === 'holds' ? 'holds' : 'does not apply';
  return visible(`${title}: ${how}${because === undefined ? '' : ` (${inLine(because)})`}.`);
}

/** A text that ends as a sentence does. */
const sentence = (text: string): string => inLine(text).replace(/(?<![.!?])$/, '.');

/** Everything else that helps to mend it, in plain lines for a form that knows no layout. Ends without a line break. */
export function findingDetails(finding: Finding): string {
  const { outcome, hazard, shown = [], total = shown.length, where, missing = [], because, why } = finding;
  const lines = shown.map((item) => `- ${item}`);
  if (total > shown.length) lines.push(`- and ${total - shown.length} more`);
  const place = placeText(where);
  if (place !== null) lines.push(`Where: ${place}`);
  for (const { text, settle } of missing)
    lines.push(
      `Not seen: ${inLine(text)}`,
      ...(settle === undefined ? [] : [`To settle it: ${inLine(settle)}`]),
    );
  lines.push(`Why: ${reflow(why)}`);
  if (outcome === 'failed' || outcome === 'waived') lines.push(`Risk: ${hazardText(hazard)}`);
  if (outcome === 'waived' && because !== undefined) lines.push(`Waived: ${inLine(because)}`);
  const plain = finding.remedy.filter(({ rights }) => rights === 'none');
  for (const step of plain) lines.push(...stepLines(step));
  if (plain.length < finding.remedy.length)
    lines.push(`Steps for administrators: flashworthy explain ${finding.rule}`);
  return lines
    .flatMap((line) => line.split('\n'))
    .map(visible)
    .join('\n');
}

/** `FOLDER/FILE, byte 12 (0xc)`; null when nothing is known of the place. */
export function placeText(where: Finding['where']): string | null {
  const parts = [
    ...(where?.path === undefined ? [] : [where.path]),
    ...(where?.offset === undefined ? [] : [`byte ${where.offset} (0x${where.offset.toString(16)})`]),
  ];
  return parts.length === 0 ? null : parts.join(', ');
}

const stepLines = ({ system, erases, do: steps }: RemedyText): string[] => [
  `Do this (${systemWords[system]}):`,
  ...(erases ? ['THIS ERASES THE CARD.'] : []),
  steps,
];

/** A text of several lines as one. */
export const inLine = (text: string): string => reflow(text).replaceAll(/\s*\n\s*/g, ' ');
