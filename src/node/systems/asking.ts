import { realpathSync, statfsSync, statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import type { Units } from './allocation-units.js';
import { type Caller, callOut } from './call-out.js';

/** By what a system is asked. Tests put answers of their own in the place of the computer's. */
export interface Asking {
  readonly call: Caller;
  /** The folder under which the volume with this folder stands; null when it cannot be looked at. */
  mountPointOf(folder: string): string | null;
  /** Allocation units of the volume at a mount point; null when the system call fails. */
  unitsOf(mountPoint: string): Units | null;
}

/** Asks this computer. */
export const askComputer: Asking = { call: callOut, mountPointOf, unitsOf };

/** Goes up from a folder as long as the folder above it is on the same volume. */
function mountPointOf(folder: string): string | null {
  try {
    let at = realPath(folder);
    const { dev } = statSync(at, { bigint: true });
    for (;;) {
      const above = dirname(at);
      if (above === at || statSync(above, { bigint: true }).dev !== dev) return at;
      at = above;
    }
  } catch {
    return null;
  }
}

/** Some drivers on Windows answer no question about the real path of their drive. */
function realPath(folder: string): string {
  try {
    return realpathSync(folder);
  } catch {
    return resolve(folder);
  }
}

function unitsOf(mountPoint: string): Units | null {
  try {
    const { bsize, blocks } = statfsSync(mountPoint);
    return { bytes: bsize, count: blocks };
  } catch {
    return null;
  }
}
