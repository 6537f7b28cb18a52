import { readFileSync } from 'node:fs';
import { limits } from '../bytes/limits.js';
import { statOrNull } from './inputs.js';

/** The bytes of a file of a release folder; null when it is not there, too large for firmware, or cannot be read. */
export function readReleaseFile(path: string): Uint8Array | null {
  const stats = statOrNull(path);
  if (!stats?.isFile() || stats.size > limits.updateFileBytes) return null;
  try {
    return readFileSync(path);
  } catch {
    return null;
  }
}
