import { type ByteSource, ReadProblem } from './byte-source.js';

/** A stretch that could not be read, and what the reading was for. */
export interface RecordedProblem {
  readonly problem: ReadProblem;
  readonly stage: string;
}

/**
 * Hands reads on to another source and remembers every one that failed, so that nothing which was asked for and
 * not given can be forgotten on the way to the verdict.
 */
export class RecordingSource implements ByteSource {
  private readonly failed: RecordedProblem[] = [];
  private failures = 0;
  /** What the reads are for from now on: `partition-table`, `volume`, `update-file` … */
  stage = 'volume';

  constructor(
    private readonly inner: ByteSource,
    /** Problems kept with their place; the rest is counted. */
    private readonly most: number,
  ) {}

  get size(): number {
    return this.inner.size;
  }

  /** Problems in the order in which they were met, at most as many as the limit. */
  get problems(): readonly RecordedProblem[] {
    return this.failed;
  }

  /** All problems, those too that were not kept. */
  get count(): number {
    return this.failures;
  }

  read(at: number, length: number): Uint8Array | ReadProblem {
    const got = this.inner.read(at, length);
    if (got instanceof ReadProblem) {
      this.failures++;
      if (this.failed.length < this.most) this.failed.push({ problem: got, stage: this.stage });
    }
    return got;
  }
}
