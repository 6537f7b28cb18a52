/** A device of Windows that a path names: a whole disk, a partition of one, or a volume by its letter or number. */
export type WindowsDevice =
  | { readonly kind: 'disk'; readonly disk: number }
  | { readonly kind: 'partition'; readonly disk: number; readonly partition: number }
  | { readonly kind: 'letter'; readonly letter: string }
  | { readonly kind: 'volume'; readonly guid: string };

const guid = '[0-9A-F]{8}(?:-[0-9A-F]{4}){3}-[0-9A-F]{12}';
const forms = {
  disk: /^PhysicalDrive(\d{1,4})$/i,
  /** `\\?\GLOBALROOT\Device\Harddisk2\Partition1`, and the shorter `\\.\Harddisk2Partition1`. Partition 0 is the disk. */
  partition: /^(?:GLOBALROOT\\Device\\Harddisk(\d{1,4})\\|Harddisk(\d{1,4}))Partition(\d{1,4})$/i,
  letter: /^([A-Z]):$/i,
  volume: new RegExp(`^Volume\\{(${guid})\\}$`, 'i'),
};

/**
 * The device that a path names; null for a path of a file or folder. With a `\` at its end a path names the root folder
 * of a volume (Naming Files, Paths, and Namespaces; Naming a Volume).
 */
export function windowsDevice(path: string): WindowsDevice | null {
  const name = /^\\\\[.?]\\(.*)$/s.exec(path.replaceAll('/', '\\'))?.[1];
  if (name === undefined) return null;
  const disk = forms.disk.exec(name);
  if (disk) return { kind: 'disk', disk: Number(disk[1]) };
  const partition = forms.partition.exec(name);
  if (partition) {
    const whole = Number(partition[1] ?? partition[2]);
    const number = Number(partition[3]);
    return number === 0
      ? { kind: 'disk', disk: whole }
      : { kind: 'partition', disk: whole, partition: number };
  }
  const letter = forms.letter.exec(name);
  if (letter) return { kind: 'letter', letter: letter[1]!.toUpperCase() };
  const volume = forms.volume.exec(name);
  return volume ? { kind: 'volume', guid: volume[1]!.toLowerCase() } : null;
}
