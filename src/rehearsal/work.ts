import { isCoreKey } from '../board/keys.js';
import type { ResolvedProfile } from '../board/profile.js';
import { Absent, type FactValue, Unseen } from '../facts/fact.js';
import type { FactStore } from '../facts/fact-store.js';
import type { StepFinding, Stretch } from './step.js';

/** How a demand of the loader is to be taken. */
export interface How {
  /**
   * True for what a loader may notice only when it reads the file: one that erases first has then nothing to go back
   * to.
   */
  readonly late?: boolean;
  /** True for a fault of the file's content, which only a loader that checks it refuses. */
  readonly content?: boolean;
  /** True for what spoils the memory whatever the loader does with the rest. */
  readonly fatal?: boolean;
  /** True for what the owner's word "formatted just now, these files copied once" stands in for. */
  readonly fresh?: boolean;
  /** The rule that says the same. Where the profile waives it, this loader puts up with what is found. */
  readonly rule?: string;
}

/** What is found about one step while it is rehearsed. */
export class StepWork {
  readonly findings: StepFinding[] = [];
  readonly reads: Stretch[] = [];
  readonly writes: Stretch[] = [];
  /** Some of what failed is noticed late, is a fault of the content, spoils the memory. */
  failedLate = false;
  failedContent = false;
  failedFatally = false;

  constructor(
    private readonly store: FactStore,
    private readonly profile: ResolvedProfile,
    /** Rules that failed on this card and that the profile waives. */
    private readonly waived: ReadonlySet<string>,
  ) {}

  /** What the loader does here, in a plain sentence. */
  done(text: string): void {
    this.findings.push({ answer: 'done', text });
  }

  failed(text: string, { late = false, content = false, fatal = false, rule }: How = {}): void {
    if (rule !== undefined && this.waived.has(rule)) {
      this.done(`${text} The board profile says that this loader puts up with it here.`);
      return;
    }
    this.findings.push({ answer: 'failed', text });
    this.failedLate ||= late || content;
    this.failedContent ||= content;
    this.failedFatally ||= fatal;
  }

  unknown(
    { text, settle }: { readonly text: string; readonly settle?: string | undefined },
    { rule }: How = {},
  ): void {
    if (rule !== undefined && this.waived.has(rule)) {
      this.done(`${sentence(text)} The board profile says that this loader puts up with it here.`);
      return;
    }
    // One answer that was not told keeps many things open; it is asked for once.
    if (this.findings.some((finding) => finding.answer === 'unknown' && finding.text === sentence(text)))
      return;
    this.findings.push({ answer: 'unknown', text: sentence(text), ...(settle ? { settle } : {}) });
  }

  repeats(text: string): void {
    this.findings.push({ answer: 'repeats', text });
  }

  notShown(text: string): void {
    this.findings.push({ answer: 'not-shown', text });
  }

  has(answer: StepFinding['answer']): boolean {
    return this.findings.some((finding) => finding.answer === answer);
  }

  /**
   * What the profile says under a key such as `loader.clusterBytes`; undefined when it says nothing, that it does not
   * matter, or that it depends on an answer that nobody gave, of which the last is noted as unknown, and so is silence
   * about a core key.
   */
  said<T>(key: string): T | undefined {
    const open = this.profile.open[key];
    if (open) {
      this.unknown(open);
      return undefined;
    }
    const value = key
      .split('.')
      .reduce<unknown>(
        (at, name) => (typeof at === 'object' && at !== null ? (at as Record<string, unknown>)[name] : at),
        this.profile,
      );
    if (value === undefined && isCoreKey(key))
      this.unknown({
        text: `the board profile does not say ${key}`,
        settle: `ask the author of the profile for ${key}`,
      });
    return value === 'any' ? undefined : (value as T | undefined);
  }

  /** The value of a fact, or undefined when there is none to speak of; one that was not seen is noted as unknown. */
  seen(path: string, { fresh = false }: How = {}): Exclude<FactValue, Unseen | Absent> | undefined {
    return this.known(this.store.value(path), fresh);
  }

  /** The same for a value that was taken out of a fact. */
  known(value: FactValue | undefined, fresh = false): Exclude<FactValue, Unseen | Absent> | undefined {
    if (value === undefined || value instanceof Absent) return undefined;
    if (!(value instanceof Unseen)) return value;
    const isElsewhere = value.cause === 'not-visible' || value.cause === 'no-permission';
    const isSettled = fresh && isElsewhere && this.store.value('media.history') === 'fresh';
    if (!isSettled) this.unknown(value);
    return undefined;
  }

  /** The same without any note, for what only words are made of. */
  quietly(path: string): FactValue {
    return this.store.value(path);
  }

  /**
   * Holds a fact against what the profile says under a key. What differs from a value that was only seen to work is
   * unknown.
   * @param words of what is wrong: a plain sentence
   */
  wants<S>(
    key: string,
    path: string,
    fits: (found: FactValue, said: S) => boolean,
    words: (found: FactValue, said: S) => string,
    how: How = {},
  ): void {
    const said = this.said<S>(key);
    if (said === undefined) return;
    const found = this.seen(path, how);
    if (found === undefined || fits(found, said)) return;
    if (this.profile.seenKeys.includes(key))
      this.unknown({ text: `${words(found, said)} That is not known to work, nor known to fail.` });
    else this.failed(words(found, said), how);
  }
}

/** With a capital and a full stop. */
export function sentence(text: string): string {
  const capital = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.:?]$/.test(capital) ? capital : `${capital}.`;
}
