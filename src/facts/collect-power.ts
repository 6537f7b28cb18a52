import { powerOf } from '../board/power.js';
import type { Profile } from '../board/profile.js';
import type { Machine } from '../machine/machine.js';
import { Absent, FactList, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';

const derived = { origin: 'derived' } as const;

/**
 * Sets every `power.*` fact: estimates from the loads of the profile for the build on the card and the fitted supply,
 * rounded to thousandths. Nothing is judged here.
 * @param machine null: nothing was told about it
 * @param buildId the build on the card; null when it is not known
 */
export function collectPower(
  store: FactStore,
  profile: Profile | null,
  machine: Machine | null,
  buildId: string | null,
): void {
  const { loads, builds } = profile ?? {};
  const build = Array.isArray(builds) ? (builds.find((one) => one.id === buildId) ?? null) : null;
  const supply = machine?.supply ?? null;
  const noSupply = new Unseen(
    'not-told',
    machine?.supplyUnsure ? 'the owner is not sure which supply is fitted' : 'the fitted supply was not told',
    'read the label of the supply and say it: --supply 24V/6.5A',
  );
  store.set('power.supplyWatts', supply ? rounded(supply.volts * supply.amps) : noSupply, derived);
  store.set('power.supplyAmps', supply ? supply.amps : noSupply, derived);
  const why = whyNone(profile, loads, builds !== undefined && builds !== 'any' && build === null);
  if (why !== null || profile === null) {
    store.setGroup('power', why ?? noProfile);
    return;
  }
  const figures = powerOf(profile, build, supply);
  const { peak, sustained, sustainedRating, derating, notKnown } = figures;
  const noVoltage = new Unseen(
    'not-told',
    'the voltage of the supply is not known, so what is drawn from it is not known either',
    noSupply.settle,
  );
  const noLoads = new Absent('the profile lists no load that the supply feeds');
  const nothing = figures.volts === null ? noVoltage : noLoads;
  const noDerating = new Absent('the profile says that the share of the rating does not matter');
  store.set('power.volts', figures.volts ?? noVoltage, derived);
  store.set('power.peakWatts', peak ? rounded(peak.watts) : nothing, derived);
  store.set('power.peakAmps', peak ? rounded(peak.amps) : nothing, derived);
  store.set('power.peakLoads', peak ? new FactList(peak.loads) : nothing, derived);
  store.set('power.sustainedWatts', sustained ? rounded(sustained.watts) : nothing, derived);
  store.set('power.sustainedAmps', sustained ? rounded(sustained.amps) : nothing, derived);
  store.set('power.derating', derating ?? noDerating, { origin: 'profile' });
  const derated = sustainedRating
    ? rounded(sustainedRating.watts)
    : derating === null
      ? noDerating
      : noSupply;
  store.set('power.deratedWatts', derated, derived);
  store.set(
    'power.peakMarginWatts',
    peak && figures.rating ? rounded(figures.rating.watts - peak.watts) : figures.rating ? nothing : noSupply,
    derived,
  );
  store.set(
    'power.sustainedMarginWatts',
    sustained && sustainedRating
      ? rounded(sustainedRating.watts - sustained.watts)
      : sustained
        ? derated
        : nothing,
    derived,
  );
  const limit = build?.heaters?.limit;
  const noLimit = new Absent('no build limits the current by itself');
  store.set('power.limitAmps', limit?.amps ?? noLimit, { origin: 'profile' });
  store.set('power.limitKind', limit?.kind ?? noLimit, { origin: 'profile' });
  const titles = new Map((Array.isArray(loads) ? loads : []).map((load) => [load.id, load.title ?? load.id]));
  // A heater whose power is not known lacks in the list.
  const lacks = notKnown.map((one) => `${titles.get(one.load)}: ${one.because}`);
  store.set(
    'power.heating',
    new FactList(
      figures.heating.map((one) => ({
        load: one.load,
        title: titles.get(one.load) ?? one.load,
        watts: rounded(one.watts),
        levelsOffAt: rounded(one.levelsOffAt),
        target: one.target,
        ambient: one.ambient,
        shortBy: rounded(Math.max(one.target - one.levelsOffAt, 0)),
        boundBy: one.boundBy,
      })),
      lacks.length > 0 ? new Unseen('profile-silent', lacks.join('; ')) : undefined,
    ),
    derived,
  );
  store.set('power.notKnown', new FactList(lacks), derived);
}

const noProfile = new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE');

function whyNone(
  profile: Profile | null,
  loads: Profile['loads'],
  isBuildMissing: boolean,
): Unseen | Absent | null {
  if (profile === null) return noProfile;
  if (loads === 'any') return new Absent('the profile says that what is drawn does not matter');
  if (loads === undefined) return new Absent('the profile does not say what draws power');
  if (isBuildMissing)
    return new Unseen(
      'not-visible',
      'which build is on the card is not known, so what it switches on together is not known either',
      'name the release folder: --board FOLDER',
    );
  return null;
}

/** To thousandths: sums of shares must not be over a rating by the last bit. */
function rounded(value: number): FactValue {
  // Adding zero turns the negative zero of a tiny deficit into zero.
  if (Number.isFinite(value)) return Math.round(value * 1000) / 1000 + 0;
  return new Unseen('profile-silent', 'the numbers of the profile give no finite power');
}
