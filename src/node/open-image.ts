import { type ByteSource, ReadProblem } from '../bytes/byte-source.js';
import { FileSource } from './file-source.js';
import { type ContainerProblem, isGzip, type Progress, unpackGzip } from './gzip.js';

/** A card image that is open for reading. */
export interface OpenedTarget {
  /** The path as it was given. */
  readonly path: string;
  /** Bytes of the medium; of a packed image, of the image inside. */
  readonly source: ByteSource;
  /** Size of the medium in bytes; null when a packed image is broken, since its end was not seen. */
  readonly bytes: number | null;
  readonly container: 'none' | 'gzip';
  readonly containerProblems: readonly ContainerProblem[];
  /** True when the checksum of a packed image held; null when it is not packed. */
  readonly crcHeld: boolean | null;
  /** True when anybody wrote to the file since it was opened. Ask after the last read. */
  changed(): boolean;
  close(): void;
}

/**
 * Opens a raw or gzip-packed card image, whatever its name. Nothing is ever written. Throws the system's error when
 * the file cannot be opened; every later trouble is a `ReadProblem` of the source.
 */
export async function openImage(path: string, progress?: Progress): Promise<OpenedTarget> {
  const file = FileSource.open(path);
  try {
    const mark = file.changeMark();
    const opened = {
      path,
      changed: () => file.changeMark() !== mark,
      close: () => file.close(),
    };
    const head = file.size < 2 ? new Uint8Array(0) : file.read(0, 2);
    if (head instanceof ReadProblem || !isGzip(head))
      return {
        ...opened,
        source: file,
        bytes: file.size,
        container: 'none',
        containerProblems: [],
        crcHeld: null,
      };
    const { source, bytes, crcHeld, problems } = await unpackGzip(file, progress);
    return { ...opened, source, bytes, container: 'gzip', containerProblems: problems, crcHeld };
  } catch (error) {
    file.close();
    throw error;
  }
}
