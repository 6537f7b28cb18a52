import type { RecordedSetting } from './record.js';

/** How far an axis went when it was told to go a certain way, in the same unit. */
export interface Measured {
  /** Capital letter of the axis. */
  readonly axis: string;
  readonly commanded: number;
  readonly measured: number;
}

/** A new number of steps for one axis. */
export interface StepsResult {
  readonly axis: string;
  readonly old: number | null;
  readonly commanded: number;
  readonly measured: number;
  /** `old × commanded ÷ measured`, rounded to hundredths as machines print it; null when the old one is not known. */
  readonly result: number | null;
  /** How far the way was off: `measured ÷ commanded − 1`. */
  readonly off: number;
  /** Whether that is inside the tolerance of the profile; null: the profile gives none. */
  readonly isInside: boolean | null;
  /** The line that sets it; null when nothing should be entered. */
  readonly line: string | null;
}

/** `X=100:98.7`: told to go 100, went 98.7. Null when it is not of that form. */
export function parseMeasured(text: string): Measured | null {
  const parts = /^([A-Za-z])=([0-9]{1,6}(?:\.[0-9]{1,6})?):([0-9]{1,6}(?:\.[0-9]{1,6})?)$/.exec(text.trim());
  const [commanded, measured] = [Number(parts?.[2] ?? 0), Number(parts?.[3] ?? 0)];
  return parts && commanded > 0 && measured > 0
    ? { axis: (parts[1] as string).toUpperCase(), commanded, measured }
    : null;
}

/**
 * Steps per unit from a measured way: common practice, no published source. Beyond the tolerance something else is wrong
 * (a belt, a wrong pulley, a mistake in measuring), and a corrected number would only hide it.
 * @param tolerance share, such as 0.02; null when the profile gives none
 */
export function stepsFrom(
  { axis, commanded, measured }: Measured,
  settings: readonly RecordedSetting[],
  tolerance: number | null,
): StepsResult {
  const old = settings.find(({ word, letter }) => word === 'M92' && letter === axis)?.value ?? null;
  const off = measured / commanded - 1;
  // A hundredth of a per mille for what binary fractions lose.
  const isInside = tolerance === null ? null : Math.abs(off) <= tolerance + 1e-9;
  const result = old === null ? null : Math.round(((old * commanded) / measured) * 100) / 100;
  const line = result !== null && isInside === true ? `M92 ${axis}${result.toFixed(2)}` : null;
  return { axis, old, commanded, measured, result, off, isInside, line };
}
