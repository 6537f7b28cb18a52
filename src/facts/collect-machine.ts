import { answerOf, openText } from '../board/axes.js';
import type { Profile } from '../board/profile.js';
import { type Machine, suppliesOf } from '../machine/machine.js';
import { Absent, FactList, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';

/**
 * Sets every `machine.*` fact. All of it is what the owner stated, or follows from it; what was not told is unseen.
 * @param machine null: nothing was told
 * @param profile null: no board profile was given
 */
export function collectMachine(store: FactStore, machine: Machine | null, profile: Profile | null): void {
  const stated = { origin: 'stated' } as const;
  const board = machine?.board ?? profile?.id;
  store.set(
    'machine.board',
    board ?? new Unseen('not-told', 'the board was not named', 'name the board: --board FILE'),
    { origin: machine?.board === undefined ? 'profile' : 'stated' },
  );
  collectSupply(store, machine, profile);

  const notTold = new Unseen(
    'not-told',
    'the release that runs now was not told',
    'say it: --installed RELEASE',
  );
  const runs = machine?.installed;
  const nothing = machine?.nothingInstalled === true;
  store.set(
    'machine.installed',
    runs ?? (nothing ? new Absent('the owner says that nothing runs now') : notTold),
    stated,
  );
  // That something runs follows from what runs; printing it once more would only make the owner wonder.
  if (runs !== undefined) store.set('machine.nothingInstalled', false, { origin: 'derived' });
  else store.set('machine.nothingInstalled', nothing ? true : notTold, stated);
  store.set('machine.was', machine?.was ?? missingWas(runs, nothing, notTold), stated);

  const loader = profile?.axes.some((axis) => axis.id === 'loader')
    ? answerOf(profile, machine, 'loader')
    : undefined;
  if (profile === null)
    store.set(
      'machine.loader',
      new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE'),
    );
  else if (loader === undefined)
    store.set('machine.loader', new Absent('the profile tells no loader generations apart'), {
      origin: 'profile',
    });
  else if (loader.state === 'known')
    store.set('machine.loader', loader.value, { origin: loader.how === 'stated' ? 'stated' : 'derived' });
  else {
    const { text, settle } = openText(profile, machine, loader.ask);
    store.set('machine.loader', new Unseen('not-told', text, settle));
  }
  store.set(
    'machine.lastFileName',
    machine?.lastFileName ??
      new Unseen(
        'not-told',
        'the name of the file that was flashed last was not told',
        'keep it in a machine record',
      ),
    stated,
  );
  // What was not answered is not in the list, so the list never proves that there is no answer.
  const answers = Object.entries(machine?.answers ?? {}).map(([axis, value]) => ({ axis, value }));
  const unanswered = (profile?.axes ?? []).filter(
    (axis) =>
      axis.id !== 'installed' &&
      axis.from === undefined &&
      !answers.some((answer) => answer.axis === axis.id),
  );
  store.set(
    'machine.answers',
    new FactList(
      answers,
      unanswered.length > 0 && profile
        ? new Unseen(
            'not-told',
            'not every question of the profile was answered',
            openText(
              profile,
              machine,
              unanswered.map((axis) => axis.id),
            ).settle,
          )
        : undefined,
    ),
    stated,
  );
}

function collectSupply(store: FactStore, machine: Machine | null, profile: Profile | null): void {
  const stated = { origin: 'stated' } as const;
  const settle = 'read the label of the supply and say it: --supply 24V/6.5A';
  const supply = machine?.supply;
  const volts = [...new Set(suppliesOf(profile).map((one) => `${one.volts} V`))];
  store.set(
    'machine.voltsListed',
    profile === null
      ? new Unseen('profile-silent', 'no board profile was given', 'name the board: --board FILE')
      : volts.length > 0
        ? new FactList(volts)
        : new Absent('the profile lists no supplies'),
    { origin: 'profile' },
  );
  store.set('machine.supplyTold', supply !== undefined, { origin: 'derived' });
  if (supply === undefined) {
    const text = machine?.supplyUnsure
      ? 'the owner is not sure which supply is fitted'
      : 'the fitted supply was not told';
    const unseen = new Unseen('not-told', text, settle);
    for (const path of ['machine.supply', 'machine.supplyVolts', 'machine.supplyAmps'])
      store.set(path, unseen, stated);
    return;
  }
  const label = `${supply.volts} V, ${supply.amps} A`;
  const unlisted =
    suppliesOf(profile).length > 0
      ? `the profile lists no supply of ${label}`
      : 'the profile lists no supplies';
  store.set('machine.supply', supply.id ?? new Absent(unlisted), { origin: 'derived' });
  store.set('machine.supplyVolts', supply.volts, stated);
  store.set('machine.supplyAmps', supply.amps, stated);
}

function missingWas(runs: string | undefined, nothing: boolean, notTold: Unseen): Absent | Unseen {
  if (runs !== undefined) return new Absent('a program runs now');
  return nothing
    ? new Unseen('not-told', 'the release that ran last was not told', 'say it: --was RELEASE')
    : notTold;
}
