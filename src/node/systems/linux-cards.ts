import type { BlockDevice, LinuxComputer } from './linux-computer.js';
import { fileSystemNamed } from './linux-names.js';
import { decodedUdev, type Mount } from './linux-tables.js';
import type { CardList, ListedCard } from './system.js';

/** Folders under which a system itself runs: a card that holds one of them is no card to flash from. */
const ofTheSystem = new Set(['/', '/boot', '/boot/efi', '/boot/firmware', '/usr', '/var', '/home']);

/** Removable devices with something in them, by the kernel's folders, mountinfo and udev's database. */
export function cardsOfLinux(computer: LinuxComputer): CardList {
  const devices = computer.wholeDevices();
  if (devices === null)
    return { cards: [], incomplete: 'the kernel does not list its devices under /sys/block' };
  const mounts = computer.mounts();
  const cards = devices.filter(isCard).flatMap((device) => cardsOn(device, mounts, computer));
  return { cards, incomplete: mounts.length > 0 ? null : 'the kernel does not tell what is mounted' };
}

/** An empty slot of a card reader has no size; type 5 is an optical drive. */
const isCard = (device: BlockDevice): boolean =>
  device.isRemovable && device.scsiType !== 5 && (device.bytes ?? 0) > 0;

/** One line for each mounted volume of a card, or one for the card when none is mounted. */
function cardsOn(card: BlockDevice, mounts: readonly Mount[], computer: LinuxComputer): ListedCard[] {
  const devices = [card, ...card.partitions];
  const volumes = devices.map((device) => {
    const mount = mounts.findLast(({ number, folder }) => number === device.number && folder === '/') ?? null;
    return { mount, udev: device.number === null ? null : computer.udev(device.number) };
  });
  if (volumes.some(({ mount }) => mount !== null && ofTheSystem.has(mount.mountPoint))) return [];
  const mounted = volumes.filter(({ mount }) => mount !== null);
  const best = volumes.find(({ udev }) => udev?.has('ID_FS_TYPE')) ?? volumes[0]!;
  return (mounted.length > 0 ? mounted : [best]).map(({ mount, udev }) => ({
    target: mount?.mountPoint ?? `/dev/${card.name}`,
    device: `/dev/${card.name}`,
    title: card.title,
    bytes: card.bytes,
    fileSystem: fileSystemOf(udev, mount),
    label: decodedUdev(udev?.get('ID_FS_LABEL_ENC') ?? '') || null,
    mountedAt: mount?.mountPoint ?? null,
  }));
}

function fileSystemOf(udev: ReadonlyMap<string, string> | null, mount: Mount | null): string | null {
  const type = udev?.get('ID_FS_TYPE') ?? mount?.driver;
  if (type === undefined) return null;
  return fileSystemNamed(type, udev?.get('ID_FS_VERSION')) ?? (type === 'vfat' ? 'FAT' : type);
}
