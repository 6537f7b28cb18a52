import { sizeText } from '../bytes/size-text.js';
import { areaFact } from '../facts/collect-program.js';
import { type Absent, Unseen } from '../facts/fact.js';
import type { AddressRange, MemoryMap } from '../firmware/memory-map.js';
import { hex } from '../firmware/problem.js';
import { blocksUnder } from '../firmware/processors.js';
import { type Areas, mostPieces } from './memory-picture.js';
import type { Program } from './read-file.js';
import type { RehearsalSubject } from './subject.js';
import type { StepWork } from './work.js';

const known = (area: AddressRange | Unseen | Absent): AddressRange | null => ('start' in area ? area : null);

/** The areas of the memory on this machine, as far as they are known. */
export function areasOf({ resolved }: RehearsalSubject): Areas {
  const { settings } = resolved.memory;
  return {
    loader: known(areaFact(resolved, 'loader')),
    application: known(areaFact(resolved, 'application')),
    settings: Array.isArray(settings)
      ? settings.map(({ start, bytes }) => ({ start, end: start + bytes }))
      : [],
  };
}

/** The loader erases the place of the program. Gives the bytes that are erased at least. */
export function erase(
  work: StepWork,
  subject: RehearsalSubject,
  program: Program | null,
  isSpare: boolean,
): number | null {
  const { resolved, processor } = subject;
  const area = areaFact(resolved, 'application');
  if (area instanceof Unseen) {
    work.unknown(area);
    return null;
  }
  const whole = known(area);
  if (isSpare) {
    work.done('It erases the place for the second copy; the program that runs is not touched.');
    return program?.map?.byteCount ?? (whole ? whole.end - whole.start : null);
  }
  // Before the file is read the loader cannot know how much of the place it needs.
  const needed = program?.map?.ranges ?? (whole ? [whole] : []);
  const units = processor === null ? [] : blocksUnder(processor, needed);
  if (units.length > 0) {
    const bytes = units.reduce((sum, unit) => sum + unit.end - unit.start, 0);
    work.writes.push(...stretches(units));
    work.done(
      `It erases ${units.length === 1 ? 'one block' : `${units.length} blocks`} of memory, ${sizeText(bytes)}${program === null ? '' : ' at least'}: this processor erases whole blocks only.`,
    );
    return bytes;
  }
  const range = whole ?? (program?.map ? rangeOf(program.map) : null);
  if (range === null) {
    work.notShown('Which part of the memory it erases cannot be seen.');
    return null;
  }
  work.writes.push({ what: 'erased', start: range.start, bytes: range.end - range.start });
  work.done(`It erases the place of the program, ${sizeText(range.end - range.start)} at most.`);
  return range.end - range.start;
}

const rangeOf = (map: MemoryMap): AddressRange | null =>
  map.start === null || map.end === null ? null : { start: map.start, end: map.end };

/** Blocks side by side and of one size as one stretch. */
function stretches(units: readonly AddressRange[]): { what: string; start: number; bytes: number }[] {
  const rows: { start: number; bytes: number; count: number }[] = [];
  for (const { start, end } of units) {
    const last = rows.at(-1);
    if (last && last.start + last.bytes * last.count === start && last.bytes === end - start) last.count++;
    else rows.push({ start, bytes: end - start, count: 1 });
  }
  return rows.map(({ start, bytes, count }) => ({
    what:
      count === 1 ? `erased: a block of ${sizeText(bytes)}` : `erased: ${count} blocks of ${sizeText(bytes)}`,
    start,
    bytes: bytes * count,
  }));
}

/** The loader writes what it read into the memory. */
export function write(
  work: StepWork,
  subject: RehearsalSubject,
  program: Program | null,
  areas: Areas,
): void {
  if (program === null) {
    if (!work.has('failed')) work.unknown({ text: 'what the loader would write was not found out' });
    return;
  }
  if (program.map === null) {
    work.notShown('The program is scrambled or packed: what the loader writes, and where, cannot be seen.');
    return;
  }
  const { map } = program;
  const { ranges } = map;
  const isMany = ranges.length > mostPieces;
  const shown = isMany ? [rangeOf(map)!] : ranges;
  for (const { start, end } of shown)
    work.writes.push({
      what: isMany ? `new program, in ${ranges.length} pieces` : 'new program',
      start,
      bytes: end - start,
    });
  if (map.byteCount === 0) {
    work.failed('The file holds no bytes of program: there is nothing to write.', { content: true });
    return;
  }
  outside(work, subject, map, areas);
  if (work.findings.length === 0)
    work.done(
      `It writes ${sizeText(map.byteCount)} from ${hex(map.start!)} to ${hex(map.end! - 1)}, inside the place of the program.`,
    );
}

/** Bytes that have no business where the file puts them. */
function outside(
  work: StepWork,
  { resolved, processor }: RehearsalSubject,
  map: MemoryMap,
  areas: Areas,
): void {
  const application = areaFact(resolved, 'application');
  if (application instanceof Unseen) work.unknown(application);
  const { loader, settings } = areas;
  if (loader && map.inside(loader.start, loader.end).length > 0) {
    work.failed(
      'The file has bytes for the place of the boot loader itself: a loader that writes them cannot take a card again.',
      { fatal: true },
    );
    return;
  }
  if (settings.some(({ start, end }) => map.inside(start, end).length > 0))
    work.failed(
      'The program reaches into the place of the stored settings, which it would lose or be overwritten by.',
      { fatal: true, rule: 'image/settings-overlap' },
    );
  else if (areas.application && map.outside(areas.application.start, areas.application.end).length > 0) {
    const text = 'The program reaches past the place that is meant for it.';
    if (resolved.loader.erases === 'after-checks')
      work.unknown({
        text: `${text} A loader that checks first refuses that as a rule, but nobody says so here.`,
      });
    else work.failed(text, { late: true });
  } else if (processor !== null && !isInFlash(map, processor.flash))
    work.failed('The program reaches past the memory of the processor.', {
      fatal: true,
      rule: 'image/processor-memory',
    });
}

/** Regions that touch count as one: what lies over their border is in flash all the same. */
function isInFlash(map: MemoryMap, flash: readonly AddressRange[]): boolean {
  return map.ranges.every(({ start, end }) => {
    let at = start;
    for (const region of flash) if (at >= region.start && at < region.end) at = region.end;
    return at >= end;
  });
}
