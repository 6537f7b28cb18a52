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

const tradeUnits = ['MB', 'GB', 'TB'] as const;

/**
 * The size that is printed on a card that holds so many bytes: `32 GB`. Cards are sold in powers of two of a decimal
 * unit and hold up to 8 % less and 2 % more (common practice, no published source). Any other size as `sizeText` has it.
 */
export function tradeSizeText(bytes: number): string {
  for (const [index, unit] of tradeUnits.entries())
    for (let size = 1; size < 1000; size *= 2) {
      const nominal = size * 1000 ** (index + 2);
      if (bytes >= nominal * 0.92 && bytes <= nominal * 1.02) return `${size} ${unit}`;
    }
  return sizeText(bytes);
}
