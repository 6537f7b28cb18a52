import type { SettingChange } from '../machine/compare-settings.js';
import type { StepsResult } from '../machine/steps.js';
import type { Report } from './report.js';

/** `flashworthy-confirmation/1`: whether a flash came out as it was meant, and what to do about the settings. */
export interface Confirmation {
  schema: 'flashworthy-confirmation/1';
  tool: { name: 'flashworthy'; version: string };
  board: { id: string; title: string; revision: number };
  inputs: Report['inputs'];
  outcome: 'as-meant' | 'differs' | 'cannot-tell';
  /** The outcome in plain sentences. */
  text: string;
  /** Null: not known. */
  release: { meant: string | null; before: string | null; now: string | null };
  /** What lacks before more can be said: plain sentences. */
  lacks: { text: string; settle: string }[];
  settings: SettingChange[];
  /** What to know about the settings of these two releases: plain sentences. */
  remarks: string[];
  /** Lines to enter again, the line that saves last; empty when there is nothing to enter. */
  lines: string[];
  steps: StepsResult[];
  /** Lines for the steps, the line that saves last. */
  stepsLines: string[];
  /** Largest share by which the way of an axis may be off; null: the profile gives none. */
  stepsTolerance: number | null;
  cautions: string[];
}
