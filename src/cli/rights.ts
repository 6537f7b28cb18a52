/** How a command is run with the right to read devices, as a sentence. */
export const asAdministrator = (line: string, platform: NodeJS.Platform): string =>
  platform === 'win32'
    ? `Open a command prompt with "Run as administrator" and say: ${line}.`
    : `Say: sudo ${line}.`;

/** How to make an image of a card on this system. */
export function imageAdvice(platform: NodeJS.Platform): string {
  if (platform === 'win32')
    return 'make an image of it with a program that reads a whole card into a file, and check that file';
  const command =
    platform === 'darwin'
      ? 'sudo dd if=/dev/rdiskN of=card.img bs=1m (N as in: diskutil list external)'
      : 'sudo dd if=/dev/sdX of=card.img bs=1M (X as in: lsblk)';
  return `make an image of it and check that: ${command}`;
}
