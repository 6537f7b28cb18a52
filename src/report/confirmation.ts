import type { ComparedSetting } from '../machine/compare-settings.js';
import type { StepsCalculation } from '../machine/steps.js';
import type { Report } from './report.js';

/** Whether one thing that the machine says of itself is what was meant. */
export interface IdentityCheck {
  what: 'board' | 'release';
  meant: string | null;
  found: string | null;
  state: 'as-meant' | 'differs' | 'unknown';
  /** Plain sentence. */
  text: string;
}

/**
 * What follows for a setting. `none`: it is as it was. `enter`: it differs and may be entered again. `not-said`: it
 * differs and the maker has not said that it carries over. `expected`: dropped, renamed or without meaning by the word of
 * the profile. `new`: it was not there before. `not-seen`: one of the reports is not whole, so its absence says nothing.
 * `other-unit`: the two reports are in different units.
 */
export type SettingAdvice = 'none' | 'enter' | 'not-said' | 'expected' | 'new' | 'not-seen' | 'other-unit';

export interface ConfirmedSetting extends ComparedSetting {
  advice: SettingAdvice;
  /** What the advice says, as half a sentence. */
  text: string;
}

/** `flashworthy-confirmation/1`: whether a flash came out as meant. */
export interface ConfirmationReport {
  schema: 'flashworthy-confirmation/1';
  tool: { name: 'flashworthy'; version: string };
  board: { id: string; title: string; revision: number };
  inputs: Report['inputs'];
  outcome: 'as-meant' | 'differs' | 'cannot-tell';
  /** The outcome in one plain sentence. */
  text: string;
  /** Release that ran before, by the record; null when it does not say. */
  releaseBefore: string | null;
  checks: IdentityCheck[];
  /** How the two releases store their settings. `changes` is null when that is not known. */
  layouts: { before: string | null; after: string | null; changes: boolean | null; text: string };
  settings: ConfirmedSetting[];
  /** Plain sentences: why the comparison is not whole. */
  problems: string[];
  /** Lines of G-code that enter the old settings again, with the one that saves; empty when there are none. */
  lines: string[];
  steps: (StepsCalculation & { text: string; line: string | null })[];
  /** Lines of G-code that enter calculated steps, with the one that saves; empty when there are none. */
  stepsLines: string[];
  cautions: string[];
  next: { text: string; send: string[]; command: string | null };
}
