import type { Profile, ResolvedProfile } from '../board/profile.js';
import type { UpdateFile } from '../facts/collect-update-file.js';
import type { Unseen } from '../facts/fact.js';
import type { FactStore } from '../facts/fact-store.js';
import type { FileTree } from '../facts/file-tree.js';
import type { Decoded } from '../firmware/encodings/encoding.js';
import type { Processor } from '../firmware/processors.js';

/** What a rehearsal looks at: the same decoded things that a check looks at, and nothing that a rule has said. */
export interface RehearsalSubject {
  readonly store: FactStore;
  /** The profile as written, and as it holds for this machine. */
  readonly profile: Profile;
  readonly resolved: ResolvedProfile;
  /** Null: the profile does not say which one, or it is not known. */
  readonly processor: Processor | null;
  readonly tree: FileTree | Unseen;
  readonly file: UpdateFile | null;
  /** The update file as what it is by its content. */
  readonly decoded: Decoded | null;
  /** False for files that are on no card yet. */
  readonly isCard: boolean;
  /** Nothing runs on the machine. */
  readonly nothingInstalled: boolean;
  /** Rules that failed on this card and that the profile waives: what its author knows this loader to put up with. */
  readonly waived: ReadonlySet<string>;
}
