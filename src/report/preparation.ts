import type { Question } from '../board/choose.js';
import type { ChoiceReport } from './choice.js';
import type { RemedyText, Report } from './report.js';

/** One file of a prepared card. */
export interface PreparedFile {
  role: 'update' | 'companion';
  title: string;
  /** File that was copied, as it stands in the release folder or as the owner named it. */
  from: string;
  /** Path on the card. */
  to: string;
  bytes: number;
  crc32: string;
  sha256: string;
}

/** How a card image is laid out. Sizes and places in bytes. */
export interface PreparedCard {
  bytes: number;
  partitionTable: 'mbr' | 'none';
  /** Slot, type byte and boot flag of the partition; null without a partition table. */
  partition: { index: number; type: number; bootFlag: number } | null;
  startByte: number;
  volumeBytes: number;
  fileSystem: 'FAT12' | 'FAT16' | 'FAT32';
  bytesPerSector: number;
  clusterBytes: number;
  clusterCount: number;
  reservedSectors: number;
  fatCount: number;
  dataStartByte: number;
  label: string | null;
  serial: number;
}

/** `flashworthy-preparation/1`: a card for one machine, written and checked, or why there is none. */
export interface PreparationReport {
  schema: 'flashworthy-preparation/1';
  tool: ChoiceReport['tool'];
  board: ChoiceReport['board'];
  release: string | null;
  inputs: ChoiceReport['inputs'];
  stated: ChoiceReport['stated'];
  /** `written`: the card is there and passes its check. Else as the check says, or as the choice of the build does. */
  outcome: 'written' | 'refused' | 'not-proven';
  /** The outcome in a plain sentence or two. */
  text: string;
  target: { path: string; kind: 'image' | 'folder' };
  /** True when something was written. */
  written: boolean;
  /** Id of the build; null when none was chosen, or when the board takes every build. */
  build: string | null;
  /** Null when files were copied to a folder, or nothing was laid out. */
  card: PreparedCard | null;
  files: PreparedFile[];
  questions: Question[];
  /** What the check says of the card that was written, or of the one that would have been. */
  check: Report | null;
  cautions: string[];
  /** How to bring an image onto a card. */
  steps: RemedyText[];
  /** Commands to type next. */
  next: { does: string; command: string }[];
}
