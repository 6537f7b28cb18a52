import { type ByteSource, isInside, ReadProblem } from '../../bytes/byte-source.js';
import type { FatName } from '../fat/width.js';
import type { CardLayout } from './layout.js';
import { longNameEntries } from './names.js';
import {
  bootSector,
  fsInfoSector,
  type Identity,
  mediaByte,
  type NewPartition,
  partitionTable,
  reservedUse,
} from './sectors.js';
import type { NewEntry, NewFolder } from './tree.js';

/** Bytes of a card image that are not zero, and where. */
export interface Piece {
  readonly at: number;
  readonly bytes: Uint8Array;
}

/** What a card image is made of. */
export interface NewCard {
  readonly layout: CardLayout;
  /** Null where the volume starts in the first sector. */
  readonly partition: NewPartition | null;
  readonly root: NewFolder;
  /** Eleven characters; null for a card without a label. */
  readonly label: string | null;
  /** Number of volume and disk. */
  readonly serial: number;
}

/**
 * 1 January 1980, midnight: the first day that FAT can write (FAT specification, section 6). The same files give the
 * same card whenever it is made, and nobody takes the day for the real one.
 */
const date = (1 << 5) | 1;

const attribute = { volume: 0x08, folder: 0x10, file: 0x20 } as const;

/** The pieces of a card image in the order of their places. Everything between them is zero. */
export function cardPieces(card: NewCard): Piece[] {
  const { layout, partition, serial } = card;
  const identity: Identity = { serial, label: card.label ?? 'NO NAME    ' };
  const volume = new VolumeWriter(layout);
  volume.add(card.root, card.label);
  const sector = (number: number): number => layout.startByte + number * layout.bytesPerSector;
  const pieces: Piece[] = [...volume.pieces];
  const boot = bootSector(layout, identity);
  pieces.push({ at: sector(0), bytes: boot });
  if (partition !== null) pieces.push({ at: 0, bytes: partitionTable(layout, partition, serial) });
  const { fsInfo, backup } = reservedUse(layout);
  const info = fsInfoSector(layout.clusterCount + 2 - volume.nextFree, volume.nextFree);
  if (fsInfo > 0) pieces.push({ at: sector(fsInfo), bytes: info });
  if (backup > 0) pieces.push({ at: sector(backup), bytes: boot }, { at: sector(backup + 1), bytes: info });
  for (let copy = 0; copy < layout.fatCount; copy++)
    pieces.push({
      at: sector(layout.reservedSectors + copy * layout.fatSectors),
      bytes: volume.fileAllocationTable(),
    });
  return pieces.filter(({ bytes }) => bytes.length > 0).sort((a, b) => a.at - b.at);
}

/** Hands out clusters one after the other, so that everything lies in one piece. */
class VolumeWriter {
  readonly pieces: Piece[] = [];
  /** Next cluster of each cluster in use, from cluster 2 on; 0 ends a chain. */
  private readonly chain: number[] = [];

  constructor(private readonly layout: CardLayout) {}

  /** The first cluster that is free. */
  get nextFree(): number {
    return this.chain.length + 2;
  }

  add(root: NewFolder, label: string | null): void {
    const { rootEntries, startByte, dataByte } = this.layout;
    const slots = root.slots + (label === null ? 0 : 1);
    const rootAt =
      rootEntries === 0 ? this.placeOf(this.take(Math.max(1, slots * 32))) : dataByte - rootEntries * 32;
    if (rootAt < startByte) throw new Error('the root folder lies before the volume');
    const bytes = this.folderBytes(root, []);
    // Behind the files, so that a loader that counts entries or takes the first one meets the update file.
    const own = label === null ? [] : [shortEntry(label, attribute.volume, 0, 0)];
    this.pieces.push({ at: rootAt, bytes: joined([bytes, ...own]) });
  }

  /**
   * The entries of a folder. What is stored first gets its clusters first, with all that lies inside.
   * @param own the entries of the folder about itself
   */
  private folderBytes({ entries }: NewFolder, own: readonly Uint8Array[], cluster = 0): Uint8Array {
    const parts: Uint8Array[] = [...own];
    for (const entry of entries) parts.push(longNameEntries(entry.stored), this.placed(entry, cluster));
    return joined(parts);
  }

  /** Stores a file or folder and gives its short entry. */
  private placed(entry: NewEntry, parent: number): Uint8Array {
    if (!entry.isFolder) {
      const { bytes } = entry.file;
      const first = bytes.length === 0 ? 0 : this.take(bytes.length);
      if (first > 0) this.pieces.push({ at: this.placeOf(first), bytes });
      return shortEntry(entry.stored.raw, attribute.file, first, bytes.length);
    }
    const first = this.take(entry.slots * 32);
    // The root folder stands as cluster 0 in the folders inside it (FAT specification, section 6.5).
    const own = [
      shortEntry('.'.padEnd(11), attribute.folder, first, 0),
      shortEntry('..'.padEnd(11), attribute.folder, parent, 0),
    ];
    this.pieces.push({ at: this.placeOf(first), bytes: this.folderBytes(entry, own, first) });
    return shortEntry(entry.stored.raw, attribute.folder, first, 0);
  }

  private placeOf(cluster: number): number {
    return this.layout.dataByte + (cluster - 2) * this.layout.clusterBytes;
  }

  /** Takes clusters for so many bytes; the first of them. */
  private take(bytes: number): number {
    const first = this.nextFree;
    const count = Math.ceil(bytes / this.layout.clusterBytes);
    if (first + count > this.layout.clusterCount + 2) throw new Error('the layout has too few clusters');
    for (let i = 1; i < count; i++) this.chain.push(first + i);
    this.chain.push(0);
    return first;
  }

  /** One copy of the FAT as far as it is used (FAT specification, section 4): both marks at its start say "in order". */
  fileAllocationTable(): Uint8Array {
    const { fileSystem } = this.layout;
    const end = fileSystem === 'FAT12' ? 0xfff : fileSystem === 'FAT16' ? 0xffff : 0x0fffffff;
    const entries = [end - 0xff + mediaByte, end, ...this.chain.map((next) => (next === 0 ? end : next))];
    return packed(fileSystem, entries);
  }
}

function packed(fileSystem: FatName, entries: readonly number[]): Uint8Array {
  if (fileSystem === 'FAT12') {
    const bytes = new Uint8Array(Math.ceil((entries.length * 3) / 2));
    for (const [index, value] of entries.entries()) {
      const at = Math.floor((index * 3) / 2);
      const shifted = index % 2 === 1 ? value << 4 : value;
      bytes[at] = bytes[at]! | (shifted & 0xff);
      bytes[at + 1] = bytes[at + 1]! | (shifted >> 8);
    }
    return bytes;
  }
  const width = fileSystem === 'FAT16' ? 2 : 4;
  const bytes = new Uint8Array(entries.length * width);
  const view = new DataView(bytes.buffer);
  for (const [index, value] of entries.entries())
    if (width === 2) view.setUint16(index * 2, value, true);
    else view.setUint32(index * 4, value, true);
  return bytes;
}

/** A short entry (FAT specification, section 6). */
function shortEntry(raw: string, attributes: number, cluster: number, size: number): Uint8Array {
  const bytes = new Uint8Array(32);
  const view = new DataView(bytes.buffer);
  for (let i = 0; i < 11; i++) bytes[i] = raw.charCodeAt(i);
  bytes[11] = attributes;
  view.setUint16(16, date, true); // DIR_CrtDate
  view.setUint16(18, date, true); // DIR_LstAccDate
  view.setUint16(20, cluster >>> 16, true); // DIR_FstClusHI
  view.setUint16(24, date, true); // DIR_WrtDate
  view.setUint16(26, cluster & 0xffff, true); // DIR_FstClusLO
  view.setUint32(28, size, true);
  return bytes;
}

function joined(parts: readonly Uint8Array[]): Uint8Array {
  const bytes = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    bytes.set(part, at);
    at += part.length;
  }
  return bytes;
}

/** A card image that is not written yet, as a medium to read: its pieces with zeros between them. */
export class PieceSource implements ByteSource {
  constructor(
    private readonly pieces: readonly Piece[],
    readonly size: number,
  ) {}

  read(at: number, length: number): Uint8Array | ReadProblem {
    if (!isInside(at, length, this.size)) return new ReadProblem(at, length, 'past-end');
    const bytes = new Uint8Array(length);
    for (const piece of this.pieces) {
      const from = Math.max(at, piece.at);
      const to = Math.min(at + length, piece.at + piece.bytes.length);
      if (from < to) bytes.set(piece.bytes.subarray(from - piece.at, to - piece.at), from - at);
    }
    return bytes;
  }
}
