import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { type ByteSource, isInside, ReadProblem } from '../bytes/byte-source.js';
import { errorText, readCauseOf } from './read-cause.js';

/**
 * Bytes of a regular file, opened for reading only. `readSync` costs a few microseconds a call, far less than a
 * promise for each read, and readers ask for whole clusters and stretches of the FAT.
 */
export class FileSource implements ByteSource {
  private closed = false;
  private constructor(
    private readonly descriptor: number,
    /** Size in bytes when the file was opened. */
    readonly size: number,
  ) {}

  /** Opens a file. Throws the system's error (`ENOENT`, `EACCES`) when that fails. */
  static open(path: string): FileSource {
    const descriptor = openSync(path, 'r');
    try {
      return new FileSource(descriptor, fstatSync(descriptor).size);
    } catch (error) {
      closeSync(descriptor);
      throw error;
    }
  }

  read(at: number, length: number): Uint8Array | ReadProblem {
    if (!isInside(at, length, this.size)) return new ReadProblem(at, length, 'past-end');
    const bytes = new Uint8Array(length);
    let got = 0;
    while (got < length) {
      let count: number;
      try {
        count = readSync(this.descriptor, bytes, got, length - got, at + got);
      } catch (error) {
        return new ReadProblem(at, length, readCauseOf(error), errorText(error));
      }
      if (count === 0)
        return new ReadProblem(
          at,
          length,
          'read-error',
          `the file ends after byte ${at + got}: it became shorter`,
        );
      got += count;
    }
    return bytes;
  }

  /** A mark that differs after anybody wrote to the file: size, time of change and identity. */
  changeMark(): string {
    const { size, mtimeNs, dev, ino } = fstatSync(this.descriptor, { bigint: true });
    return `${size} ${mtimeNs} ${dev} ${ino}`;
  }

  close(): void {
    if (!this.closed) closeSync(this.descriptor);
    this.closed = true;
  }
}
