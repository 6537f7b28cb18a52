import { FactList, isRecord } from '../facts/fact.js';
import type { MemoryMap } from '../firmware/memory-map.js';
import { hex } from '../firmware/problem.js';
import type { FirstFetch } from './first-fetch.js';
import type { Program } from './read-file.js';
import type { RehearsalSubject } from './subject.js';
import type { StepWork } from './work.js';

/** The loader marks the card, so that it does not flash again at the next power-up. */
export function mark(work: StepWork, subject: RehearsalSubject): void {
  const { store, file } = subject;
  const name = file?.entry.path ?? 'the update file';
  const after = work.said<string>('update.afterSuccess');
  if (after === undefined) {
    if (work.findings.length === 0)
      work.done(`The profile does not say what becomes of ${name}: take the card out afterwards.`);
    return;
  }
  if (after === 'keep') {
    work.done(
      `It leaves ${name} as it is: take the card out before the next power-up, or it may flash again.`,
    );
  } else {
    if (work.seen('updateFile.readOnly') === true)
      work.repeats(`${name} is marked read-only, so that it can be neither renamed nor deleted.`);
    const marker = work.said<string>('update.doneMarker');
    const marks = work.quietly('updateFile.doneMarkers');
    if (
      work.said<boolean>('update.markerBlocks') === true &&
      marks instanceof FactList &&
      marks.items.length > 0
    )
      work.repeats(`${marker} of an earlier flash is in the way of the new one.`);
  }
  const needs = work.said<number>('update.needsFreeClusters');
  const free = needs === undefined ? undefined : work.seen('volume.freeClusters');
  if (typeof free === 'number' && free < (needs ?? 0))
    work.repeats('The card is too full for what the loader writes on it.');
  const companions = store.value('companions');
  const stuck = (companions instanceof FactList ? companions.items : []).flatMap((one) =>
    isRecord(one) &&
    one.readOnly === true &&
    one.found === true &&
    (one.afterSuccess === 'delete' || one.afterSuccess === 'rename')
      ? [String(one.foundAt)]
      : [],
  );
  for (const path of stuck)
    work.repeats(`${path} is marked read-only, so that it stays and sets the loader off again.`);
  if (work.findings.length === 0) {
    const marker = work.said<string>('update.doneMarker');
    work.done(
      after === 'delete'
        ? `It deletes ${name}.`
        : `It renames ${name}${marker === undefined ? '' : ` to ${marker}`}, so that it is not flashed again.`,
    );
  }
}

/** The loader hands over to the new program. */
export function jump(
  work: StepWork,
  { decoded, processor }: RehearsalSubject,
  program: Program | null,
  fetch: FirstFetch | null,
): void {
  if (program === null) {
    if (!work.has('unknown')) work.unknown({ text: 'what would run was not found out' });
    return;
  }
  if (program.map === null) {
    work.notShown('The program is scrambled or packed: what it does first cannot be seen here.');
    return;
  }
  if (decoded === null || (decoded.encoding !== program.encoding && program.encoding === 'raw')) {
    work.failed(
      decoded === null
        ? 'What was written is no program at all.'
        : 'What was written is the file of another form as it is, not the program in it.',
      { fatal: true },
    );
    return;
  }
  if (processor === null) {
    work.notShown(
      'The board profile does not say which processor starts the program, so its first step cannot be followed.',
    );
    return;
  }
  if (fetch === null) {
    if (processor.core.startsWith('cortex-m') && program.encoding !== 'esp-image')
      work.failed('No byte of the program lies where the processor looks for its start.', { fatal: true });
    else if (beginsBlank(program.map))
      work.failed('The program begins with blank bytes, which no program does.', {
        fatal: true,
        rule: 'image/blank',
      });
    else
      work.notShown(
        'This processor starts without a table of vectors, so its first step cannot be followed here.',
      );
    return;
  }
  follow(work, fetch);
}

const blankHead = 64;

function beginsBlank(map: MemoryMap): boolean {
  const head = map.segments[0]?.bytes.subarray(0, blankHead) ?? new Uint8Array();
  return head.length === blankHead && head.every((byte) => byte === head[0] && (byte === 0 || byte === 0xff));
}

function follow(
  work: StepWork,
  { initialStack, resetVector, stackInRam, thumb, address, target }: FirstFetch,
): void {
  const fatal = { fatal: true, rule: 'image/reset-vector' };
  if (!stackInRam)
    work.failed(`The stack would begin at ${hex(initialStack)}, where the processor has no memory.`, {
      fatal: true,
      rule: 'image/initial-stack',
    });
  // The processor takes the two low bits for zero (ARM DDI 0403, B1.4.1); no linker makes such a program.
  else if (initialStack % 4 !== 0)
    work.unknown(
      { text: `the stack would begin between two words of memory, at ${hex(initialStack)}` },
      { rule: 'image/initial-stack' },
    );
  if (!thumb)
    work.failed(
      `The reset vector ${hex(resetVector)} is an even number, with which this processor stops at once.`,
      fatal,
    );
  const where: Readonly<Record<Exclude<FirstFetch['target'], 'program'>, string>> = {
    blank: 'where the file holds blank bytes',
    'not-written': 'where the file writes nothing',
    'boot-loader': 'into the boot loader, which would begin all over again',
    ram: 'into working memory, where no program is yet',
    nowhere: 'where there is no memory',
  };
  if (target !== 'program')
    work.failed(`The reset vector points at ${hex(address)}, ${where[target]}.`, fatal);
  if (work.findings.length === 0)
    work.done(`The processor takes its first instruction from ${hex(address)}, which the file has filled.`);
}
