import { existsSync, mkdirSync } from 'node:fs';
import { run } from './disk-images.js';

/** True where block devices can be made of files, and mounted. Containers and ordinary users may not. */
export const mayMount =
  process.getuid?.() === 0 && existsSync('/dev/loop-control') && existsSync('/dev/fuse');

if (!mayMount) {
  process.stderr.write(
    'NOT RUN: tests of real devices and mounts, for want of root, /dev/loop-control or /dev/fuse\n',
  );
  if (process.env.CI) throw new Error('real devices and mounts cannot be tested here: see the line above');
}

/** Shows an image as a block device for the time of `use`. */
export async function withLoop<T>(
  image: string,
  use: (device: string) => T | Promise<T>,
  options: readonly string[] = ['-r'],
): Promise<T> {
  const device = run('losetup', ['-f', '--show', ...options, image]).trim();
  try {
    return await use(device);
  } finally {
    run('losetup', ['-d', device]);
  }
}

/** Mounts something on a folder for the time of `use`. `mount` gets the folder as its last argument. */
export async function withMount<T>(
  mount: readonly [tool: string, ...args: string[]],
  folder: string,
  use: () => T | Promise<T>,
): Promise<T> {
  mkdirSync(folder, { recursive: true });
  const [tool, ...args] = mount;
  run(tool, [...args, folder]);
  try {
    return await use();
  } finally {
    run('umount', [folder]);
  }
}
