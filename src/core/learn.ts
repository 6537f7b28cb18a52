import type { DraftEntry } from '../board/draft.js';
import type { Profile } from '../board/profile.js';
import { readProfile } from '../board/read.js';
import { Absent, FactList, isRecord } from '../facts/fact.js';
import type { FactStore } from '../facts/fact-store.js';
import { foldCase } from '../facts/update-file-name.js';
import { collectFacts, type Subject } from './collect.js';

/** A card that is known to have flashed, as far as a profile may learn from it. */
export interface KnownGood {
  readonly path: string;
  readonly scheme: string;
  readonly partitions: number;
  /** From 1; null: the volume fills the whole card. */
  readonly partitionIndex: number | null;
  readonly partitionType: number | null;
  readonly bootFlag: number | null;
  readonly fileSystem: string;
  readonly clusterBytes: number;
  readonly sectorBytes: number;
  readonly fatCount: number;
  readonly updateFile: string;
  readonly fragments: number;
  /** Null: the content is of no known form. */
  readonly encoding: string | null;
  /** Other files that somebody put there. */
  readonly others: readonly string[];
}

/** Why a card teaches nothing, in plain sentences. */
export interface Unteachable {
  readonly path: string;
  readonly because: readonly string[];
}

/** A board that takes every FAT volume: nothing but the files decides what is looked at. */
const anyFat = (update: string): Profile =>
  readProfile(
    [
      'schema: flashworthy-board/1',
      'id: learning',
      'title: A board that takes every FAT volume',
      'revision: 1',
      'loader: { partitioning: [mbr, gpt, hybrid, none], takesPartition: first-fat, fileSystems: [FAT12, FAT16, FAT32] }',
      `update: ${JSON.stringify({ path: update, encoding: 'any' })}`,
      'builds: any',
    ].join('\n'),
    'learning',
  ).profile;

type Card = Omit<Subject, 'profile' | 'machine' | 'manifest'>;

/** Files and folders that somebody put on a card: paths of files, without what systems leave behind. */
export function filesOn(card: Card): string[] {
  const files = facts(card, 'X').value('files');
  if (!(files instanceof FactList)) return [];
  return files.items.flatMap((file) =>
    isRecord(file) && file.isFolder === false && file.litter === 'none' && typeof file.path === 'string'
      ? [file.path]
      : [],
  );
}

const facts = (card: Card, update: string): FactStore =>
  collectFacts({ ...card, profile: anyFat(update), machine: null, manifest: null });

/** Paths that stand on every card, as the first one writes them. */
export function onAll(lists: readonly (readonly string[])[]): string[] {
  const [first = [], ...rest] = lists;
  const others = rest.map((list) => new Set(list.map(foldCase)));
  return first.filter((path) => others.every((other) => other.has(foldCase(path))));
}

/**
 * What one card teaches, given its update file. A card that a file system checker would repair, or that could not be
 * read whole, teaches nothing: that it flashed may have been luck.
 */
export function learnFrom(card: Card, update: string): KnownGood | Unteachable {
  const store = facts(card, update);
  const { path } = card.target;
  const because = faultsOf(store, update);
  if (because.length > 0) return { path, because };
  const number = (fact: string): number => {
    const value = store.value(fact);
    if (typeof value !== 'number') throw new Error(`${fact} was not seen on a card that was read whole`);
    return value;
  };
  const text = (fact: string): string => String(store.value(fact));
  const orNull = (fact: string): number | null => {
    const value = store.value(fact);
    return typeof value === 'number' ? value : null;
  };
  const entries = store.value('partitionTable.entries');
  return {
    path,
    scheme: text('partitionTable.scheme'),
    partitions: entries instanceof FactList ? entries.items.length : 0,
    partitionIndex: orNull('partition.index'),
    partitionType: orNull('partition.type'),
    bootFlag: orNull('partition.bootFlag'),
    fileSystem: text('volume.fileSystem'),
    clusterBytes: number('volume.clusterBytes'),
    sectorBytes: number('volume.bytesPerSector'),
    fatCount: number('volume.fatCount'),
    updateFile: text('updateFile.path'),
    fragments: number('updateFile.fragments'),
    encoding: store.text('image.encoding') ?? null,
    others: filesOn(card).filter((file) => foldCase(file) !== foldCase(text('updateFile.path'))),
  };
}

function faultsOf(store: FactStore, update: string): string[] {
  if (store.value('partition.found') !== true)
    return ['no FAT volume was found on it, and only from those can be learned'];
  const wants: readonly [fact: string, good: unknown, otherwise: string][] = [
    ['media.wholeRead', true, 'it could not be read whole'],
    ['target.changed', false, 'somebody wrote to it meanwhile'],
    ['partitionTable.bothDescribed', false, 'its first sector describes it in two ways'],
    ['partition.pastEnd', false, 'its partition runs past its end'],
    ['partition.overlaps', false, 'its partitions overlap'],
    ['volume.endsInsidePartition', true, 'its volume runs past its partition'],
    ['volume.widthDisputed', false, 'drivers differ about whether it is FAT12, FAT16 or FAT32'],
    ['damage.any', false, 'its file system is damaged, and a repair would change it'],
    ['updateFile.whole', true, `${update} is not on it, or is not whole`],
    ['updateFile.sameThroughEachFat', true, 'the copies of its file allocation table differ'],
  ];
  // Proved not to exist is no fault: a card without a partition table has no partition that overlaps.
  return wants.flatMap(([fact, good, otherwise]) => {
    const value = store.value(fact);
    return value === good || value instanceof Absent ? [] : [otherwise];
  });
}

/**
 * What the cards agree on, as keys of a profile. Nothing is proposed that was not on a card, and what a card cannot show
 * (when the loader erases, what it checks) stays open.
 */
export function proposals(cards: readonly KnownGood[]): DraftEntry[] {
  const all = <T>(of: (card: KnownGood) => T): T[] => [...new Set(cards.map(of))];
  const sorted = (of: (card: KnownGood) => number): number[] => all(of).sort((a, b) => a - b);
  const counted = (text: string): string => `${text} Seen on ${cards.length} cards that flashed.`;
  const list = (key: string, values: readonly unknown[], text: string): DraftEntry => ({
    key,
    ...(values.length === 0 ? {} : { value: values }),
    comment: counted(text),
  });
  const indexes = all(({ partitionIndex }) => partitionIndex);
  const [index] = indexes;
  const place =
    indexes.length > 1
      ? undefined
      : index === null || index === undefined
        ? 'whole-card'
        : index === 1
          ? 'first-slot'
          : index <= 4
            ? `slot-${index}`
            : undefined;
  const types = sorted(({ partitionType }) => partitionType ?? -1).filter((type) => type >= 0);
  const flags = sorted(({ bootFlag }) => bootFlag ?? -1).filter((flag) => flag >= 0);
  const names = [...new Map(cards.map(({ updateFile }) => [foldCase(updateFile), updateFile])).values()];
  const encodings = all(({ encoding }) => encoding ?? 'no known form');
  const encoding = encodings.length === 1 ? cards[0]?.encoding : null;
  return [
    list(
      'loader.partitioning',
      all(({ scheme }) => scheme),
      'Kinds of partition table.',
    ),
    {
      key: 'loader.takesPartition',
      ...(place === undefined ? {} : { value: place }),
      comment:
        place === undefined
          ? 'Where the volume lies on these cards does not tell how the loader finds it. Find out how the loader chooses it: first-fat, active, or another way.'
          : counted(
              'Which volume the loader takes; with one partition on a card, other ways of choosing would find the same.',
            ),
    },
    { ...list('loader.partitionTypes', types, 'Type bytes of the partition.'), hex: true },
    list('loader.bootFlag', flags, 'Boot flag of the partition.'),
    list(
      'loader.fileSystems',
      all(({ fileSystem }) => fileSystem),
      'File systems.',
    ),
    list(
      'loader.clusterBytes',
      sorted(({ clusterBytes }) => clusterBytes),
      'Bytes in a cluster.',
    ),
    list(
      'loader.sectorBytes',
      sorted(({ sectorBytes }) => sectorBytes),
      'Bytes in a sector.',
    ),
    list(
      'loader.fatCount',
      sorted(({ fatCount }) => fatCount),
      'Copies of the file allocation table.',
    ),
    {
      key: 'loader.fragments',
      value: { max: Math.max(...cards.map(({ fragments }) => fragments)) },
      comment: counted('Pieces in which the update file lay at most.'),
    },
    {
      key: 'loader.erases',
      comment:
        'No card shows this. before-reading: the old program is gone before the file was looked at; after-checks; never-blank.',
    },
    {
      key: 'update.path',
      ...(names.length === 1 ? { value: names[0] } : {}),
      comment: counted('The file that the loader looks for, with its folder.'),
    },
    {
      key: 'update.encoding',
      ...(typeof encoding === 'string' ? { value: encoding } : {}),
      comment:
        typeof encoding === 'string'
          ? counted('How the file is written, by its content.')
          : `How the file is written: here ${encodings.join(', ')}. Find out which the loader takes.`,
    },
    {
      key: 'update.checks',
      comment:
        'No card shows this. What the loader verifies before it starts a program: nothing, vectors, checksum, signature, …',
    },
    {
      key: 'memory.application',
      comment: 'No card shows this. Where a program goes: { start: 0x08008000, bytes: 480KiB }.',
    },
  ];
}
