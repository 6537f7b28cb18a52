/** One line of mountinfo (proc_pid_mountinfo(5)). */
export interface Mount {
  /** Device number as the kernel writes it, `8:17`. */
  readonly number: string;
  /** The folder of the file system that is mounted; `/` for the whole. */
  readonly folder: string;
  readonly mountPoint: string;
  readonly driver: string;
  /** What was mounted: a device's path, or any word where there is none. */
  readonly source: string;
  /** Options of the mount and of the file system. */
  readonly options: ReadonlySet<string>;
}

/** Space, tab, line feed, backslash and number sign stand as three octal digits behind a backslash. */
const unescaped = (text: string): string =>
  text.replace(/\\([0-7]{3})/g, (_, digits: string) => String.fromCharCode(Number.parseInt(digits, 8)));

/** All mounts, in the order of the text: of two on one point the later one hides the other. Other lines are passed over. */
export function parseMounts(text: string): Mount[] {
  return text.split('\n').flatMap((line) => {
    const [own, of] = line.split(' - ', 2);
    const [, , number, folder, mountPoint, options] = (own ?? '').split(' ');
    const [driver, source, more] = (of ?? '').split(' ');
    if (!/^\d+:\d+$/.test(number ?? '') || options === undefined || source === undefined) return [];
    return [
      {
        number: number as string,
        folder: unescaped(folder as string),
        mountPoint: unescaped(mountPoint as string),
        driver: unescaped(driver as string),
        source: unescaped(source),
        options: new Set([...options.split(','), ...(more ?? '').split(',')]),
      },
    ];
  });
}

/**
 * The mount under which a folder stands, by its real path and its device number; null when no line fits. A mount whose
 * number differs is hidden by another one.
 */
export function mountOf(mounts: readonly Mount[], folder: string, number: string): Mount | null {
  let best: Mount | null = null;
  for (const mount of mounts) {
    const { mountPoint } = mount;
    const isAbove = mountPoint === '/' || folder === mountPoint || folder.startsWith(`${mountPoint}/`);
    if (isAbove && mount.number === number && mountPoint.length >= (best?.mountPoint.length ?? 0))
      best = mount;
  }
  return best;
}

/** Properties of a device in udev's database: lines `E:KEY=VALUE`. */
export function parseUdev(text: string): ReadonlyMap<string, string> {
  const properties = new Map<string, string>();
  for (const line of text.split('\n')) {
    const found = /^E:([A-Z0-9_]+)=(.*)$/.exec(line);
    if (found) properties.set(found[1] as string, found[2] as string);
  }
  return properties;
}

/** A value of udev's database in which bytes are written as `\x20`; null when they are no text in UTF-8. */
export function decodedUdev(value: string): string | null {
  const bytes: number[] = [];
  for (const part of value.split(/(\\x[0-9a-fA-F]{2})/)) {
    if (/^\\x[0-9a-fA-F]{2}$/.test(part)) bytes.push(Number.parseInt(part.slice(2), 16));
    else bytes.push(...new TextEncoder().encode(part));
  }
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(Uint8Array.from(bytes));
  } catch {
    return null;
  }
}

/** A device number of `stat` as the kernel writes it (makedev(3): twelve bits and twenty, each in two pieces). */
export function numberText(device: bigint): string {
  const major = ((device >> 8n) & 0xfffn) | ((device >> 32n) & ~0xfffn);
  const minor = (device & 0xffn) | ((device >> 12n) & ~0xffn & 0xffffffffn);
  return `${major}:${minor}`;
}
