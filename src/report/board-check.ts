import type { Report } from './report.js';

/** Something to mend in a profile, with its place. */
export interface BoardProblem {
  /** `wrong`: the profile cannot be read. `fault`: cards are judged wrongly, or are never fit. `advice`: neither. */
  level: 'wrong' | 'fault' | 'advice';
  /** Lines and columns count from 1. */
  file: string;
  line: number;
  column: number;
  text: string;
}

/** `flashworthy-board-check/1`: whether a board profile is sound, and how much of a card it lets judge. */
export interface BoardCheck {
  schema: 'flashworthy-board-check/1';
  tool: { name: 'flashworthy'; version: string };
  inputs: Report['inputs'];
  /** Null when the profile cannot be read. */
  board: { id: string; title: string; revision: number } | null;
  sound: boolean;
  problems: BoardProblem[];
  /** The proof of the build choice in one sentence; null when the profile cannot be read. */
  choice: string | null;
  /** Keys that say nothing, and the rules that judge nothing because of that. */
  silent: { key: string; core: boolean; rules: string[] }[];
  /** Keys that say something, of all that there are. */
  coverage: { keys: number; said: number } | null;
}
