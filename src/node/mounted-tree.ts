import { lstatSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { ReadProblem } from '../bytes/byte-source.js';
import { litterOf } from '../card/litter.js';
import { Unseen } from '../facts/fact.js';
import type { FolderNames, TreeEntry } from '../facts/file-tree.js';
import type { FolderProblem, MountedTree } from '../facts/mounted-tree.js';
import { ownShortName } from '../facts/update-file-name.js';
import { FolderTree } from './folder-tree.js';
import { errorCode } from './read-cause.js';
import {
  readStagingFolder,
  type SkippedEntry,
  type StagedEntry,
  type StagingFolder,
} from './staging-folder.js';

/** What a driver shows of the files of a FAT volume. */
export interface DriverHabits {
  /** True when it opens a file by its short name too, as the drivers that come with the system do. */
  readonly opensShortNames: boolean;
  /** True when the permissions of a file tell its read-only attribute. */
  readonly showsReadOnly: boolean;
  /** True when it shows names taken apart into letters and accents, however they are stored. */
  readonly takesNamesApart: boolean;
}

/** What is known of a driver that nothing is known of. */
export const unknownDriver: DriverHabits = {
  opensShortNames: false,
  showsReadOnly: false,
  takesNamesApart: false,
};

const noShortName = new Unseen('not-visible', 'a mounted folder does not show short names');
const noAttributes = new Unseen('not-visible', 'a mounted folder does not show the attributes of files');
const noOrder = new Unseen(
  'not-visible',
  'a mounted folder does not show in which order its files stand on the card',
);

/** The files of a mounted volume as the computer shows them. */
export class MountedFolder extends FolderTree implements MountedTree {
  readonly incomplete: Unseen | null;
  readonly closed: MountedTree['closed'];
  readonly unordered = noOrder;
  readonly problems: FolderProblem[] = [];
  private readonly before: string;

  /**
   * Lists the volume that is mounted at `root`. Throws the system's error when that cannot be read.
   * @param notShown what stands for all that only the card itself shows
   */
  static open(root: string, habits: DriverHabits, notShown: Unseen): MountedFolder {
    const { dev } = statSync(root);
    return new MountedFolder(readStagingFolder(root, dev), dev, habits, notShown);
  }

  private constructor(
    folder: StagingFolder,
    private readonly volume: number,
    private readonly habits: DriverHabits,
    notShown: Unseen,
  ) {
    // Where no file at all can be written, the whole volume is mounted so, and no attribute shows.
    const someWritable = folder.entries.some(({ isFolder, readOnly }) => !isFolder && !readOnly);
    super(
      folder,
      (entry) => treeEntry(entry, habits, habits.showsReadOnly && someWritable, notShown),
      notShown,
    );
    this.before = markOf(folder);
    this.incomplete = folder.overLimit === undefined ? null : new Unseen('over-limit', folder.overLimit);
    this.closed = folder.skipped.map((skipped) => {
      const { path, isFolder, code, text } = skipped;
      if (isDying(code)) this.problems.push({ path: shownName(path, habits), isFolder, text });
      return { path: shownName(path, habits), isFolder, why: whyClosed(skipped) };
    });
  }

  find(path: string): string | null | Unseen {
    const unclear = new Unseen(
      'not-visible',
      `this driver does not show whether "${path}" is another file's short name`,
    );
    let wanted: string;
    try {
      wanted = identity(join(this.folder.root, path));
    } catch (error) {
      return errorCode(error) === 'ENOENT' && this.habits.opensShortNames ? null : unclear;
    }
    for (const entry of this.folder.entries) {
      if (entry.isFolder) continue;
      try {
        if (identity(join(this.folder.root, entry.path)) === wanted)
          return shownName(entry.path, this.habits);
      } catch {
        // It went away meanwhile, which `changed` tells.
      }
    }
    return unclear;
  }

  /** True when the volume, or any file that is not the computer's own, is not what it was when it was listed. */
  changed(): boolean {
    try {
      const { root } = this.folder;
      if (statSync(root).dev !== this.volume) return true;
      return markOf(readStagingFolder(root, this.volume)) !== this.before;
    } catch {
      // The card was pulled out.
      return true;
    }
  }

  protected override noteProblem(path: string, { cause, detail }: ReadProblem): void {
    // The words of the system begin with its code.
    if (cause === 'read-error' && isDying(/^[A-Z]+/.exec(detail ?? '')?.[0]))
      this.problems.push({ path, isFolder: false, text: detail ?? 'read error' });
  }
}

/** Errors of the medium itself. Others, such as a name that this computer cannot spell, say nothing about the card. */
const isDying = (code: string | undefined): boolean =>
  ['EIO', 'ENXIO', 'ENODEV', 'ENOMEDIUM', 'EREMOTEIO'].includes(code ?? '');

const identity = (path: string): string => {
  const { dev, ino } = lstatSync(path, { bigint: true });
  return `${dev} ${ino}`;
};

/** Everything by which a change shows. What the computer writes for itself changes all the time. */
const markOf = ({ entries, skipped }: StagingFolder): string =>
  JSON.stringify([
    entries
      .filter(({ path }) => litterOf(path.split('/')[0] as string) === 'none')
      .map(({ path, bytes, modified, isFolder }) => [path, isFolder, bytes, modified]),
    skipped.map(({ path, why }) => [path, why]),
  ]);

const shownName = (name: string, { takesNamesApart }: DriverHabits): string =>
  takesNamesApart ? name.normalize('NFC') : name;

function treeEntry(
  entry: StagedEntry,
  habits: DriverHabits,
  knowsReadOnly: boolean,
  notShown: Unseen,
): TreeEntry {
  const folder = shownName(entry.folder, habits);
  const name = shownName(entry.name, habits);
  const above: FolderNames[] = folder === '' ? [] : folder.split('/').map((each) => namesOf(each));
  return {
    ...namesOf(name),
    path: folder === '' ? name : `${folder}/${name}`,
    folder,
    above,
    isFolder: entry.isFolder,
    bytes: entry.bytes,
    readOnly: !entry.readOnly && habits.showsReadOnly ? false : knowsReadOnly ? entry.readOnly : noAttributes,
    hidden: noAttributes,
    system: noAttributes,
    hasLongName: notShown,
    entryIndex: notShown,
    fragments: notShown,
    usesLastCluster: notShown,
    startByte: notShown,
    endByte: notShown,
    modified: entry.modified,
  };
}

const namesOf = (name: string): FolderNames => ({ name, shortName: ownShortName(name) ?? noShortName });

function whyClosed({ why, text }: SkippedEntry): Unseen {
  if (why === 'no-permission')
    return new Unseen('no-permission', text, 'run flashworthy as somebody who may read it');
  return new Unseen(why === 'read-error' ? 'damaged' : 'not-visible', text);
}
