import { release } from 'node:os';

/** True on Linux inside Windows (WSL), whose kernel has Microsoft in its version. */
export const insideWindows = (platform: NodeJS.Platform, version: string = release()): boolean =>
  platform === 'linux' && /microsoft/i.test(version);
