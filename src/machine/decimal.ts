/** Decimal numbers as machines print them: exact where binary fractions are not. */

interface Decimal {
  readonly digits: bigint;
  /** Digits behind the point. */
  readonly scale: number;
}

/** Takes the shortest decimal that is this number, which is the one that was read. */
function decimalOf(value: number): Decimal {
  const [mantissa = '0', exponent = '0'] = String(value).split('e');
  const [whole = '0', fraction = ''] = mantissa.split('.');
  const scale = fraction.length - Number(exponent);
  const digits = BigInt(whole + fraction);
  return scale < 0 ? { digits: digits * 10n ** BigInt(-scale), scale: 0 } : { digits, scale };
}

/** The number without an exponent: `0.0000001`. Takes finite numbers. */
export function decimalText(value: number): string {
  const { digits, scale } = decimalOf(value);
  const sign = digits < 0n ? '-' : '';
  const plain = String(digits < 0n ? -digits : digits).padStart(scale + 1, '0');
  const [whole, fraction] = [plain.slice(0, plain.length - scale), plain.slice(plain.length - scale)];
  return `${sign}${whole}${fraction === '' ? '' : `.${fraction}`}`;
}

/** `b - a` of the decimals, not of the binary fractions beside them: 80.3 less 80.1 is 0.2. Takes finite numbers. */
export function decimalDifference(a: number, b: number): number {
  const [from, to] = [decimalOf(a), decimalOf(b)];
  const scale = Math.max(from.scale, to.scale);
  const scaled = ({ digits, scale: own }: Decimal): bigint => digits * 10n ** BigInt(scale - own);
  return Number(`${scaled(to) - scaled(from)}e-${scale}`);
}
