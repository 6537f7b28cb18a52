import type { Build, Load, Profile } from './profile.js';

/** Power and current drawn from the supply at the voltage of the figures. */
export interface Draw {
  /** Watts. */
  readonly watts: number;
  /** Amperes. */
  readonly amps: number;
  /** Ids of the loads that are counted. */
  readonly loads: readonly string[];
  /** The limit that the build keeps by itself, when it lowers this figure. */
  readonly limitedBy: { readonly amps: number; readonly kind: 'average' | 'peak' } | null;
}

/** How warm something becomes when its heater is given all that it may have. Temperatures in degrees Celsius. */
export interface Heating {
  readonly load: string;
  /** Watts that the heater takes in when the temperature rises no further. */
  readonly watts: number;
  /** Temperature at which heat lost equals heat taken in: ambient + watts / lossWattsPerKelvin. */
  readonly levelsOffAt: number;
  readonly target: number;
  readonly ambient: number;
  /** What keeps it from more: its own resistance, the limit of the build, or the rating of the supply. */
  readonly boundBy: 'heater' | 'build' | 'supply';
}

/** What the loads of a board draw under one build. Estimates from the profile's numbers; nothing here is judged. */
export interface PowerFigures {
  /** Voltage for which the figures hold: that of the supply, else the one that the build needs. Null: not known. */
  readonly volts: number | null;
  /** Rating of the fitted supply: watts and amperes of its label. Null: not told. */
  readonly rating: { readonly watts: number; readonly amps: number } | null;
  /** All that may be on at once, cold. Null when the voltage or the loads are not known. */
  readonly peak: Draw | null;
  /** The same, hot and averaged over the time that each load is on. */
  readonly sustained: Draw | null;
  /** Share of the rating that may be drawn all the time; null: the profile says that it does not matter. */
  readonly derating: number | null;
  /** Rating times derating. */
  readonly sustainedRating: { readonly watts: number; readonly amps: number } | null;
  readonly heating: readonly Heating[];
  /** Loads whose power the profile does not settle, and why: plain sentences. */
  readonly notKnown: readonly { readonly load: string; readonly because: string }[];
}

/**
 * Temperature coefficient of the resistance of copper per kelvin, for a resistance known at 20 °C
 * (IEC 60028 gives 0.00393; other tables 0.0039 to 0.0040).
 */
export const copperTempco = 0.00393;

/**
 * Share of a supply's rating that is used all the time when the profile does not say otherwise: common practice by
 * analogy with the 125 % rule for continuous loads on branch circuits; there is no published rule for DC supplies.
 */
export const usualDerating = 0.8;

/** Resistance in ohms at a temperature in degrees Celsius, never below zero; undefined for a load without `ohms`. */
export function ohmsAt(load: Load, celsius: number): number | undefined {
  if (load.ohms === undefined) return undefined;
  const measuredAt = load.at ?? celsius;
  if (load.material !== 'copper')
    return atLeastZero(load.ohms * (1 + (load.tempco ?? 0) * (celsius - measuredAt)));
  // The coefficient of copper belongs to 20 °C: a resistance known at another temperature is brought there first.
  const factor = (temperature: number): number => 1 + copperTempco * (temperature - 20);
  return atLeastZero((load.ohms * factor(celsius)) / factor(measuredAt));
}

const atLeastZero = (value: number): number => Math.max(value, 0);

/** Watts of a load at a voltage and a temperature. What is given in watts or amperes changes with neither. */
function wattsAt(load: Load, volts: number, celsius: number): number {
  if (load.watts !== undefined) return load.watts;
  if (load.amps !== undefined) return load.amps * volts;
  const ohms = ohmsAt(load, celsius) ?? 0;
  return ohms > 0 ? volts ** 2 / ohms : Number.POSITIVE_INFINITY;
}

/** Temperature at which a load starts: the lower of what it was measured at and what is around it. */
const coldOf = (load: Load): number => Math.min(load.heats?.ambient ?? 20, load.at ?? 20);
const hotOf = (load: Load): number => load.heats?.target ?? coldOf(load);

/** The most that a load draws on its way from cold to hot. */
const peakWatts = (load: Load, volts: number): number =>
  Math.max(wattsAt(load, volts, coldOf(load)), wattsAt(load, volts, hotOf(load)));
const hotWatts = (load: Load, volts: number): number => wattsAt(load, volts, hotOf(load));

/**
 * What the loads of a profile draw from the supply under one build. Loads on the mains side are not counted. A load
 * that no set of `heaters.together` names may be on at any time.
 * @param build null: no build limits anything, so all loads may be on at once
 * @param supply label of the fitted supply; null when it was not told
 */
export function powerOf(
  profile: Profile,
  build: Build | null,
  supply: { readonly volts: number; readonly amps: number } | null,
): PowerFigures {
  const loads = profile.loads === undefined || profile.loads === 'any' ? [] : profile.loads;
  const fed = loads.filter((load) => load.side !== 'mains');
  const volts = supply?.volts ?? build?.needs?.volts ?? onlyVoltage(profile);
  const rating = supply === null ? null : { watts: supply.volts * supply.amps, amps: supply.amps };
  const derating = profile.derating === 'any' ? null : (profile.derating?.factor ?? usualDerating);
  const notKnown = loads.flatMap((load) => {
    if (load.side === 'mains' && load.heats && load.watts === undefined)
      return [{ load: load.id, because: 'it is fed by the mains, whose voltage the profile does not say' }];
    if (load.side !== 'mains' && load.watts === undefined && volts === null)
      return [{ load: load.id, because: 'the voltage of the supply is not known' }];
    return [];
  });
  const isKnown = fed.length > 0 && volts !== null;
  const sets = loadSets(fed, build);
  return {
    volts,
    rating,
    peak: isKnown ? peakDraw(sets, build, volts) : null,
    sustained: isKnown ? sustainedDraw(sets, build, volts) : null,
    derating,
    sustainedRating:
      rating === null || derating === null
        ? null
        : { watts: rating.watts * derating, amps: rating.amps * derating },
    heating: heatingOf(loads, sets, build, volts, rating),
    notKnown,
  };
}

/** Watts that all loads draw at once, cold, under one build; 0 when the profile does not say. */
export function peakWattsOf(profile: Profile, build: Build): number {
  const loads = profile.loads === undefined || profile.loads === 'any' ? [] : profile.loads;
  const volts = build.needs?.volts ?? onlyVoltage(profile);
  const fed = loads.filter((load) => load.side !== 'mains');
  return volts === null ? 0 : peakDraw(loadSets(fed, build), build, volts).watts;
}

/** The one voltage of the supplies with which the board was sold. */
function onlyVoltage(profile: Profile): number | null {
  const supplies = profile.supplies === undefined || profile.supplies === 'any' ? [] : profile.supplies;
  const volts = new Set(supplies.map((one) => one.volts));
  return volts.size === 1 ? supplies[0]!.volts : null;
}

/** Loads by when they may be on. */
interface LoadSets {
  /** Loads that no set names: they may be on at any time. */
  readonly always: readonly Load[];
  /** Sets that take turns; one empty set when the build does not say that anything does. */
  readonly turns: readonly (readonly Load[])[];
}

function loadSets(fed: readonly Load[], build: Build | null): LoadSets {
  const together = build?.heaters?.together;
  if (!together) return { always: fed, turns: [[]] };
  const byId = new Map(fed.map((load) => [load.id, load]));
  const named = new Set(together.flat());
  return {
    always: fed.filter((load) => !named.has(load.id)),
    turns: together.map((set) => [...new Set(set)].flatMap((id) => byId.get(id) ?? [])),
  };
}

const sum = (loads: readonly Load[], watts: (load: Load) => number): number =>
  loads.reduce((total, load) => total + watts(load), 0);
const dutyOf = (load: Load): number => load.duty ?? 1;
const averageWatts = (load: Load, volts: number): number => dutyOf(load) * hotWatts(load, volts);

function peakDraw({ always, turns }: LoadSets, build: Build | null, volts: number): Draw {
  const peak = (load: Load): number => peakWatts(load, volts);
  let most = turns[0] ?? [];
  for (const set of turns) if (sum(set, peak) > sum(most, peak)) most = set;
  const limit = build?.heaters?.limit;
  // A limit of the average lets peaks pass.
  return drawOf(
    sum(most, peak) + sum(always, peak),
    [...most, ...always],
    volts,
    limit?.kind === 'peak' ? limit : undefined,
  );
}

/**
 * Sets that take turns add up to the sum of all averages, but never to more than the largest of them draws when it is
 * on all the time.
 */
function sustainedDraw({ always, turns }: LoadSets, build: Build | null, volts: number): Draw {
  const used = [...new Set([...turns.flat(), ...always])];
  const hot = (load: Load): number => hotWatts(load, volts);
  const largest = turns.reduce((most, set) => Math.max(most, sum(set, hot)), 0) + sum(always, hot);
  const averages = sum(used, (load) => averageWatts(load, volts));
  return drawOf(Math.min(averages, largest), used, volts, build?.heaters?.limit);
}

function drawOf(
  watts: number,
  loads: readonly Load[],
  volts: number,
  limit: { readonly amps: number; readonly kind: 'average' | 'peak' } | undefined,
): Draw {
  const isLimited = limit !== undefined && limit.amps * volts < watts;
  const drawn = isLimited ? limit.amps * volts : watts;
  return {
    watts: drawn,
    amps: drawn / volts,
    loads: loads.map((load) => load.id),
    limitedBy: isLimited ? { amps: limit.amps, kind: limit.kind } : null,
  };
}

/**
 * Where the temperature of what each load heats levels off, with that heater on all the time. What the limit of the
 * build or the rating of the supply lets through goes to the heater, less what the other loads of its set use on
 * average.
 */
function heatingOf(
  loads: readonly Load[],
  { always, turns }: LoadSets,
  build: Build | null,
  volts: number | null,
  rating: { readonly amps: number } | null,
): readonly Heating[] {
  const average = (load: Load): number => averageWatts(load, volts ?? 0);
  const shared = sum(always, average);
  const inTurn = turns.map((set) => ({ loads: new Set(set), watts: sum(set, average) }));
  const isAlways = new Set(always);
  return loads.flatMap((load): Heating[] => {
    const { heats } = load;
    const isMains = load.side === 'mains';
    if (!heats || heats.lossWattsPerKelvin <= 0) return [];
    if (load.watts === undefined && (isMains || volts === null)) return [];
    let bound: { watts: number; by: Heating['boundBy'] } = { watts: Number.POSITIVE_INFINITY, by: 'heater' };
    if (!isMains && volts !== null) {
      const own = inTurn.filter((set) => isAlways.has(load) || set.loads.has(load));
      const others = own.reduce((least, set) => Math.min(least, set.watts), Number.POSITIVE_INFINITY);
      const rest = others + shared - average(load);
      const limit = build?.heaters?.limit;
      if (rating) bound = { watts: atLeastZero(rating.amps * volts - rest), by: 'supply' };
      const limited = limit ? atLeastZero(limit.amps * volts - rest) : Number.POSITIVE_INFINITY;
      // Where both are equal a larger supply would not help: it is the build that has to be named.
      if (limited <= bound.watts && limit) bound = { watts: limited, by: 'build' };
    }
    const own = (celsius: number): number => wattsAt(load, volts ?? 0, celsius);
    const watts = (celsius: number): number => Math.min(own(celsius), bound.watts);
    const levelsOffAt = levelOff(heats.ambient, heats.lossWattsPerKelvin, watts);
    return [
      {
        load: load.id,
        watts: watts(levelsOffAt),
        levelsOffAt,
        target: heats.target,
        ambient: heats.ambient,
        boundBy: bound.watts < own(levelsOffAt) ? bound.by : 'heater',
      },
    ];
  });
}

/** Solves T = ambient + watts(T) / loss: a metal heater gives less the warmer it is. */
function levelOff(ambient: number, loss: number, watts: (celsius: number) => number): number {
  const excess = (celsius: number): number => ambient + watts(celsius) / loss - celsius;
  let low = ambient;
  let high = ambient + 1;
  // Far above everything that a profile means; a falling resistance might never level off.
  const most = 1e5;
  while (excess(high) > 0 && high < most) high = ambient + 2 * (high - ambient);
  for (let turn = 0; turn < 100; turn++) {
    const middle = (low + high) / 2;
    if (excess(middle) > 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
