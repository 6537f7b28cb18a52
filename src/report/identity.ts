import type { FileRole } from '../board/manifest.js';
import type { EncodingId } from '../firmware/encodings/encoding.js';
import type { Report } from './report.js';

/**
 * `known`: a published build by its SHA-256. `not-firmware`: the content is something else. `unknown`: firmware, or what
 * may be firmware, that equals no published build or was compared with none.
 */
export type IdentityVerdict = 'known' | 'not-firmware' | 'unknown';

/** How a firmware file holds its program. */
export interface IdentityEncoding {
  id: EncodingId;
  /** Name for people: `Intel HEX`. */
  title: string;
  confidence: 'certain' | 'likely' | 'possible';
  /** What in the bytes says so. */
  because: string;
  /** Names of the encodings that a file of this name usually has; empty when the name promises none. */
  byName: string[];
  /** True when the name promises another encoding than the content has. */
  nameDiffers: boolean;
  /** False when bytes of the program are known to lack. */
  whole: boolean;
  problems: { code: string; text: string; at: number | null }[];
  problemsTotal: number;
}

/** Where the program goes in the memory. Addresses and sizes in bytes. */
export interface IdentityMemory {
  start: number;
  /** Address after the last byte. */
  end: number;
  /** Bytes of program, gaps left out. */
  bytes: number;
  /** Stretches with bytes, the first ones; `total` counts all. */
  segments: { start: number; end: number }[];
  segmentsTotal: number;
  /** What says the addresses: the file itself, the board profile, or the program's own vectors. */
  by: 'file' | 'profile' | 'vectors';
}

/** `flashworthy-identity/1`: what a firmware file is. */
export interface IdentityReport {
  schema: 'flashworthy-identity/1';
  tool: { name: 'flashworthy'; version: string };
  /** Digests are null for a file that is too large to be firmware and was not read to its end. */
  file: { path: string; bytes: number; crc32: string | null; sha256: string | null };
  board: { id: string; title: string; revision: number } | null;
  inputs: Report['inputs'];
  verdict: IdentityVerdict;
  /** The verdict in one plain sentence with the file as its subject. */
  text: string;
  /** What the content looks like when it is no firmware: `a ZIP archive`. */
  looksLike: { code: string; what: string } | null;
  encoding: IdentityEncoding | null;
  memory: IdentityMemory | null;
  /** The first two words of a Cortex-M program as written. `at`: where they stand; null when the file does not say. */
  vectors: { at: number | null; initialStack: number; resetVector: number } | null;
  /** The build that the file is by its SHA-256. */
  build: { id: string; title: string; machines: string } | null;
  release: string | null;
  /** The file of the release with the same bytes, a build or not. */
  releaseFile: { path: string; role: FileRole } | null;
  /** How it nearly equals a published file: a plain sentence with the file as its subject. */
  nearMiss: string | null;
  /** Marker texts of builds and of other boards that stand in the program; null without a profile or a program. */
  markers: { builds: { id: string; title: string }[]; siblings: { id: string; title: string }[] } | null;
  /** What else to know, in plain sentences. */
  notes: string[];
  /** What to do next, in one plain sentence, with the command to type; null when there is nothing to do. */
  next: { text: string; command: string | null } | null;
}
