/**
 * A board profile as its author wrote it (`flashworthy-board/1`), after the schema check, with sizes and addresses
 * turned into plain numbers of bytes. The JSON Schema beside this file is the source; these are its types.
 */

import type { Hazard } from '../rules/rule.js';

/** The author says: it does not matter. */
export type Any = 'any';
/** Written down, `any`, or left out (undefined). */
export type Said<T> = T | Any | undefined;

/** Smallest and largest, both included. */
export interface Range {
  min?: number;
  max?: number;
}
/** A stretch of the processor's address space. */
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
    /** `to` is an offset, negative when counted back from the end of the file. */
    over: { from: number; to: number | 'end' };
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

export interface Marker {
  /** ASCII text. */
  text: string;
  /** Offset in the image; left out, the text may stand anywhere. */
  at?: number;
}

/** A processor described in the profile itself; `rules/processors.yaml` describes the ones with a name. */
export interface InlineProcessor {
  core: string;
  flash: MemoryArea | MemoryArea[];
  ram: MemoryArea | MemoryArea[];
  /** The first eight words of the flash must sum to zero. */
  wordSum?: boolean;
  espChipId?: number;
  uf2Family?: number;
}

export interface Supply {
  id: string;
  title: string;
  volts: number;
  amps: number;
  peakAmps?: number;
}

/** What draws power: exactly one of watts, amps and ohms. */
export interface Load {
  id: string;
  title?: string;
  watts?: number;
  amps?: number;
  ohms?: number;
  /** Temperature at which `ohms` was measured, in degrees Celsius. */
  at?: number;
  material?: 'copper';
  /** Per kelvin. */
  tempco?: number;
  /** Share of the time that it is on, 0 to 1. */
  duty?: number;
  /** What feeds it; left out: the supply. */
  side?: 'supply' | 'mains';
  heats?: { target: number; ambient: number; lossWattsPerKelvin: number };
}

export type NumberingWord = 'integer' | 'dotted' | 'date';

export interface Releases {
  numbering: Said<NumberingWord>;
  takes: Said<'newer' | 'different'>;
  comparedBy: Said<'release' | 'checksum' | 'name'>;
  skippedFile: Said<'keep' | 'rename' | 'delete'>;
  steps: Said<{ from: string | string[]; to: string | string[]; via: string }[]>;
  locks: Said<{ from: string; because: string }[]>;
  notes: Said<{ release: string | string[]; hazard: Hazard; text: string; for?: For }[]>;
}

export interface Settings {
  file: Said<string>;
  carry: Said<string[]>;
  renamed: Said<Record<string, string>>;
  dropped: Said<string[]>;
  layouts: Said<{ id: string; releases: string | string[] }[]>;
  stepsTolerance: Said<number>;
}

export interface Guide {
  before?: string;
  socket?: string;
  start?: string;
  signs?: { after: string; sees: string; means: string }[];
  wayBack?: string;
}

export interface Waiver {
  rule: string;
  only?: string;
  because: string;
  until?: string;
}

/** One area, one for each machine (the first whose `for` holds), or left open. */
export type AreaByAxis = Said<MemoryArea | (MemoryArea & { for?: For })[]>;

export interface ProfileMemory {
  loader: AreaByAxis;
  application: AreaByAxis;
  /** Every area whose `for` holds, or that has none. */
  settings: Said<(MemoryArea & { for?: For })[]>;
}

/** The keys of `update` that may differ from machine to machine. */
export type UpdateByAxis = 'path' | 'names' | 'match' | 'encoding' | 'bytes' | 'skipBytes';

export type ProfileUpdate = Omit<UpdateProfile, UpdateByAxis> & {
  path: Said<ByAxis<'path', string>>;
  names: Said<ByAxis<'names', string[]>>;
  match: Said<ByAxis<'match', UpdateMatch>>;
  encoding: Said<ByAxis<'encoding', string>>;
  bytes: Said<ByAxis<'bytes', Range>>;
  skipBytes: Said<ByAxis<'skipBytes', number>>;
};

/**
 * The whole profile. `any` in place of a map of keys (`loader: any`) has become `any` at each key, and a map that was
 * left out is empty, so that each key can be asked for by itself.
 */
export interface Profile {
  schema: 'flashworthy-board/1';
  id: string;
  title: string;
  revision: number;
  /** For all keys, or by key (`loader.clusterBytes`, `loader`) with `default` for the rest. */
  basis?: Basis | Record<string, Basis>;
  processor: Said<string | InlineProcessor>;
  memory: ProfileMemory;
  axes: Axis[];
  loader: LoaderProfile;
  /** Loader generation -> the keys of `loader` that differ. */
  loaders: Record<string, Partial<LoaderProfile>>;
  application: { fileSystems: Said<string[]> };
  card: { otherFiles: Said<'allowed' | 'advised-against' | 'forbidden'>; maxEntries: Said<number> };
  others: Said<{ title: string; match: { glob?: string; contains?: string } }[]>;
  update: ProfileUpdate;
  companions: Said<Companion[]>;
  supplies: Said<Supply[]>;
  loads: Said<Load[]>;
  derating: Said<{ factor: number; hazard?: Hazard }>;
  builds: Said<Build[]>;
  prefer: Said<'strongest-that-fits'>;
  /** Builds for an owner who cannot read the label of the supply; the first whose `for` holds. */
  whenUnsure: Said<string[]>;
  siblings: Said<{ id: string; title?: string; marker: Marker }[]>;
  releases: Releases;
  settings: Settings;
  identity: Said<{ release?: { key: string }; board?: { key: string } }>;
  guide: Said<Guide>;
  cautions: Said<('mains' | 'hot' | 'moving')[]>;
  waive: Waiver[];
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
  /** The areas of memory on this machine. */
  memory: { loader: Said<MemoryArea>; application: Said<MemoryArea>; settings: Said<MemoryArea[]> };
  processor: Said<string | InlineProcessor>;
  /** Loader generation of this machine, when it is known and the profile tells generations apart. */
  loaderId?: string;
  /**
   * Keys of the profile (`loader.clusterBytes`) whose basis is `seen`: what merely differs from one of these is
   * unknown, not failed.
   */
  seenKeys: string[];
}
