import type { MemoryMap } from '../memory-map.js';
import type { FirmwareProblem } from '../problem.js';

/** How an update file may hold a program; the words of `update.encoding` in a board profile. */
export type EncodingId =
  | 'raw'
  | 'intel-hex'
  | 's-record'
  | 'uf2'
  | 'elf'
  | 'esp-image'
  | 'dfuse'
  | 'packed-gzip'
  | 'scrambled';

/** SHA-256 of bytes as 64 lower-case hexadecimal digits. The core has no cryptography: callers bring it. */
export type Sha256 = (bytes: Uint8Array) => string;

/** What the caller knows beside the bytes. Nothing of it is needed to decode. */
export interface DecodeHint {
  /** Address at which this board's loader writes a file that names no addresses. */
  readonly loadAddress?: number;
  /** UF2 family that this board's loader takes. */
  readonly uf2Family?: number;
  readonly sha256?: Sha256;
}

/** Sure (a signature and a structure behind it), likely (a signature), possible (nothing speaks against it), or no. */
export type Confidence = 'certain' | 'likely' | 'possible' | 'no';

export interface Detection {
  readonly confidence: Confidence;
  /** Plain words: what in the bytes says so. */
  readonly because: string;
}

/** Facts of a text record file. */
export interface RecordDetails {
  readonly kind: 'intel-hex' | 's-record';
  readonly records: number;
  readonly dataRecords: number;
  /** True when the record that ends the file is there. */
  readonly endRecord: boolean;
  readonly lineEnds: 'lf' | 'crlf' | 'cr' | 'mixed' | 'none';
  /** Text of the first S0 record, else null. */
  readonly header: string | null;
}

/** Blocks of one UF2 family. */
export interface Uf2Family {
  /** Family id, or null for blocks that carry none. */
  readonly id: number | null;
  /** Name in the published list, else null. */
  readonly name: string | null;
  /** Blocks that are written to main flash. */
  readonly blocks: number;
  /** Number of blocks that the first of them announces. */
  readonly announced: number;
  /** Block numbers below `announced` that no block has. */
  readonly missing: number;
  /** Blocks whose number had come before. */
  readonly repeated: number;
  /** Blocks whose number is lower than that of the one before. */
  readonly outOfOrder: number;
  /** What these blocks put where. */
  readonly map: MemoryMap;
}

/** Facts of a UF2 file. */
export interface Uf2Details {
  readonly kind: 'uf2';
  readonly blocks: number;
  /** Every family in the file, in the order in which they first appear. */
  readonly families: readonly Uf2Family[];
  /** Family whose blocks are in the map; undefined when none is. */
  readonly mapFamily: number | null | undefined;
  /** Blocks with the flag "not main flash": comments, which no loader writes. */
  readonly notMainFlash: number;
  /** Files inside, when it is used as a container, the first `limits.listed`. */
  readonly files: readonly { readonly name: string; readonly bytes: number }[];
  /** Blocks with an MD5 of the flash region that they belong to. */
  readonly md5Blocks: number;
  /** Texts of the extension tags that were met first. */
  readonly tags: {
    readonly version?: string;
    readonly device?: string;
    readonly pageBytes?: number;
    readonly deviceType?: string;
  };
}

/** Facts of an ELF file. */
export interface ElfDetails {
  readonly kind: 'elf';
  readonly class: 32 | 64;
  readonly byteOrder: 'little' | 'big';
  /** `e_type`: 1 relocatable, 2 executable, 3 shared. */
  readonly type: number;
  /** `e_machine` with its name, such as `{number: 40, name: 'ARM'}`. */
  readonly machine: { readonly number: number; readonly name: string | null };
  /** Segments with bytes to load, in the order of the program headers. */
  readonly segments: readonly {
    readonly physicalAddress: number;
    readonly virtualAddress: number;
    readonly fileOffset: number;
    readonly fileBytes: number;
    readonly memoryBytes: number;
  }[];
  /** True when a segment to load begins with the ELF header itself, which then lands in flash. */
  readonly loadsItsHeader: boolean;
}

/** Facts of an ESP application image. */
export interface EspDetails {
  readonly kind: 'esp-image';
  /** `esp8266` images have a short header and name no chip. */
  readonly header: 'esp32' | 'esp8266';
  /** Chip id of the extended header, null for the ESP8266. */
  readonly chipId: number | null;
  /** Name of that chip in the published list, else null. */
  readonly chip: string | null;
  readonly segmentCount: number;
  readonly segments: readonly { readonly address: number; readonly bytes: number }[];
  /** QIO, QOUT, DIO, DOUT as written by the image tool, else null. */
  readonly flashMode: string | null;
  /** The raw byte: size of the flash chip in its high half, frequency in its low half. */
  readonly flashSizeAndFrequency: number;
  readonly checksum: { readonly at: number; readonly written: number; readonly computed: number } | null;
  /** The appended SHA-256: not there, equal, different, or there and not computed. */
  readonly digest: 'none' | 'equal' | 'different' | 'not-checked';
  /** Bytes that the image itself takes, which is what the flash holds of it. */
  readonly imageBytes: number;
  /** Bytes of the file after the image. */
  readonly trailingBytes: number;
  /** Offset of a partition table in the file: it is then a merged image. Null when there is none. */
  readonly partitionTableAt: number | null;
}

/** A DFU suffix: the last bytes of a file made for USB device firmware upgrade. */
export interface DfuSuffix {
  /** Offset of its first byte. */
  readonly at: number;
  readonly bytes: number;
  /** 0xFFFF stands for any. */
  readonly vendor: number;
  readonly product: number;
  readonly device: number;
  /** `bcdDFU`: 0x0100 or 0x011A. */
  readonly version: number;
  readonly crc: { readonly written: number; readonly computed: number };
}

/** Facts of a DfuSe file. */
export interface DfuseDetails {
  readonly kind: 'dfuse';
  readonly version: number;
  readonly targets: readonly {
    readonly altSetting: number;
    readonly name: string | null;
    readonly elements: number;
  }[];
  readonly suffix: DfuSuffix | null;
}

/** Facts of a file that is taken as it is. */
export interface RawDetails {
  readonly kind: 'raw' | 'scrambled';
  /** The address that the caller gave; null when nobody did, and the map then begins at 0. */
  readonly loadAddress: number | null;
  /** Bits of information in a byte, 0 to 8, measured over the first `limits.entropyBytes`. */
  readonly entropy: number;
  /** A DFU suffix at the end, which a loader that wants plain bytes writes as if it were program. */
  readonly suffix: DfuSuffix | null;
}

/** Facts of a packed file. What is inside is not unpacked here. */
export interface PackedDetails {
  readonly kind: 'packed-gzip';
  /** Name stored by the packer, else null. */
  readonly name: string | null;
  /** Size of the content, modulo 2^32, as the last four bytes say; null when the file is too short. */
  readonly contentBytes: number | null;
}

/** What only one encoding has; `kind` tells which. */
export type EncodingDetails =
  | RecordDetails
  | Uf2Details
  | ElfDetails
  | EspDetails
  | DfuseDetails
  | RawDetails
  | PackedDetails;

/** A decoded update file. */
export interface Decoded {
  readonly encoding: EncodingId;
  readonly map: MemoryMap;
  /** Start address that the file names, as written there (bit 0 of a Thumb address included), else null. */
  readonly entry: number | null;
  /** False when bytes of the program are known to lack: an end record, blocks, bytes of a segment, a limit. */
  readonly whole: boolean;
  /** The first `limits.problems` of them. */
  readonly problems: readonly FirmwareProblem[];
  readonly problemsTotal: number;
  readonly details: EncodingDetails;
}

/** One encoding: how to tell it by its content, and how to read it. Neither ever throws. */
export interface Encoding {
  readonly id: EncodingId;
  /** Name for people: `Intel HEX`. */
  readonly title: string;
  /** Extensions that such files usually have, lower case. */
  readonly extensions: readonly string[];
  detect(bytes: Uint8Array): Detection;
  decode(bytes: Uint8Array, hint?: DecodeHint): Decoded;
}

/** The answer of an encoding whose signature is missing. */
export const notThis: Detection = { confidence: 'no', because: 'its signature is not there' };
