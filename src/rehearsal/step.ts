/** What a boot loader does with a card, one after the other. Which of them come, and in which order, the profile says. */
export const stepIds = [
  'find-volume',
  'find-file',
  'read',
  'check',
  'erase',
  'write',
  'switch',
  'mark',
  'jump',
] as const;
export type StepId = (typeof stepIds)[number];

/** How a step ends. */
export type StepOutcome =
  | 'done'
  /** The loader gives up; what ran before runs on. */
  | 'stops'
  /** The old program is gone, or may be, and no new one starts. */
  | 'dead'
  /** It depends on something that was not seen or told. */
  | 'unknown'
  /** The new program is there, but the loader will flash again at every power-up. */
  | 'repeats'
  /** Nothing speaks against it, and by its nature it cannot be looked into. */
  | 'not-shown'
  | 'not-reached';

/** What is in the place of the program. */
export type ProgramState =
  | 'old'
  /** Nothing ran before, and nothing is there. */
  | 'none'
  | 'erased'
  /** The new program from its start to somewhere. */
  | 'partly'
  | 'new'
  /** The old program or nothing: it depends on what the loader does first. */
  | 'old-or-erased';

/** A stretch that a step reads or writes: bytes of the card, or addresses in the memory of the board. */
export interface Stretch {
  readonly what: string;
  readonly start: number;
  readonly bytes: number;
}

/** Something that was found about a step. */
export interface StepFinding {
  readonly answer: 'done' | 'failed' | 'unknown' | 'repeats' | 'not-shown';
  /** A plain sentence. */
  readonly text: string;
  /** What would settle an unknown. */
  readonly settle?: string;
}

/** One step of a rehearsal. */
export interface Step {
  readonly id: StepId;
  readonly title: string;
  readonly outcome: StepOutcome;
  readonly findings: readonly StepFinding[];
  /** Bytes of the card that it reads; only places that are known. */
  readonly reads: readonly Stretch[];
  /** Addresses in the memory of the board that it erases or fills. */
  readonly writes: readonly Stretch[];
  /** What is in the place of the program afterwards. */
  readonly program: ProgramState;
  /** What the machine does when power fails or the loader gives up in this step, and the way back. */
  readonly ifItStops: string;
}
