import type { Range } from '../board/profile.js';
import { sizeText } from '../bytes/size-text.js';
import { areaFact } from '../facts/collect-program.js';
import { Absent, Unseen } from '../facts/fact.js';
import type { Decoded, EncodingId } from '../firmware/encodings/encoding.js';
import { encodingOf } from '../firmware/encodings/registry.js';
import { type MemoryMap, singleSegment } from '../firmware/memory-map.js';
import type { RehearsalSubject } from './subject.js';
import type { StepWork } from './work.js';

/** What the loader takes the file for, whatever it is by its content. */
export interface Program {
  readonly encoding: EncodingId;
  /** The bytes where the loader puts them; null where nobody can see them: scrambled or packed. */
  readonly map: MemoryMap | null;
}

const fourGiB = 2 ** 32;

/** The loader reads the file. Null when it gets nothing that it could write, or nobody knows what. */
export function readUpdateFile(work: StepWork, subject: RehearsalSubject): Program | null {
  const { file, isCard } = subject;
  if (file === null) {
    work.unknown({ text: 'which file the loader reads was not found out' });
    return null;
  }
  const { entry, bytes } = file;
  // Without a card there is no place of which to speak; the first step has said so.
  if (isCard) place(work, subject);
  if (entry.bytes === 0) work.failed(`${entry.path} is empty.`, { late: true, rule: 'file/empty' });
  if (bytes === null) {
    const whole = work.seen('updateFile.whole');
    if (whole === false) work.failed(`${entry.path} cannot be read to its end.`, { late: true });
    else if (whole === true)
      work.unknown({ text: `${entry.path} is larger than any program of such a board` });
    return null;
  }
  if (work.has('failed')) return null;
  const program = programOf(work, subject, bytes);
  if (work.has('failed')) return program;
  work.wants<Range>(
    'update.bytes',
    'updateFile.bytes',
    (found, { min = 0, max = Number.POSITIVE_INFINITY }) => Number(found) >= min && Number(found) <= max,
    (found) => `A file of ${sizeText(Number(found))} is shorter or longer than this loader takes.`,
    { content: true, rule: 'image/size' },
  );
  work.wants<number>(
    'update.lengthMultiple',
    'updateFile.bytes',
    (found, said) => Number(found) % said === 0,
    (_found, said) =>
      `The length of the file is no multiple of ${sizeText(said)}, in which this loader reads.`,
    { content: true, rule: 'image/length-multiple' },
  );
  if (program !== null && work.findings.length === 0)
    work.done(`It reads all ${sizeText(bytes.length)} of ${entry.path}.`);
  return program;
}

/** Where the bytes lie on the card, and whether this loader finds its way there. */
function place(work: StepWork, { file, store }: RehearsalSubject): void {
  const { entry } = file!;
  const pieces = store.number('updateFile.fragments');
  if (typeof entry.startByte === 'number' && entry.bytes > 0)
    work.reads.push({
      what: pieces === undefined || pieces === 1 ? entry.path : `${entry.path}, in ${pieces} pieces, from`,
      start: entry.startByte,
      bytes: entry.bytes,
    });
  const late = { late: true, fresh: true };
  work.wants<{ max: number }>(
    'loader.fragments',
    'updateFile.fragments',
    (found, { max }) => Number(found) <= max,
    (found, { max }) =>
      `The file lies on the card in ${found} pieces; this loader follows ${max === 1 ? 'one' : max}.`,
    { ...late, rule: 'volume/fragments' },
  );
  work.wants<boolean>(
    'loader.readsLastCluster',
    'updateFile.usesLastCluster',
    (used, said) => said || used === false,
    () => 'The file reaches into the very last cluster of the volume, which this loader does not read.',
    { ...late, rule: 'volume/last-cluster' },
  );
  if (work.said<string>('loader.addressing') === 'bytes32') {
    const end = work.seen('updateFile.endByte', late);
    if (typeof end === 'number' && end > fourGiB)
      work.failed(
        'The file ends behind the first 4 GiB of the card, where this loader reads the wrong place.',
        { late: true, rule: 'file/beyond-four-gib' },
      );
  }
  if (store.value('updateFile.sameThroughEachFat') === false)
    work.unknown(
      { text: 'the two copies of the file allocation table lead to different bytes' },
      { rule: 'volume/fat-copies' },
    );
  else work.seen('updateFile.sameThroughEachFat');
  if (store.value('damage.touchesUpdateFile') === true)
    work.failed('The file system of the card is damaged where the update file lies.', {
      late: true,
      rule: 'volume/damage-at-update-file',
    });
}

/**
 * What lies in the loader's hands once it has read the file the way it reads files: one that wants plain bytes takes
 * any file for plain bytes.
 */
function programOf(work: StepWork, subject: RehearsalSubject, bytes: Uint8Array): Program | null {
  const { resolved, decoded } = subject;
  const wanted =
    resolved.update.encoding === 'any' ? decoded?.encoding : work.said<EncodingId>('update.encoding');
  if (wanted === undefined) {
    if (!work.has('unknown')) work.failed('The file is no firmware of any kind.', { late: true });
    return null;
  }
  if (wanted === 'raw') return plainProgram(work, subject, bytes);
  const title = encodingOf(wanted).title;
  if (wanted === 'scrambled' || wanted === 'packed-gzip') {
    if (decoded?.encoding === wanted) return { encoding: wanted, map: null };
    work.failed(`The file is not of the form that this loader unpacks (${title}).`, { content: true });
    return null;
  }
  if (decoded?.encoding !== wanted && encodingOf(wanted).detect(bytes).confidence === 'no') {
    work.failed(`The file is not of the form that this loader reads (${title}).`, { late: true });
    return null;
  }
  return readInto(work, subject, wanted, bytes);
}

function plainProgram(work: StepWork, subject: RehearsalSubject, bytes: Uint8Array): Program | null {
  const start = startOfArea(work, subject);
  const skip = work.said<number>('update.skipBytes') ?? 0;
  if (start === null || subject.resolved.open['update.skipBytes']) return null;
  return { encoding: 'raw', map: singleSegment(start, bytes.subarray(skip)) };
}

/** Oddities that a loader passes over: they change neither what is written nor where. */
const harmless = ['block-order', 'extension-tag', 'several-starts', 'trailing-bytes'];

function readInto(
  work: StepWork,
  subject: RehearsalSubject,
  wanted: EncodingId,
  bytes: Uint8Array,
): Program | null {
  const { processor, decoded } = subject;
  const family = processor?.uf2Family;
  const read =
    decoded?.encoding === wanted
      ? decoded
      : encodingOf(wanted).decode(bytes, family == null ? {} : { uf2Family: family });
  const fault = read.problems.find(({ code }) => !harmless.includes(code));
  if (!read.whole || fault)
    work.failed(fault ? `The file is broken: ${fault.text}.` : 'A part of the program lacks in the file.', {
      late: true,
      ...(read.whole ? { rule: 'image/sound' } : {}),
    });
  if (!isForBoard(read, subject))
    work.failed('The file is made for another processor.', {
      content: true,
      rule: wanted === 'uf2' ? 'image/uf2-family' : 'image/esp-chip',
    });
  if (work.has('failed')) return null;
  if (wanted !== 'esp-image') return { encoding: wanted, map: read.map };
  // Such a file lies in flash as it is, whatever addresses its parts name.
  const start = startOfArea(work, subject);
  return start === null ? null : { encoding: wanted, map: singleSegment(start, bytes) };
}

/** False for blocks of another family of processors, which loaders skip, and for an image that names another chip. */
function isForBoard({ details, map }: Decoded, { processor }: RehearsalSubject): boolean {
  if (details.kind === 'uf2') return map.byteCount > 0;
  if (details.kind !== 'esp-image' || details.chipId === null || processor === null) return true;
  return processor.espChipId === null || processor.espChipId === details.chipId;
}

/** Where the loader puts a file that names no address; null when that is not known, which is noted. */
function startOfArea(work: StepWork, { resolved }: RehearsalSubject): number | null {
  const area = areaFact(resolved, 'application');
  if (area instanceof Unseen) work.unknown(area);
  else if (area instanceof Absent)
    work.unknown({ text: 'the board profile does not say where in the memory the program goes' });
  return area instanceof Unseen || area instanceof Absent ? null : area.start;
}
