import { readVectors } from '../firmware/vector-table.js';
import type { FirstFetch } from './first-fetch.js';
import type { Program } from './read-file.js';
import type { RehearsalSubject } from './subject.js';
import type { StepWork } from './work.js';

/** The loader looks at what it read, as `update.checks` of the profile says. */
export function checkFile(
  work: StepWork,
  subject: RehearsalSubject,
  program: Program | null,
  fetch: FirstFetch | null,
): void {
  const checks = work.said<string[]>('update.checks');
  if (checks === undefined) {
    if (work.findings.length === 0) work.notShown('The board profile does not care what it checks.');
    return;
  }
  const passed: string[] = [];
  for (const check of checks) {
    const before = work.findings.length;
    checkOne(work, check, subject, program, fetch);
    if (work.findings.length === before) passed.push(checkWords[check] ?? check);
  }
  if (passed.length > 0) work.done(`It checks ${passed.join(', ')}: all right.`);
}

const checkWords: Readonly<Record<string, string>> = {
  vectors: 'the first words of the program',
  'word-sum': 'the sum of its first eight words',
  checksum: 'the checksum',
  signature: 'the signature',
  'board-marker': 'the name of the board in it',
};

function checkOne(
  work: StepWork,
  check: string,
  subject: RehearsalSubject,
  program: Program | null,
  fetch: FirstFetch | null,
): void {
  const { processor } = subject;
  const hidden = 'The program is scrambled or packed; what the loader checks in it cannot be seen.';
  if (check === 'nothing') work.done('It checks nothing.');
  else if (check === 'vectors') vectors(work, subject, program, fetch);
  else if (check === 'word-sum') {
    if (!program?.map) {
      work.notShown(hidden);
      return;
    }
    const at = fetch?.vectorsAt ?? program.map.start;
    const sum = at === null || processor === null ? null : (readVectors(program.map, at)?.wordSum ?? null);
    if (processor === null) work.notShown('Which words it adds up is not known without the processor.');
    else if (sum !== 0)
      work.failed('The first eight words of the program do not add up to zero.', { rule: 'image/word-sum' });
  } else if (check === 'checksum') {
    const holds = work.seen('image.checksumHolds');
    if (holds === false)
      work.failed('The checksum in the file is not that of its bytes.', { rule: 'image/checksum' });
    else if (holds === undefined && !work.has('unknown'))
      work.notShown('The board profile does not describe the checksum.');
  } else if (check === 'board-marker') marker(work);
  else work.notShown(`What it checks here (${checkWords[check] ?? check}) cannot be told from outside.`);
}

function vectors(
  work: StepWork,
  { processor }: RehearsalSubject,
  program: Program | null,
  fetch: FirstFetch | null,
): void {
  if (!program?.map || processor === null) {
    work.notShown('The first words of the program cannot be seen, or it is not known what they must be.');
    return;
  }
  if (fetch === null) {
    work.notShown('This processor starts without a table of vectors.');
    return;
  }
  if (!fetch.stackInRam)
    work.failed('The first word of the program is no place in the memory of the processor.', {
      rule: 'image/initial-stack',
    });
  if (!fetch.thumb)
    work.failed(
      'The second word of the program is an even number, with which this processor does not start.',
      {
        rule: 'image/reset-vector',
      },
    );
  else if (fetch.target !== 'program' && fetch.target !== 'blank')
    work.failed('The second word of the program does not point into the program.', {
      rule: 'image/reset-vector',
    });
}

/** The marker of another board makes the loader refuse. Where it looks for its own, only its maker knows. */
function marker(work: StepWork): void {
  const sibling = work.quietly('image.siblingMarker');
  if (typeof sibling === 'string') work.failed(`The program carries the name of another board (${sibling}).`);
  else work.notShown('It looks for the name of the board in the program; by what, only its maker knows.');
}
