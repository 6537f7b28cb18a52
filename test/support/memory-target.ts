import { MemorySource } from '../../src/bytes/byte-source.js';
import type { Target } from '../../src/core/collect.js';

/** A card image that is in memory already, as the target of a check. */
export const memoryTarget = (bytes: Uint8Array): Target => ({
  path: 'card.img',
  kind: 'image',
  view: 'medium',
  bytes: bytes.length,
  container: 'none',
  containerProblems: [],
  source: new MemorySource(bytes),
  changed: () => false,
});
