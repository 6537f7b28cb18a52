import type { Target } from '../core/collect.js';
import { type OpenedTarget, openImage } from './open-image.js';
import { readStagingFolder } from './staging-folder.js';
import { StagingTree } from './staging-tree.js';

/** Something to check that stays open until it is closed. */
export interface OpenCard {
  readonly target: Target;
  close(): void;
}

/** A card image that is open, as something to check. `path` is what the report calls it. */
export const imageTarget = (path: string, opened: OpenedTarget): Target => ({
  kind: 'image',
  path,
  view: 'medium',
  bytes: opened.bytes,
  container: opened.container,
  containerProblems: opened.containerProblems,
  source: opened.source,
  changed: () => opened.changed(),
});

/** A folder of files that are not on a card yet. Throws the system's error when it cannot be listed. */
export const stagingTarget = (path: string): Target => ({
  kind: 'staging',
  path,
  view: 'cached',
  bytes: null,
  container: 'none',
  containerProblems: [],
  changed: () => false,
  tree: new StagingTree(readStagingFolder(path)),
});

/** Opens a card image, raw or packed with gzip, for `inspect`. Throws the system's error when it cannot be read. */
export async function openCard(path: string): Promise<OpenCard> {
  const opened = await openImage(path);
  return { target: imageTarget(path, opened), close: () => opened.close() };
}
