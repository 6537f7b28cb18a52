import type { Fitness, Outcome, Question } from '../board/choose.js';
import type { Report } from './report.js';

/** A file of a release as it lies in its folder. */
export interface ReleaseFileState {
  /** Path inside the release folder, with `/` between names. */
  path: string;
  /**
   * `published`: its SHA-256 is the one of the manifest. `not-compared`: it is there, and no manifest says what it must
   * be. `differs`: it is not what was published. `missing`: it is not in the folder, or cannot be read.
   */
  state: 'published' | 'not-compared' | 'differs' | 'missing';
  /** Size and digests of the bytes in the folder; null when they could not be read. */
  bytes: number | null;
  crc32: string | null;
  sha256: string | null;
}

/** One file that has to be on the card. */
export interface CardFile {
  /** `update`: the build itself. `companion`: what this board wants beside it. */
  role: 'update' | 'companion';
  /** Name for people. */
  title: string;
  /** File of the release to copy; null when it is not in the release. */
  from: string | null;
  /** Path and name on the card; null when the profile does not settle it, and `note` says why. */
  to: string | null;
  required: boolean;
  /** What else the owner has to know, in plain words. */
  note?: string;
}

/** What the loads draw under the chosen build. Estimates from the numbers of the profile; watts, amperes and degrees Celsius. */
export interface ChoicePower {
  /** The rating that the figures are compared with; null when none is known. */
  rating: { watts: number; amps: number; volts: number; whose: 'fitted' | 'smallest-listed' } | null;
  /** All that may be on at once, cold. */
  peak: { watts: number; amps: number; limitAmps: number | null; marginWatts: number | null } | null;
  /** Hot, averaged over the time that each load is on. `ratingWatts`: what may be drawn all the time. */
  sustained: { watts: number; amps: number; ratingWatts: number | null; marginWatts: number | null } | null;
  /** Share of the rating that may be drawn all the time. */
  derating: number | null;
  heating: {
    load: string;
    title: string;
    levelsOffAt: number;
    target: number;
    ambient: number;
    boundBy: 'heater' | 'build' | 'supply';
  }[];
  /** Plain sentences: what the profile does not settle. */
  notKnown: string[];
}

/** One build of the release, judged for this machine. */
export interface ChoiceBuild {
  id: string;
  title: string;
  /** Its update file, inside the release folder. */
  file: string;
  kind: 'application' | 'loader' | 'both';
  fitness: Fitness;
  /** True for the one that is meant for this machine, whether or not it can be flashed now. */
  preferred: boolean;
  /** For which machines it is made. */
  machines: string;
  /** Why it is what it is for this machine: a plain sentence with the build as its subject. */
  text: string;
  /** What the owner can say to settle what is unknown. */
  settle?: string;
}

/** `flashworthy-choice/1`: which build of a release is for one machine, and why. */
export interface ChoiceReport {
  schema: 'flashworthy-choice/1';
  tool: { name: 'flashworthy'; version: string };
  board: { id: string; title: string; revision: number };
  /** Number of the release, from its manifest; null without one. */
  release: string | null;
  inputs: Report['inputs'];
  /** What the owner said about the machine, in words: `release 31 runs now`. */
  stated: { axis: string; text: string }[];
  /** As `chooseBuild` found it, with two more reasons for `none`: the estimated power, and the file of the build. */
  outcome: Outcome;
  /** The outcome in one plain sentence. */
  text: string;
  /** Id of the build to flash; null unless the outcome is `one`. */
  build: string | null;
  /** What was assumed about the supply when it made no difference. */
  assumes: string | null;
  /** File of the build to flash, or of the one that would be it if its file were right. */
  file: ReleaseFileState | null;
  /** What goes on the card, the update file first; empty when no build is chosen. */
  card: CardFile[];
  builds: ChoiceBuild[];
  questions: Question[];
  power: ChoicePower | null;
  /** What to mind, in plain sentences. */
  cautions: string[];
  /** The command to type next, with `CARD` where the card stands; null when no build is chosen. */
  next: string | null;
}
