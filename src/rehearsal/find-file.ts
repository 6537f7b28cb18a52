import type { Said } from '../board/profile.js';
import { Absent, FactList, type FactRecord, type FactValue, isRecord, Unseen } from '../facts/fact.js';
import { wantedFile } from '../facts/update-file-name.js';
import type { RehearsalSubject } from './subject.js';
import type { StepWork } from './work.js';

/** The loader looks for the update file and for the files that set it off. */
export function findFile(work: StepWork, subject: RehearsalSubject): void {
  const { resolved, tree, file, store } = subject;
  for (const key of ['update.path', 'update.names', 'update.match']) {
    const open = resolved.open[key];
    if (open) {
      work.unknown(open);
      return;
    }
  }
  const wanted = wantedFile(resolved);
  if (wanted === null) {
    work.unknown({
      text: 'the board profile does not say which file this loader looks for',
      settle: 'ask the author of the profile for update.path or update.match',
    });
    return;
  }
  if (tree instanceof Unseen) {
    work.unknown(tree);
    return;
  }
  const root = store.number('volume.rootStartByte');
  const slots = store.number('volume.rootEntriesUsed');
  if (root !== undefined && slots !== undefined)
    work.reads.push({ what: 'top folder', start: root, bytes: slots * 32 });
  if (file === null) {
    if (tree.incomplete) {
      work.unknown(tree.incomplete);
      return;
    }
    const done = items(store.value('updateFile.doneMarkers'));
    work.failed(
      done.length > 0
        ? `There is no ${wanted.text} on the card, only ${done.join(', ')}, which was flashed before.`
        : `There is no ${wanted.text} where this loader looks.`,
    );
    return;
  }
  const count = items(store.value('updateFile.candidates')).length;
  work.done(
    count > 1
      ? `It takes ${file.entry.path}, the first of ${count} files that it could take.`
      : `It takes ${file.entry.path}.`,
  );
  if (tree.incomplete) work.unknown(tree.incomplete);
  isMet(work, subject);
  isWanted(work);
  triggers(work, store.value('companions'));
}

/** Whether the loader meets this very entry on its way. */
function isMet(work: StepWork, { store, file }: RehearsalSubject): void {
  if (items(store.value('updateFile.folderTwins')).length > 0)
    work.unknown(
      { text: 'two folders answer to one name, and nobody can say which one the loader opens' },
      { rule: 'file/one-folder' },
    );
  const limit = work.seen('updateFile.entryLimit');
  if (typeof limit === 'number') {
    const index = work.seen('updateFile.entryIndex', { fresh: true });
    const counts = work.said<boolean>('loader.countsDeleted') !== false;
    const before = counts ? 0 : work.seen('updateFile.deletedBefore', { fresh: true });
    if (typeof index === 'number' && typeof before === 'number' && index - before >= limit)
      work.failed(
        `Its directory entry is number ${index - before + 1}, and this loader looks at the first ${limit} alone.`,
        { rule: 'volume/entry-limit' },
      );
  }
  if (work.said<boolean>('loader.takesDeletedEntries') === true) {
    const twins = work.seen('updateFile.deletedTwins', { fresh: true });
    if (typeof twins === 'number' && twins > 0)
      work.unknown(
        { text: 'a deleted file of the same name may be taken in its place' },
        { rule: 'volume/deleted-twin' },
      );
  }
  if (work.said<boolean>('loader.ignoresLabel') === false && work.seen('updateFile.labelTaken') === true)
    work.failed('The volume label has the name of the update file, and this loader takes it for the file.', {
      late: true,
      rule: 'volume/label-clash',
    });
  work.wants<number>(
    'card.maxEntries',
    'volume.rootEntries',
    (found, said) => Number(found) <= said,
    (found, said) =>
      `There are ${found} files and folders in the top folder; this loader puts up with ${said}.`,
    { rule: 'volume/crowded' },
  );
  const others = items(store.value('otherFiles.list')).length;
  if (work.said<string>('card.otherFiles') === 'forbidden' && others > 0)
    work.failed(`Besides ${file?.entry.path} there are files on the card that do not belong to the update.`, {
      rule: 'card/other-files',
    });
}

/** Whether the loader wants this file: a name or a release that it had before is passed over by some. */
function isWanted(work: StepWork): void {
  work.wants<Said<string>>(
    'update.naming',
    'updateFile.nameUsedBefore',
    (used, said) => said !== 'new-each-time' || used === 'not-known',
    () => 'A file of this name was flashed before, and this loader takes every name once only.',
    { rule: 'file/new-name' },
  );
  if (work.seen('release.taken') === false)
    work.failed('This loader does not take that release in place of the one that runs.', {
      rule: 'machine/newer',
    });
  const since = work.quietly('release.lockedSince');
  if (typeof since === 'string')
    work.failed(
      `From release ${since} on this loader takes no older one, and the machine is there already.`,
      {
        rule: 'machine/locked',
      },
    );
}

/** The files without which the loader does not begin. */
function triggers(work: StepWork, companions: FactValue): void {
  const list = work.known(companions);
  if (!(list instanceof FactList)) return;
  for (const one of list.items) {
    if (!isRecord(one) || (one.role !== 'trigger' && one.role !== 'flasher')) continue;
    trigger(work, one);
  }
}

function trigger(work: StepWork, one: FactRecord): void {
  const required = work.known(one.required);
  const found = work.known(one.found);
  if (found === false) {
    if (required === true)
      work.failed(`${one.path} is not on the card; without it this loader passes over the update file.`);
    return;
  }
  if (found !== true) return;
  const before = work.findings.length;
  for (const [fact, words, rule] of [
    [one.bytesFit, 'has another size than this loader wants', 'companion/size'],
    [one.contentFits, 'holds something else than this loader wants', 'companion/content'],
    [one.whole, 'cannot be read to its end', undefined],
    [isStoredRight(one), 'is not stored as the plain text that this loader wants', 'companion/text-encoding'],
  ] as const)
    if (work.known(fact) === false) work.failed(`${one.path} ${words}.`, rule === undefined ? {} : { rule });
  if (work.findings.length === before) work.done(`It finds ${one.path}, which sets it off.`);
}

function isStoredRight(one: FactRecord): boolean {
  const { encoding, encodingWanted, mark, markAllowed, lineEnds, lineEndsWanted, grammarFaults } = one;
  const isSaid = (value: FactValue | undefined): value is string | boolean =>
    typeof value === 'string' || typeof value === 'boolean';
  if (isSaid(encodingWanted) && isSaid(encoding) && encoding !== encodingWanted && encoding !== 'ascii')
    return false;
  if (markAllowed === false && isSaid(mark) && mark !== 'none') return false;
  if (isSaid(lineEndsWanted) && isSaid(lineEnds) && lineEnds !== 'none' && lineEnds !== lineEndsWanted)
    return false;
  return items(grammarFaults).length === 0;
}

/** The items of a list as far as they are known. */
const items = (value: FactValue | undefined): readonly FactValue[] =>
  value instanceof FactList
    ? value.items.filter((item) => !(item instanceof Unseen || item instanceof Absent))
    : [];
