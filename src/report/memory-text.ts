import { sizeText } from '../bytes/size-text.js';
import { hex } from '../firmware/problem.js';
import type { FirstFetch } from '../rehearsal/first-fetch.js';
import type { Region } from '../rehearsal/memory-picture.js';

/** Characters between the two sides of the picture. */
const inner = 34;

const labels: Readonly<Record<Region['kind'], string>> = {
  'boot-loader': 'boot loader',
  program: 'NEW PROGRAM',
  rest: 'rest of the place',
  settings: 'settings',
  other: 'not described',
};

/**
 * The memory of the board as a column, lowest address at the top, in plain characters and within 80 columns: every
 * region with its size, and beside it what the processor does there.
 */
export function memoryText(regions: readonly Region[], fetch: FirstFetch | null): string[] {
  const lines: string[] = [];
  const edge = (address: number): string => `  ${hex(address).padEnd(10)}  +${'-'.repeat(inner)}+`;
  for (const region of regions) {
    const { kind, start, end, over, pieces } = region;
    lines.push(edge(start));
    const fill = kind === 'program' ? '#' : ' ';
    const what = over === null ? labels[kind] : `${labels[kind]} over the ${over.replace('-', ' ')}`;
    const size = pieces > 1 ? `${pieces} pieces` : sizeText(end - start);
    const row = (text: string, note = ''): string => `${' '.repeat(14)}|${text}|${note}`.trimEnd();
    const gap = Math.max(1, inner - 4 - what.length - size.length);
    const notes = notesIn(region, fetch);
    lines.push(row(`${fill} ${what}${' '.repeat(gap)}${size} ${fill}`.slice(0, inner), notes[0]));
    for (const note of notes.slice(1)) lines.push(row(fill + ' '.repeat(inner - 2) + fill, note));
  }
  const last = regions.at(-1);
  if (last) lines.push(edge(last.end));
  return lines;
}

function notesIn({ start, end }: Region, fetch: FirstFetch | null): string[] {
  const isIn = (address: number): boolean => address >= start && address < end;
  if (fetch === null) return [];
  return [
    ...(isIn(fetch.vectorsAt) ? ['  <- vector table'] : []),
    ...(isIn(fetch.address) ? [`  <- starts at ${hex(fetch.address)}`] : []),
  ];
}
