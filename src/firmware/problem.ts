import { limits } from '../bytes/limits.js';

/** One thing that a firmware file does not do as its format asks. A raw finding: rules say what it means. */
export interface FirmwareProblem {
  /** What is wrong, as one hyphenated word. */
  readonly code: string;
  /** What is wrong, in a plain sentence. */
  readonly text: string;
  /** Byte offset in the update file. */
  readonly at: number;
}

/** Collects problems: the first `limits.problems` with their place, the rest as a number. */
export class ProblemList {
  readonly items: FirmwareProblem[] = [];
  /** All problems, also those that were not kept. */
  total = 0;

  add(code: string, text: string, at: number): void {
    this.total += 1;
    if (this.items.length < limits.problems) this.items.push({ code, text, at });
  }
}

/** An address or other 32-bit number as it is written in data sheets: `0x08000000`. */
export const hex = (value: number, digits = 8): string =>
  `0x${value.toString(16).toUpperCase().padStart(digits, '0')}`;
