/**
 * A board profile as its author wrote it (`flashworthy-board/1`), after the schema check, with sizes and addresses
 * turned into plain numbers of bytes. The JSON Schema beside this file is the source; these are its types.
 */

/** The author says: it does not matter. */
export type Any = 'any';
/** Written down, `any`, or left out (undefined). */
export type Said<T> = T | Any | undefined;

export interface Range {
  min?: number;
  max?: number;
}
export interface MemoryArea {
  start: number;
  bytes: number;
}

export type Basis = 'maker' | 'measured' | 'seen' | 'assumed';

/** Axis id -> range (`"31"`, `"<31"`, `">=20 <31"`) or list of values. */
export type For = Record<string, string | string[]>;

/** One value, or one for each machine: the first whose `for` holds. */
export type ByAxis<K extends string, T> = T | (Partial<Record<K, T>> & { for?: For })[];

export interface Axis {
  id: string;
  ask: string;
  help?: string;
  values?: string[];
  numbering?: 'integer' | 'dotted' | 'date';
  /** For an axis that follows from another: value -> range of the other (`loader` from `installed`). */
  from?: Record<string, For>;
}

export interface LoaderProfile {
  partitioning: Said<string[]>;
  takesPartition: Said<string>;
  onlyPartition: Said<boolean>;
  logicalPartitions: Said<boolean>;
  partitionTypes: Said<number[] | 'any-but-zero'>;
  bootFlag: Said<number[]>;
  trusts: Said<'table' | 'boot-sector'>;
  cardClass: Said<string[]>;
  volumeBytes: Said<Range>;
  cardBytes: Said<Range>;
  addressing: Said<'bytes32' | 'sectors'>;
  bootCode: Said<'must-be-zero'>;
  reservedSectors: Said<number[]>;
  dataAlignment: Said<number>;
  fileSystems: Said<string[]>;
  clusterBytes: Said<number[]>;
  sectorBytes: Said<number[]>;
  fatCount: Said<number[]>;
  reads: Said<{ fat?: Said<'first' | 'active'>; fsInfo?: Said<boolean> }>;
  driver: Said<string>;
  rootEntries: Said<number | 'first-cluster' | Record<string, number | 'first-cluster' | Any>>;
  countsDeleted: Said<boolean>;
  takesDeletedEntries: Said<boolean>;
  fragments: Said<{ max: number }>;
  readsLastCluster: Said<boolean>;
  refusesDirty: Said<boolean>;
  searches: Said<'table' | 'whole-card'>;
  ignoresLabel: Said<boolean>;
  longNames: Said<boolean>;
  nameLength: Said<number>;
  nameCase: Said<'ignored' | 'exact' | 'upper-only'>;
  nameCharacters: Said<string>;
  erases: Said<'before-reading' | 'after-checks' | 'never-blank'>;
}

export interface UpdateMatch {
  glob?: string;
  contains?: string;
  folder?: string;
  takes?: 'first-entry' | 'last-entry' | 'newest-name' | 'newest-date';
}

export interface UpdateProfile {
  path: Said<string>;
  names: Said<string[]>;
  match: Said<UpdateMatch>;
  naming: Said<'fixed' | 'new-each-time'>;
  factoryName: Said<string>;
  encoding: Said<string>;
  scrambling: Said<{ header?: { at: number; bytes: string }; minEntropy?: number }>;
  bytes: Said<Range>;
  lengthMultiple: Said<number>;
  skipBytes: Said<number>;
  checks: Said<string[]>;
  checksum: Said<{
    kind: string;
    over: { from: number; to: number };
    at: number;
    byteOrder: 'little' | 'big';
  }>;
  afterSuccess: Said<'rename' | 'delete' | 'keep'>;
  doneMarker: Said<string>;
  markerBlocks: Said<boolean>;
  stageNames: Said<{ suffix: string; means: string }[]>;
  needsFreeClusters: Said<number>;
}

export interface Companion {
  path?: string;
  glob?: string;
  title?: string;
  role: 'trigger' | 'flasher' | 'asset' | 'settings' | 'stays';
  required: boolean;
  bytes?: Said<number | Range>;
  content?: Said<string>;
  text?: {
    encoding?: 'ascii' | 'utf-8';
    bom?: boolean;
    lineEnds?: 'lf' | 'crlf' | 'any';
    grammar?: 'lines' | 'key-value';
  };
  for?: For;
  from?: string;
  afterSuccess?: 'rename' | 'delete' | 'keep';
}

export interface Build {
  id: string;
  title: string;
  kind: 'application' | 'loader' | 'both';
  files: string[];
  for?: For;
  needs?: { volts?: number; amps?: number };
  heaters?: { together?: string[][]; limit?: { amps: number; kind: 'average' | 'peak' } };
  marker?: { text: string; at?: number };
  board?: { revision: string };
  cannotReturnFrom?: string;
}

/**
 * The profile resolved for one machine: loader generations, paths and companions by axis are chosen. A value that
 * depends on an answer that nobody gave is in `open`, by its path (`loader.clusterBytes`), with the axes to ask;
 * its key is then left undefined here, and the fact under `board.` is unseen.
 */
export interface ResolvedProfile {
  id: string;
  title: string;
  revision: number;
  loader: LoaderProfile;
  update: UpdateProfile;
  companions: Said<Companion[]>;
  builds: Said<Build[]>;
  card: { otherFiles: Said<'allowed' | 'advised-against' | 'forbidden'>; maxEntries: Said<number> };
  open: Record<string, { axes: string[]; text: string; settle: string }>;
}
