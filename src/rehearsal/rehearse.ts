import type { LoaderProfile } from '../board/profile.js';
import { checkFile } from './check-file.js';
import { findFile } from './find-file.js';
import { findVolume } from './find-volume.js';
import { jump, mark } from './finish.js';
import { type FirstFetch, firstFetch } from './first-fetch.js';
import { type Areas, memoryPicture, type Region } from './memory-picture.js';
import { type PowerOn, powerOn } from './power-on.js';
import { type Program, readUpdateFile } from './read-file.js';
import type { ProgramState, Step, StepId, StepOutcome } from './step.js';
import type { RehearsalSubject } from './subject.js';
import { StepWork } from './work.js';
import { areasOf, erase, write } from './write-program.js';

type Erases = Exclude<LoaderProfile['erases'], 'any' | undefined>;

/** What comes after what on each kind of loader. */
const orders: Readonly<Record<Erases, readonly StepId[]>> = {
  'before-reading': ['find-volume', 'find-file', 'erase', 'read', 'write', 'check', 'mark', 'jump'],
  'after-checks': ['find-volume', 'find-file', 'read', 'check', 'erase', 'write', 'mark', 'jump'],
  'never-blank': ['find-volume', 'find-file', 'read', 'erase', 'write', 'check', 'switch', 'mark', 'jump'],
};

const titles: Readonly<Record<StepId, string>> = {
  'find-volume': 'Find the volume on the card',
  'find-file': 'Find the update file',
  read: 'Read the file',
  check: 'Check what was read',
  erase: 'Erase the place of the program',
  write: 'Write the new program',
  switch: 'Make the new program the one that runs',
  mark: 'Mark the card as done',
  jump: 'Start the new program',
};

/** What a boot loader would do with a card, and what would be in the memory afterwards. */
export interface Rehearsal {
  /** `starts`: no step fails and none depends on what was not seen. */
  readonly answer: 'starts' | 'does-not' | 'cannot-tell';
  /** When this loader erases; null when the profile does not say, and the worst order was taken. */
  readonly erases: Erases | null;
  readonly steps: readonly Step[];
  /** The step from which on there is no program until a flash has come to its end; null when there is none. */
  readonly pointOfNoReturn: StepId | null;
  /** Null when the loader writes nothing. */
  readonly power: PowerOn | null;
  /** The memory afterwards; null when no program gets there that could be looked at. */
  readonly memory: readonly Region[] | null;
  readonly fetch: FirstFetch | null;
}

/** Goes through the steps of this board's loader over the bytes of a card. Reads nothing anew and writes nothing. */
export function rehearse(subject: RehearsalSubject): Rehearsal {
  return new Run(subject).through();
}

class Run {
  private readonly erases: Erases | null;
  private readonly areas: Areas;
  private program: Program | null = null;
  private fetch: FirstFetch | null = null;
  private state: ProgramState;
  private erasedBytes: number | null = null;

  constructor(private readonly subject: RehearsalSubject) {
    const { erases } = subject.resolved.loader;
    this.erases = erases === undefined || erases === 'any' ? null : erases;
    this.areas = areasOf(subject);
    this.state = subject.nothingInstalled ? 'none' : 'old';
  }

  through(): Rehearsal {
    const steps: Step[] = [];
    let isOver = false;
    for (const id of orders[this.erases ?? 'before-reading']) {
      const step: Step = isOver ? this.notReached(id) : this.step(id);
      isOver ||= step.outcome === 'stops' || step.outcome === 'dead';
      steps.push(step);
    }
    const reached = (id: StepId): boolean =>
      steps.some((step) => step.id === id && step.outcome !== 'not-reached');
    const isWritten = reached('write') && this.program?.map != null;
    return {
      answer: isOver
        ? 'does-not'
        : steps.some(({ outcome }) => outcome === 'unknown')
          ? 'cannot-tell'
          : 'starts',
      erases: this.erases,
      steps,
      pointOfNoReturn: this.erases === 'never-blank' || !reached('erase') ? null : 'erase',
      power: reached('erase') && this.erasedBytes !== null ? powerOn(this.erasedBytes) : null,
      memory: isWritten ? memoryPicture(this.program!.map!, this.areas) : null,
      fetch: isWritten ? this.fetch : null,
    };
  }

  private step(id: StepId): Step {
    const { store, resolved, waived } = this.subject;
    const work = new StepWork(store, resolved, waived);
    const before = this.state;
    this.take(id, work);
    const outcome = this.outcomeOf(work);
    if (outcome === 'dead')
      this.state = id === 'write' ? 'partly' : before === 'old' ? 'old-or-erased' : before;
    else if (outcome !== 'stops') this.advance(id);
    const ifItStops = outcome === 'dead' ? this.lost(before, work) : this.ifItStops(id, before);
    return { id, title: titles[id], outcome, ...taken(work), program: this.state, ifItStops };
  }

  private notReached(id: StepId): Step {
    const nothing = { findings: [], reads: [], writes: [] };
    return { id, title: titles[id], outcome: 'not-reached', ...nothing, program: this.state, ifItStops: '' };
  }

  private take(id: StepId, work: StepWork): void {
    const { subject } = this;
    const isSpare = this.erases === 'never-blank';
    if (id === 'find-volume') findVolume(work, subject);
    else if (id === 'find-file') findFile(work, subject);
    else if (id === 'read') this.read(work);
    else if (id === 'check') checkFile(work, subject, this.program, this.fetch);
    else if (id === 'erase') {
      work.said('loader.erases');
      this.erasedBytes = erase(work, subject, this.program, isSpare);
    } else if (id === 'write') write(work, subject, this.program, this.areas);
    else if (id === 'switch')
      work.done('From here on the new program is the one that runs; the old one stays as it was.');
    else if (id === 'mark') mark(work, subject);
    else jump(work, subject, this.program, this.fetch);
  }

  private read(work: StepWork): void {
    this.program = readUpdateFile(work, this.subject);
    const { processor } = this.subject;
    const plain = this.program?.encoding === 'esp-image' ? null : (this.program?.map ?? null);
    this.fetch = plain === null || processor === null ? null : firstFetch(plain, processor, this.areas);
  }

  /** Where nobody says that the old program is safe, the worst is taken. */
  private outcomeOf(work: StepWork): StepOutcome {
    if (work.has('failed')) return this.isLost(work) ? 'dead' : 'stops';
    for (const answer of ['unknown', 'repeats', 'not-shown'] as const) if (work.has(answer)) return answer;
    return 'done';
  }

  private isLost(work: StepWork): boolean {
    const isGone = this.state !== 'old' && this.state !== 'none';
    if (isGone || work.failedFatally || (work.failedContent && !this.checksContent())) return true;
    return work.failedLate && this.erases !== 'after-checks' && this.erases !== 'never-blank';
  }

  private checksContent(): boolean {
    const { checks } = this.subject.resolved.update;
    return Array.isArray(checks) && checks.some((check) => check !== 'nothing');
  }

  private advance(id: StepId): void {
    if (this.erases === 'never-blank') {
      if (id === 'switch') this.state = 'new';
    } else if (id === 'erase') this.state = 'erased';
    else if (id === 'write') this.state = 'new';
  }

  /** What the machine does when the power fails in a step, or the loader gives up there. */
  private ifItStops(id: StepId, before: ProgramState): string {
    if (before === 'new')
      return id === 'jump'
        ? 'The new program is in the memory: switch on again.'
        : 'The new program is in the memory; the loader may write it once more at the next power-up.';
    if (this.erases === 'never-blank') return 'Nothing is lost: what ran before runs again.';
    if (id === 'erase' || (before !== 'old' && before !== 'none')) return this.noProgram();
    return before === 'none'
      ? 'Nothing changes: there was no program before, and there is none now.'
      : 'Nothing is lost: the old program runs as before.';
  }

  /** A loader that erases first may go on for a while with what it cannot read. */
  private lost(before: ProgramState, work: StepWork): string {
    const isEarly = (before === 'old' || before === 'none') && !work.failedFatally && !work.failedContent;
    return isEarly
      ? `This loader may notice that only after it has erased. ${this.noProgram('Then there is')}`
      : this.noProgram();
  }

  private noProgram(lead = 'There is'): string {
    return `${lead} no program in the memory that starts. ${this.wayBack()}`;
  }

  private wayBack(): string {
    if (this.overwritesLoader()) return 'The boot loader is overwritten too: there is no way back by card.';
    if (this.erases === 'never-blank')
      return 'The old one may still be kept beside it; whether this loader goes back to it, the profile does not say.';
    const there = this.areas.loader === null ? 'as a rule' : 'still';
    return `The boot loader is ${there} there: with a right card in, it tries again when the machine is switched on.`;
  }

  private overwritesLoader(): boolean {
    const { loader } = this.areas;
    const map = this.program?.map ?? null;
    return loader !== null && map !== null && map.inside(loader.start, loader.end).length > 0;
  }
}

const taken = ({ findings, reads, writes }: StepWork): Pick<Step, 'findings' | 'reads' | 'writes'> => ({
  findings,
  reads,
  writes,
});
