const units = ['bytes', 'KiB', 'MiB', 'GiB', 'TiB', 'PiB'] as const;

/**
 * A size in bytes in words: `512 bytes`, `4 KiB`, `7.4 GiB`. Below 1 MiB never rounded, so that 28,673 bytes are not
 * printed like 28 KiB; above it a rounded value always has one decimal.
 */
export function sizeText(bytes: number): string {
  if (bytes < 0) return `-${sizeText(-bytes)}`;
  if (bytes === 1) return '1 byte';
  let unit = 0;
  let size = bytes;
  while (size >= 1024 && unit < units.length - 1) {
    size /= 1024;
    unit++;
  }
  if (unit === 0) return `${bytes} bytes`;
  if (Number.isInteger(size)) return `${size} ${units[unit]}`;
  if (Number.isInteger(size * 10)) return `${size.toFixed(1)} ${units[unit]}`;
  if (unit === 1) return `${bytes} bytes`;
  const rounded = size.toFixed(1);
  if (rounded === '1024.0' && unit < units.length - 1) return `1.0 ${units[unit + 1]}`;
  return `${rounded} ${units[unit]}`;
}
