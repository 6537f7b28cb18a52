/** The boot sector of an exFAT volume and its label: exFAT file system specification, revision 1.00. */
import { type ByteSource, isInside, ReadProblem } from '../../bytes/byte-source.js';
import { Cursor, u32At, utf16Text } from '../../bytes/cursor.js';
import { limits } from '../../bytes/limits.js';
import { isExfat } from '../signatures.js';

/** What an exFAT boot sector says (section 3.1). Sizes are bytes, offsets are bytes in the volume. */
export interface ExfatVolume {
  readonly bytesPerSector: number;
  readonly clusterBytes: number;
  readonly clusterCount: number;
  /** Length of the volume, as the boot sector says. */
  readonly bytes: number;
  readonly fatAt: number;
  readonly fatBytes: number;
  readonly fatCount: number;
  readonly heapAt: number;
  readonly rootCluster: number;
  /** Serial number, 8 lower-case hexadecimal digits. */
  readonly serial: string;
  /** True when the VolumeDirty flag is set (section 3.1.13.2). */
  readonly dirty: boolean;
  /** True when the MediaFailure flag is set (section 3.1.13.3). */
  readonly mediaFailure: boolean;
  /** The label; null when the root directory has none; a ReadProblem when the directory could not be followed. */
  readonly label: string | null | ReadProblem;
  /** True when the boot checksum (section 3.4) is right; null when its sectors could not be read. */
  readonly checksumRight: boolean | null;
}

/**
 * Reads the boot sector at byte 0 of the volume and walks the root directory for the label. Null when its fields
 * make no sense; a ReadProblem when it could not be read. The walk ends after `limits.folderBytes`.
 */
export function readExfat(volume: ByteSource): ExfatVolume | ReadProblem | null {
  if (volume.size < 512) return null;
  const read = volume.read(0, 512);
  if (read instanceof ReadProblem) return read;
  const sector = read.slice();
  if (!isExfat(sector)) return null;
  const field = new Cursor(sector, 72);
  const sectors = field.u64();
  const fatOffset = field.u32();
  const fatLength = field.u32();
  const heapOffset = field.u32();
  const clusterCount = field.u32();
  const rootCluster = field.u32();
  const serial = field.u32().toString(16).padStart(8, '0');
  field.skip(2);
  const flags = field.u16();
  const bytesPerSector = 2 ** field.u8();
  const clusterBytes = bytesPerSector * 2 ** field.u8();
  const fatCount = field.u8();
  const bytes = sectors * bytesPerSector;
  if (!Number.isSafeInteger(bytes) || sectors === 0 || clusterCount === 0 || fatOffset < 24) return null;
  const layout = {
    bytesPerSector,
    clusterBytes,
    clusterCount,
    bytes,
    fatAt: fatOffset * bytesPerSector,
    fatBytes: fatLength * bytesPerSector,
    fatCount,
    heapAt: heapOffset * bytesPerSector,
    rootCluster,
  };
  return {
    ...layout,
    serial,
    dirty: (flags & 0x2) !== 0,
    mediaFailure: (flags & 0x4) !== 0,
    label: readLabel(volume, layout, (flags & 1) === 1 && fatCount === 2 ? layout.fatBytes : 0),
    checksumRight: checkBootChecksum(volume, bytesPerSector),
  };
}

/** Pieces in which the root directory is read: clusters have up to 32 MiB, a label stands near the start. */
const PIECE_BYTES = 64 * 1024;

/** The volume label entry, 83 (section 7.3), in the root directory. */
function readLabel(
  volume: ByteSource,
  layout: Omit<ExfatVolume, 'serial' | 'dirty' | 'mediaFailure' | 'label' | 'checksumRight'>,
  activeFatOffset: number,
): string | null | ReadProblem {
  const { clusterBytes, clusterCount, fatAt, fatBytes, heapAt } = layout;
  let cluster = layout.rootCluster;
  let done = 0;
  for (;;) {
    const at = heapAt + (cluster - 2) * clusterBytes;
    if (cluster < 2 || cluster > clusterCount + 1)
      return new ReadProblem(Math.max(at, 0), clusterBytes, 'damaged');
    for (let piece = 0; piece < clusterBytes; piece += PIECE_BYTES) {
      const length = Math.min(PIECE_BYTES, clusterBytes - piece);
      if (done >= limits.folderBytes) return new ReadProblem(at + piece, length, 'over-limit');
      if (!isInside(at + piece, length, volume.size)) return new ReadProblem(at + piece, length, 'past-end');
      const entries = volume.read(at + piece, length);
      if (entries instanceof ReadProblem) return entries;
      done += length;
      for (let i = 0; i < length; i += 32) {
        const type = entries[i];
        if (type === 0) return null;
        if (type !== 0x83) continue;
        const characters = Math.min(entries[i + 1] ?? 0, 11);
        return characters === 0 ? null : utf16Text(entries.subarray(i + 2, i + 2 + characters * 2));
      }
    }
    const linkAt = fatAt + activeFatOffset + cluster * 4;
    if ((cluster + 1) * 4 > fatBytes || !isInside(linkAt, 4, volume.size))
      return new ReadProblem(linkAt, 4, 'damaged');
    const link = volume.read(linkAt, 4);
    if (link instanceof ReadProblem) return link;
    const next = u32At(link, 0);
    if (next === 0xffffffff) return null;
    cluster = next;
  }
}

/**
 * The boot checksum over the first eleven sectors, without the flags and the fill level, which change in use
 * (section 3.4), against the first number in sector 11.
 */
function checkBootChecksum(volume: ByteSource, bytesPerSector: number): boolean | null {
  const region = 11 * bytesPerSector;
  if (!isInside(0, region + 4, volume.size)) return null;
  const bytes = volume.read(0, region + 4);
  if (bytes instanceof ReadProblem) return null;
  let sum = 0;
  for (let i = 0; i < region; i++) {
    if (i === 106 || i === 107 || i === 112) continue;
    sum = (((sum & 1) !== 0 ? 0x80000000 : 0) + (sum >>> 1) + (bytes[i] ?? 0)) >>> 0;
  }
  return sum === u32At(bytes, region);
}
