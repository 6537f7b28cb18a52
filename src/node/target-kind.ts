import { type Stats, statSync } from 'node:fs';
import { windowsDevice } from './systems/windows-device.js';

/** What a path on the command line is. `other`: a pipe, terminal or socket, which is no card. */
export type TargetKind = 'image' | 'device' | 'folder' | 'other';

/** Looks at a path, following links. Throws the system's error when there is nothing. */
export function targetKind(path: string, platform: NodeJS.Platform = process.platform): TargetKind {
  // Windows tells nothing of a device as if it were a file (EISDIR), so that its name has to do.
  if (platform === 'win32' && windowsDevice(path) !== null) return 'device';
  return kindOf(statSync(path), platform);
}

/** The kind by what the system says; on macOS and the BSDs a raw disk is a character device. */
export function kindOf(stats: Stats, platform: NodeJS.Platform): TargetKind {
  if (stats.isFile()) return 'image';
  if (stats.isDirectory()) return 'folder';
  if (stats.isBlockDevice()) return 'device';
  return stats.isCharacterDevice() && platform !== 'linux' && stats.rdev !== 0 ? 'device' : 'other';
}

/**
 * The path that an owner means: on Windows `E`, `E:`, `E:\` and `E:"` (what is left of a quoted `"E:\"`) are all the
 * drive E. Elsewhere the path as it is.
 */
export function cardPath(argument: string, platform: NodeJS.Platform = process.platform): string {
  if (platform !== 'win32') return argument;
  const drive = /^([A-Za-z])(?::?|:[\\/"]+)$/.exec(argument);
  return drive ? `${drive[1]!.toUpperCase()}:\\` : argument;
}
