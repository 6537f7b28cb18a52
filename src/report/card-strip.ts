import { sizeText } from '../bytes/size-text.js';
import { visible } from '../rules/visible.js';
import { amount, type FactGroup, group, groupsOf } from './fact-values.js';
import type { Report } from './report.js';
import { wrap } from './wrap.js';

/** What a stretch of the card is. */
export type StripKind =
  | 'partition-table'
  /** Belongs to nothing, or to nothing that was looked at. */
  | 'unused'
  | 'other-partition'
  /** Boot sector and what is reserved with it. */
  | 'boot'
  | 'fat'
  | 'root-folder'
  | 'update-file'
  /** Other files and free space. */
  | 'data'
  /** Could not be seen. */
  | 'unknown'
  /** Promised by a table, but behind the end of the medium. */
  | 'beyond-end';

/** One stretch of the card, in bytes from its start. Stretches follow one another without a gap. */
export interface StripSegment {
  readonly kind: StripKind;
  readonly start: number;
  readonly length: number;
  /** Plain words; names from the card stand in it as they are. */
  readonly label: string;
  /** True inside the volume that the boot loader takes. */
  readonly inVolume: boolean;
  /** Number of the piece of the update file, in the order of the file, from 1. */
  readonly piece?: number;
}

/** A named stretch before it has its place among the others. */
type Part = Omit<StripSegment, 'inVolume'>;

/**
 * The card as a row of stretches, from its first byte to its last: partition table, volume with its boot sector, FATs
 * and root folder, the update file in its pieces, and what lies between. Null where no FAT volume was found on a
 * medium: there is nothing to draw then.
 */
export function cardStrip({ facts, target }: Pick<Report, 'facts' | 'target'>): StripSegment[] | null {
  const volume = group(facts.volume);
  const volumeStart = amount(volume.startByte);
  const mediumBytes = amount(group(facts.media).bytes);
  const isMedium = target.kind === 'image' || target.kind === 'device';
  if (!isMedium || volumeStart === null || mediumBytes === null) return null;
  if (!/^FAT(12|16|32)$/.test(String(volume.fileSystem))) return null;

  const partition = group(facts.partition);
  const placeBytes = amount(partition.bytes) ?? mediumBytes - volumeStart;
  const volumeEnd = volumeStart + (amount(volume.bytes) ?? placeBytes);
  const inside = volumeParts(facts, volumeStart, volumeEnd);
  const outside = [...tableParts(facts, volumeStart), ...otherPartitions(facts)];
  const row = [
    ...filled(clipped(outside, 0, volumeStart), 0, volumeStart, 'unused', 'unused').map((part) => ({
      ...part,
      inVolume: false,
    })),
    ...inside.map((part) => ({ ...part, inVolume: true })),
    ...filled(
      clipped(outside, volumeEnd, Number.MAX_SAFE_INTEGER),
      volumeEnd,
      Math.max(mediumBytes, volumeEnd),
      'unused',
      'unused',
    ).map((part) => ({ ...part, inVolume: false })),
  ];
  return row.flatMap((part) => cutAtEnd(part, mediumBytes));
}

function tableParts(facts: FactGroup, volumeStart: number): Part[] {
  const { scheme } = group(facts.partitionTable);
  if (scheme === undefined || scheme === null || scheme === 'none' || volumeStart === 0) return [];
  // Protective MBR, header and the usual 128 entries of 128 bytes: UEFI Specification 2.10, 5.3.
  const length = scheme === 'mbr' ? 512 : 34 * 512;
  return [
    { kind: 'partition-table', start: 0, length, label: `partition table (${String(scheme).toUpperCase()})` },
  ];
}

function otherPartitions(facts: FactGroup): Part[] {
  return groupsOf(group(facts.partitionTable).entries).flatMap((entry): Part[] => {
    const start = amount(entry.startByte);
    const length = amount(entry.bytes);
    if (entry.taken === true || entry.kind === 'extended' || start === null || length === null) return [];
    const holds = typeof entry.fileSystem === 'string' ? ` (${entry.fileSystem})` : '';
    return [{ kind: 'other-partition', start, length, label: `another partition${holds}` }];
  });
}

function volumeParts(facts: FactGroup, start: number, end: number): Part[] {
  const volume = group(facts.volume);
  const dataStart = amount(volume.dataStartByte);
  const sectorBytes = amount(volume.bytesPerSector);
  const reserved = amount(volume.reservedSectors);
  const fatCount = amount(volume.fatCount);
  const known = dataStart !== null && sectorBytes !== null && reserved !== null && fatCount !== null;
  const whole: Part = { kind: 'unknown', start, length: end - start, label: 'could not be read' };
  if (start >= end) return [];
  if (!known || dataStart <= start || dataStart > end) return [whole];

  const rootStart = amount(volume.rootStartByte);
  const isRootFixed = rootStart !== null && rootStart < dataStart;
  const fatStart = start + reserved * sectorBytes;
  const fatEnd = isRootFixed ? rootStart : dataStart;
  const fatBytes = Math.floor((fatEnd - fatStart) / Math.max(1, fatCount));
  if (fatStart >= fatEnd || fatCount < 1 || fatCount > 255) return [whole];
  const parts: Part[] = [
    { kind: 'boot', start, length: fatStart - start, label: 'boot sector' },
    ...Array.from(
      { length: fatCount },
      (_, index): Part => ({
        kind: 'fat',
        start: fatStart + index * fatBytes,
        length: index === fatCount - 1 ? fatEnd - fatStart - index * fatBytes : fatBytes,
        label: `file allocation table ${fatCount === 1 ? '' : `${index + 1} of ${fatCount}`}`.trimEnd(),
      }),
    ),
  ];
  if (isRootFixed)
    parts.push({
      kind: 'root-folder',
      start: rootStart,
      length: dataStart - rootStart,
      label: 'root folder',
    });
  const before = filled(clipped(parts, start, dataStart), start, dataStart, 'unknown', whole.label);
  return [...before, ...dataParts(facts, dataStart, end)];
}

/** The clusters: a root folder that is one of them, the pieces of the update file, and the rest. */
function dataParts(facts: FactGroup, start: number, end: number): Part[] {
  const volume = group(facts.volume);
  const file = group(facts.updateFile);
  const pieces = groupsOf(file.pieces);
  const total = Math.max(amount(file.fragments) ?? 0, pieces.length);
  const parts = pieces.flatMap((each, index): Part[] => {
    const at = amount(each.startByte);
    const length = amount(each.bytes);
    if (at === null || length === null || length === 0) return [];
    const name = `update file${typeof file.path === 'string' ? ` ${file.path}` : ''}`;
    const which = total > 1 ? `, piece ${index + 1} of ${total}` : '';
    return [{ kind: 'update-file', start: at, length, label: name + which, piece: index + 1 }];
  });
  const rootStart = amount(volume.rootStartByte);
  const clusterBytes = amount(volume.clusterBytes);
  if (rootStart !== null && clusterBytes !== null && rootStart >= start)
    parts.push({ kind: 'root-folder', start: rootStart, length: clusterBytes, label: 'root folder' });
  // With a file whose place could not be seen, or more pieces than are listed, the rest may hold it.
  const isSeen = file.path === undefined || (total > 0 && pieces.length === total) || file.bytes === 0;
  return filled(
    clipped(parts, start, end),
    start,
    end,
    isSeen ? 'data' : 'unknown',
    isSeen ? 'other files and free space' : 'not all of it could be placed',
  );
}

/** The parts in the order of their places, cut to a range; of two that overlap the first keeps the bytes. */
function clipped(parts: readonly Part[], from: number, to: number): Part[] {
  const row: Part[] = [];
  let at = from;
  for (const part of [...parts].sort((one, other) => one.start - other.start)) {
    const start = Math.max(part.start, at);
    const end = Math.min(part.start + part.length, to);
    if (end <= start) continue;
    row.push({ ...part, start, length: end - start });
    at = end;
  }
  return row;
}

/** Parts in order with what lies between them. */
function filled(parts: readonly Part[], from: number, to: number, kind: StripKind, label: string): Part[] {
  const row: Part[] = [];
  let at = from;
  for (const part of parts) {
    if (part.start > at) row.push({ kind, start: at, length: part.start - at, label });
    row.push(part);
    at = part.start + part.length;
  }
  if (at < to) row.push({ kind, start: at, length: to - at, label });
  return row;
}

/** A segment that runs past the end of the medium in two: what is there, and what is not. */
function cutAtEnd(segment: StripSegment, mediumBytes: number): StripSegment[] {
  const { start, length, inVolume } = segment;
  const there = Math.max(0, Math.min(length, mediumBytes - start));
  if (there === length) return [segment];
  return [
    ...(there > 0 ? [{ ...segment, length: there }] : []),
    {
      kind: 'beyond-end',
      start: start + there,
      length: length - there,
      label: 'not there: behind the end of the card or image',
      inVolume,
    },
  ];
}

/** One character for each kind of stretch; pieces of the update file have their number. */
const signs: Readonly<Record<StripKind, string>> = {
  'partition-table': 'T',
  unused: '-',
  'other-partition': 'P',
  boot: 'B',
  fat: 'F',
  'root-folder': 'R',
  'update-file': 'U',
  data: '.',
  unknown: '?',
  'beyond-end': 'x',
};
/** More pieces of the update file, with what lies between them, drawn as one. */
const manySign = '+';

/** Stretches drawn as one, with the sign for them. */
export interface Cell {
  sign: string;
  readonly segments: StripSegment[];
}

/**
 * The strip as lines of plain characters, at most `width` long: one line that shows the order of the stretches (their
 * sizes only roughly), and one line of legend for each kind of sign.
 */
export function stripText(segments: readonly StripSegment[], width: number): string[] {
  const columns = Math.max(24, width) - 2;
  let cells = cellsOf(segments, 9);
  for (const most of [4, 1, 0]) if (cells.length + 2 > columns) cells = cellsOf(segments, most);
  if (cells.length + 2 > columns) return [];
  const widths = cellWidths(cells, columns - 2);
  let line = '';
  let wasInside = false;
  cells.forEach(({ sign, segments: [first] }, index) => {
    const isInside = first?.inVolume ?? false;
    if (isInside !== wasInside) line += isInside ? '[' : ']';
    line += sign.repeat(widths[index] ?? 1);
    wasInside = isInside;
  });
  if (wasInside) line += ']';
  return [
    `  ${line}`,
    ...legend(cells).flatMap(({ sign, text }) => wrap(text, width, `  ${sign.padEnd(4)}`)),
  ];
}

/** One cell for each stretch; from the piece after `most` on, pieces and what lies between them share one. */
export function cellsOf(segments: readonly StripSegment[], most: number): Cell[] {
  const pieces = segments.filter(({ piece }) => piece !== undefined).length;
  const cells: Cell[] = [];
  for (const segment of segments) {
    const { kind, piece } = segment;
    const isSmall = kind === 'data' || kind === 'unknown';
    const sign =
      piece === undefined ? signs[kind] : pieces === 1 ? 'U' : piece <= most ? String(piece) : manySign;
    const [before, last] = cells.slice(-2);
    if (sign === manySign && last?.sign === manySign) last.segments.push(segment);
    else if (sign === manySign && before?.sign === manySign && last && isSmallCell(last)) {
      before.segments.push(...last.segments, segment);
      cells.pop();
    } else if (isSmall && last?.sign === sign) last.segments.push(segment);
    else cells.push({ sign, segments: [segment] });
  }
  return cells;
}

const isSmallCell = ({ sign }: Cell): boolean => sign === signs.data || sign === signs.unknown;

/** How wide a cell is beside others: from 1 to 12, for a thousand times longer is not much wider. */
export function cellWeight({ segments }: Cell): number {
  const bytes = segments.reduce((sum, { length }) => sum + length, 0);
  return Math.max(1, Math.min(12, Math.log2(bytes / 4096 + 1)));
}

/** Columns for each cell: one at least, more for longer stretches. */
function cellWidths(cells: readonly Cell[], columns: number): number[] {
  const wish = cells.map((cell) => Math.round(cellWeight(cell)));
  const spare = columns - cells.length;
  const wanted = wish.reduce((sum, each) => sum + each - 1, 0);
  if (wanted <= spare) return wish;
  return wish.map((each) => 1 + Math.floor(((each - 1) * spare) / wanted));
}

/** What each sign means and where it is, in the order of the strip. */
export function legend(cells: readonly Cell[]): LegendLine[] {
  const lines: LegendLine[] = [];
  const said = new Set<string>();
  const inside = cells.flatMap(({ segments }) => segments).filter(({ inVolume }) => inVolume);
  const volumeBytes = inside.reduce((sum, { length }) => sum + length, 0);
  for (const { sign, segments } of cells) {
    const [first] = segments;
    if (first === undefined) continue;
    if (first.inVolume && !said.has('[')) {
      said.add('[');
      lines.push(
        entry('[ ]', `the volume that the boot loader takes, ${sizeText(volumeBytes)}`, first.start),
      );
    }
    if (said.has(sign)) continue;
    said.add(sign);
    const all = cells.filter((cell) => cell.sign === sign).flatMap((cell) => cell.segments);
    const pieces = all.filter(({ piece }) => piece !== undefined);
    if (sign === manySign)
      lines.push(
        entry(sign, `${pieces.length} more pieces of the update file, and what lies between`, first.start),
      );
    else if (sign === signs.fat && all.length > 1)
      lines.push(entry(sign, `file allocation table, ${all.length} copies`, first.start));
    else if (sign === signs.data || sign === signs.unused || sign === signs.unknown)
      lines.push(entry(sign, first.label));
    else {
      const bytes = all.reduce((sum, { length }) => sum + length, 0);
      const size = first.piece === undefined ? '' : `, ${sizeText(bytes)}`;
      lines.push(entry(sign, first.label + size, first.start));
    }
  }
  return lines;
}

export interface LegendLine {
  readonly sign: string;
  readonly text: string;
}

const entry = (sign: string, label: string, start?: number): LegendLine => ({
  sign,
  text: visible(label) + (start === undefined ? '' : `, from byte ${start}`),
});
