import type { DriverOpinion } from '../rehearsal/driver.js';
import type { FirstFetch } from '../rehearsal/first-fetch.js';
import type { Region } from '../rehearsal/memory-picture.js';
import type { PowerOn } from '../rehearsal/power-on.js';
import type { Step, StepId } from '../rehearsal/step.js';
import type { Hazard } from '../rules/rule.js';
import type { GuideText } from './guide.js';
import type { Report, Verdict } from './report.js';

/** `flashworthy-rehearsal/1`: what a boot loader would do with a card, step by step. Reporters read nothing else. */
export interface RehearsalReport {
  schema: 'flashworthy-rehearsal/1';
  tool: { name: 'flashworthy'; version: string };
  target: Report['target'];
  board: { id: string; title: string; revision: number };
  inputs: Report['inputs'];
  stated: Report['stated'];
  /** Whether the new program would start. */
  answer: 'starts' | 'does-not' | 'cannot-tell';
  /** False when nothing speaks against a step, and by its nature it cannot be looked into. */
  allShown: boolean;
  /** What the check of the same card says: only a card that is `fit` may be flashed, whatever starts. */
  check: {
    verdict: Verdict;
    hazard: Hazard | null;
    failed: { rule: string; title: string; hazard: Hazard }[];
    /** Rules that could not be judged. */
    unknown: number;
  };
  /** When the loader erases the old program; null when the profile does not say, and the worst order was taken. */
  erases: 'before-reading' | 'after-checks' | 'never-blank' | null;
  steps: readonly Step[];
  pointOfNoReturn: StepId | null;
  power: PowerOn | null;
  memory: readonly Region[] | null;
  fetch: FirstFetch | null;
  /** Null when the loader of this board carries no driver that is at hand. */
  driver: DriverOpinion | null;
  /** What the owner must ensure, when the card is fit. */
  provided: Report['provided'];
  /** What the owner does and sees at the machine. */
  guide: GuideText | null;
  /** What to do next, in a sentence; the command to type, when there is one. */
  next: { text: string; command: string | null };
}
