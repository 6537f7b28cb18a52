/**
 * Sizes with units and hexadecimal addresses, as people write them in profiles and on the command line.
 */

const binaryUnits: Readonly<Record<string, number>> = {
  '': 1,
  B: 1,
  KiB: 1024,
  MiB: 1024 ** 2,
  GiB: 1024 ** 3,
  TiB: 1024 ** 4,
};
const tradeUnits: Readonly<Record<string, number>> = { MB: 1000 ** 2, GB: 1000 ** 3, TB: 1000 ** 4 };

/**
 * How much larger than its trade size a card may be and still be that size: cards sold as 32 GB hold up to
 * 32,010,928,128 bytes and more.
 */
const tradeTolerance = 0.02;

/** `512`, `28KiB`, `1.5GiB` in bytes; undefined when it is no such size or no whole number of bytes. */
export function parseSize(text: string): number | undefined {
  return parse(text, binaryUnits);
}

/** A card's trade size in bytes. */
export interface TradeSize {
  /** As it stands on the card: 32 GB is 32,000,000,000 bytes. */
  readonly nominal: number;
  /** The largest card that is still sold as that size. */
  readonly most: number;
}

/** `32GB`, with a tolerance; `2GiB` or plain bytes, exactly. Undefined when it is no size. */
export function parseTradeSize(text: string): TradeSize | undefined {
  const exact = parse(text, binaryUnits);
  if (exact !== undefined) return { nominal: exact, most: exact };
  const nominal = parse(text, tradeUnits);
  return nominal === undefined
    ? undefined
    : { nominal, most: nominal + Math.floor(nominal * tradeTolerance) };
}

/** `0x08007000` as a number; undefined when it is not hexadecimal with `0x` in front. */
export function parseHex(text: string): number | undefined {
  return /^0x[0-9A-Fa-f]{1,13}$/.test(text) ? Number.parseInt(text.slice(2), 16) : undefined;
}

function parse(text: string, units: Readonly<Record<string, number>>): number | undefined {
  const parts = /^([0-9]{1,15})(\.[0-9]{1,6})? ?([A-Za-z]{0,3})$/.exec(text);
  const unit = parts?.[3] ?? '';
  if (!parts || !Object.hasOwn(units, unit)) return undefined;
  const bytes = Number(`${parts[1]}${parts[2] ?? ''}`) * units[unit]!;
  return Number.isSafeInteger(bytes) ? bytes : undefined;
}
