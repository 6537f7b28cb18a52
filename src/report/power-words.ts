/** Where estimates of power stand behind. */
export const powerCaution = 'The label of the supply, the wiring and local codes come before these numbers.';

export const watts = (value: number): string => `${value.toFixed(0)} W`;
export const amps = (value: number): string => `${value.toFixed(1)} A`;

/** What is left of a rating, in watts, as a sentence that begins with a blank; nothing when that is not known. */
export function marginText(left: number | null): string {
  if (left === null) return '';
  return left >= 0 ? ` ${watts(left)} to spare.` : ` That is ${watts(-left)} too much.`;
}

/** How warm a heated thing becomes with its heater on all the time; degrees Celsius. */
export interface Heating {
  readonly title: string;
  readonly levelsOffAt: number;
  readonly target: number;
  readonly ambient: number;
  readonly boundBy: 'heater' | 'build' | 'supply';
}

const bounds = {
  heater: '',
  build: ' The build limits it; a larger supply alone would not help.',
  supply: ' The supply limits it.',
} as const;

/** Whether it reaches the temperature that it must reach, and what keeps it from it. */
export function heatingText({ title, levelsOffAt, target, ambient, boundBy }: Heating): string {
  const isReached = levelsOffAt >= target;
  const reaches = isReached
    ? `reaches its ${target} °C`
    : `does not reach its ${target} °C: it levels off at about ${Math.round(levelsOffAt)} °C`;
  return `The ${title} ${reaches} (with ${ambient} °C around it).${isReached ? '' : bounds[boundBy]}`;
}
