/** Why bytes could not be read. */
export type ReadCause = 'past-end' | 'read-error' | 'damaged' | 'no-permission' | 'over-limit';

/** Bytes that could not be had: which ones, and why. Returned by `ByteSource.read`, never thrown. */
export class ReadProblem {
  constructor(
    /** First byte that was asked for. */
    readonly at: number,
    /** How many bytes were asked for. */
    readonly length: number,
    readonly cause: ReadCause,
    /** The system's own words, when it gave any. */
    readonly detail?: string,
  ) {}
}

/** Random access to the bytes of a medium or file. There is no way to write through it. */
export interface ByteSource {
  /** Size in bytes. */
  readonly size: number;
  /**
   * Exactly `length` bytes from byte `at`, or the problem that kept them away. The array may be a view of a
   * buffer that the source keeps: callers must not change it.
   */
  read(at: number, length: number): Uint8Array | ReadProblem;
}

/** Bytes that are in memory already. */
export class MemorySource implements ByteSource {
  constructor(private readonly bytes: Uint8Array) {}
  get size(): number {
    return this.bytes.length;
  }
  read(at: number, length: number): Uint8Array | ReadProblem {
    if (!isInside(at, length, this.bytes.length)) return new ReadProblem(at, length, 'past-end');
    return this.bytes.subarray(at, at + length);
  }
}

/** A stretch of another source, with its own byte 0. Offsets in its problems are those of the stretch. */
export class WindowSource implements ByteSource {
  constructor(
    private readonly inner: ByteSource,
    /** First byte of the stretch in the inner source. */
    readonly start: number,
    /** Length of the stretch in bytes; it may run past the inner source, whose reads then fail. */
    readonly size: number,
  ) {}
  read(at: number, length: number): Uint8Array | ReadProblem {
    if (!isInside(at, length, this.size)) return new ReadProblem(at, length, 'past-end');
    const got = this.inner.read(this.start + at, length);
    return got instanceof ReadProblem ? new ReadProblem(at, length, got.cause, got.detail) : got;
  }
}

/** True when `[at, at + length)` lies inside `[0, size)`; false for anything that is not a safe whole number. */
export function isInside(at: number, length: number, size: number): boolean {
  return (
    Number.isSafeInteger(at) && Number.isSafeInteger(length) && at >= 0 && length >= 0 && at + length <= size
  );
}
