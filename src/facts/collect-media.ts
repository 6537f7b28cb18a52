import type { RecordingSource } from '../bytes/recording-source.js';
import { tradeSizeText } from '../bytes/size-text.js';
import { Absent, FactList, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';
import { capacityClasses } from './schema.js';
import { unseenFrom } from './unseen-from.js';

/** What is known of the target before its bytes are looked at. */
export interface TargetDescription {
  readonly path: string;
  readonly kind: 'image' | 'device' | 'folder' | 'staging';
  readonly view: 'medium' | 'cached';
  /** The whole card as this computer names it; left out when it has no name of its own. */
  readonly card?: string;
  /** Size of the medium in bytes; null when it was not seen. */
  readonly bytes: number | null;
  readonly container: 'none' | 'gzip';
  readonly containerProblems: readonly { code: string; text: string; at: number }[];
}

/** What the owner states about the card itself. */
export interface StatedMedia {
  /** Trade size of the real card in bytes (`--card 32GB`). */
  readonly cardBytes?: number;
  readonly fresh?: boolean;
  readonly reinserted?: boolean;
}

const noCard = new Absent('no card was checked, only files in a folder');

/** Sets `target.*` and what is known of `media.*` before anything is read. */
export function collectMedia(store: FactStore, target: TargetDescription, stated: StatedMedia): void {
  store.set('target.kind', target.kind);
  store.set('target.view', target.view);
  store.set('target.path', target.path);
  store.set('target.card', target.card ?? new Absent('this computer has no name of its own for the card'));
  store.set('target.readsFat', new Absent('every copy of the FAT was looked at'));
  if (target.kind === 'staging') {
    store.set('target.showsMedium', false, { origin: 'derived' });
    for (const group of ['media', 'partitionTable', 'partition', 'volume', 'damage', 'deletedEntries'])
      store.setGroup(group, noCard);
    return;
  }
  if (target.bytes !== null) store.set('media.bytes', target.bytes);
  store.set('media.container', target.container);
  store.set(
    'media.containerProblems',
    new FactList(target.containerProblems.map((problem) => ({ ...problem }))),
  );
  const owner = { origin: 'stated' } as const;
  const notTold = (what: string, settle: string): Unseen => new Unseen('not-told', what, settle);
  store.set(
    'media.history',
    stated.fresh
      ? 'fresh'
      : notTold(
          'nobody said how the files came onto the card',
          'format the card, copy the files once, and say --fresh',
        ),
    stated.fresh ? owner : {},
  );
  store.set(
    'media.reinserted',
    stated.reinserted
      ? true
      : notTold(
          'nobody said whether the card was put back after the copying',
          'eject the card, put it back, and say --reinserted',
        ),
    stated.reinserted ? owner : {},
  );
  cardSizes(store, target, stated.cardBytes);
  const classes = possibleClasses(target, stated.cardBytes);
  store.set('media.possibleClasses', classes, { origin: 'derived' });
  store.set(
    'media.cardSize',
    stated.cardBytes === undefined
      ? notTold('nobody said which size is printed on the card', 'say it: --card 32GB')
      : tradeSizeText(stated.cardBytes),
    owner,
  );
  store.set(
    'media.capacityClass',
    classes instanceof FactList && classes.items.length === 1
      ? (classes.items[0] as string)
      : classes instanceof Unseen
        ? classes
        : notTold(
            'an image file does not show how large the real card is',
            'say the size that is printed on the card: --card 32GB',
          ),
    { origin: 'derived' },
  );
}

/**
 * Largest sizes of the capacity families (Wikipedia, "SD card": 2 GB, 32 GB, 2 TB, 128 TB). Sold sizes are decimal
 * and cards run up to 2 % over them, binary sizes more; between two families there is nothing on the market.
 */
const largest: Readonly<Record<(typeof capacityClasses)[number], number>> = {
  SDSC: 2 * 1024 ** 3,
  SDHC: 32 * 1024 ** 3,
  SDXC: 2 * 1024 ** 4,
  SDUC: 128 * 1024 ** 4,
};

/** Largest card of a family in bytes; no bound for a family that is not known. */
export const largestOfClass = (name: string): number =>
  Object.hasOwn(largest, name) ? largest[name as keyof typeof largest] : Number.POSITIVE_INFINITY;

export function capacityClassOf(bytes: number): (typeof capacityClasses)[number] {
  return capacityClasses.find((name) => bytes <= largest[name]) ?? 'SDUC';
}

/** Cards run up to so much over the size that is printed on them. */
const overTradeSize = 1.02;

/** Between which sizes the real card is: its own of a device, as the owner says, or large enough for the image. */
function cardSizes(store: FactStore, { kind, bytes }: TargetDescription, stated: number | undefined): void {
  if (stated !== undefined) {
    store.set('media.leastCardBytes', stated, { origin: 'derived' });
    store.set('media.mostCardBytes', Math.floor(stated * overTradeSize), { origin: 'derived' });
    return;
  }
  const unseen = new Unseen('not-visible', 'the size of the card could not be seen');
  store.set('media.leastCardBytes', bytes ?? unseen, { origin: 'derived' });
  store.set(
    'media.mostCardBytes',
    bytes === null
      ? unseen
      : kind === 'image'
        ? new Absent('an image file does not show how large the real card is')
        : bytes,
    { origin: 'derived' },
  );
}

/** One family when the size of the real card is known; for an image every family whose cards can hold it. */
function possibleClasses(target: TargetDescription, cardBytes: number | undefined): FactValue {
  if (cardBytes !== undefined) return new FactList([capacityClassOf(cardBytes)]);
  if (target.bytes === null) return new Unseen('not-visible', 'the size of the card could not be seen');
  const own = capacityClassOf(target.bytes);
  if (target.kind !== 'image') return new FactList([own]);
  return new FactList(capacityClasses.slice(capacityClasses.indexOf(own)));
}

/**
 * Sets `media.readErrors` and `media.wholeRead` after everything was asked. Only a read error proves a bad card;
 * what was kept away for another reason is unseen, and so is the answer whether all was read.
 */
export function collectReading(
  store: FactStore,
  source: RecordingSource,
  changed: boolean,
  /** Why what was read may not be what the card holds; null when nothing speaks against it. */
  unflushed: Unseen | null = null,
): void {
  const errors: FactValue[] = [];
  let unseen: Unseen | undefined = unflushed ?? undefined;
  let pastEnd = false;
  for (const { problem, stage } of source.problems) {
    if (problem.cause === 'past-end') pastEnd = true;
    else if (problem.cause !== 'read-error') unseen ??= unseenFrom(problem);
    else
      errors.push({
        at: problem.at,
        length: problem.length,
        cause: problem.detail ?? 'read error',
        inMetadata: stage === 'partition-table' || stage === 'volume',
        inUpdateFile: stage === 'update-file',
      });
  }
  if (source.count > source.problems.length)
    unseen ??= new Unseen(
      'over-limit',
      'more stretches of the card could not be read than flashworthy remembers',
    );
  store.set('target.changed', changed);
  if (changed)
    unseen ??= new Unseen(
      'damaged',
      'the target changed while it was read',
      'check it again when nothing writes to it',
    );
  store.set('media.readErrors', new FactList(errors, unseen));
  store.set('media.wholeRead', errors.length > 0 || pastEnd ? false : (unseen ?? true));
}
