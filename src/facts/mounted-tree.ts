import type { Unseen } from './fact.js';
import type { FileTree } from './file-tree.js';

/** A file or folder of a mounted volume that could not be looked at, and why. */
export interface ClosedPlace {
  readonly path: string;
  /** True for a folder that is listed itself, only not what is in it. */
  readonly isFolder: boolean;
  readonly why: Unseen;
}

/** A file or folder that gave an error when it was read. */
export interface FolderProblem {
  readonly path: string;
  readonly isFolder: boolean;
  /** The system's own words. */
  readonly text: string;
}

/** The files of a mounted volume, as a computer shows them. */
export interface MountedTree extends FileTree {
  readonly closed: readonly ClosedPlace[];
  /** In the order in which they were met; more come while files are read. */
  readonly problems: readonly FolderProblem[];
  /**
   * The path under which the computer lists what it opens under this one: another name of it when that is its short
   * one. Null when there is nothing; Unseen when the driver cannot be believed in that.
   */
  find(path: string): string | null | Unseen;
}
