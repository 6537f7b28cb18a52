import { decimalText } from './decimal.js';
import type { RecordedSetting } from './record.js';
import { keyedSettings } from './setting-keys.js';

/** A move that somebody measured: so much was commanded, so much was covered, both in one unit. */
export interface MeasuredMove {
  /** Capital letter of the axis. */
  readonly axis: string;
  readonly commanded: number;
  readonly measured: number;
}

/** Steps that fit a measured move. */
export interface StepsCalculation extends MeasuredMove {
  /** Steps that run now; null when the report does not have them, or has several. */
  readonly before: number | null;
  /** `before` × commanded ÷ measured, rounded as the machine prints it; null without `before`. */
  readonly after: number | null;
  readonly unit: string | null;
  /** By how much the move was off: positive when it went too far. 0.02 is 2 %. */
  readonly off: number;
  /** What the profile takes for a fault of measuring no longer; null when it sets no bound. */
  readonly tolerance: number | null;
  /**
   * `enter`: inside the tolerance. `keep`: the number stays as it is. `measure-again`: beyond the tolerance.
   * `no-tolerance`: the profile does not say how far off is still likely. `no-steps`: nothing to calculate from.
   */
  readonly answer: 'enter' | 'keep' | 'measure-again' | 'no-tolerance' | 'no-steps';
}

/** `X=100:98.5` taken apart; undefined when it is not of that form, or zero. */
export function parseMove(text: string): MeasuredMove | undefined {
  const parts = /^([A-Za-z])=([0-9]{1,6}(?:\.[0-9]{1,6})?):([0-9]{1,6}(?:\.[0-9]{1,6})?)$/.exec(text.trim());
  const [commanded, measured] = [Number(parts?.[2] ?? 0), Number(parts?.[3] ?? 0)];
  return parts !== null && commanded > 0 && measured > 0
    ? { axis: parts[1]!.toUpperCase(), commanded, measured }
    : undefined;
}

/** Two decimals are what machines usually print; a number that came with more keeps as many. */
const usualDecimals = 2;
/** Rounding of binary fractions must not put a move outside the tolerance that lies on it. */
const rounding = 1e-9;

/**
 * The steps for a measured move: old × commanded ÷ measured. Common practice, no published source.
 * @param settings what the machine reports now
 * @param tolerance of the profile; `any`: no bound; undefined: it does not say
 */
export function stepsFor(
  move: MeasuredMove,
  settings: readonly RecordedSetting[],
  tolerance: number | 'any' | undefined,
): StepsCalculation {
  const found = keyedSettings(settings).filter(
    ({ setting, isIndex }) => !isIndex && setting.word === 'M92' && setting.letter === move.axis,
  );
  const [only] = found;
  const off = move.measured / move.commanded - 1;
  const common = { ...move, off, tolerance: typeof tolerance === 'number' ? tolerance : null };
  if (only === undefined || found.length > 1 || only.setting.value <= 0)
    return { ...common, before: null, after: null, unit: null, answer: 'no-steps' };
  const { value, unit } = only.setting;
  const decimals = Math.max(usualDecimals, decimalText(value).split('.')[1]?.length ?? 0);
  const after = Number(((value * move.commanded) / move.measured).toFixed(Math.min(decimals, 6)));
  const answer =
    tolerance === undefined
      ? 'no-tolerance'
      : typeof tolerance === 'number' && Math.abs(off) > tolerance + rounding
        ? 'measure-again'
        : after === value
          ? 'keep'
          : 'enter';
  return { ...common, before: value, after, unit: unit ?? null, answer };
}
