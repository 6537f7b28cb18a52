import { group, groupsOf, textsOf } from '../fact-values.js';
import { amps, type Heating, heatingText, marginText, powerCaution, watts } from '../power-words.js';
import type { Json, Report } from '../report.js';
import { sentence } from '../wrap.js';
import { type Markup, tag } from './markup.js';
import { percent } from './picture.js';

/** What the machine would draw under the program on the card, beside what its supply gives; null when nothing is known. */
export function powerBars({ facts }: Report): Markup | null {
  const power = group(facts.power);
  const peak = positive(power.peakWatts);
  const sustained = positive(power.sustainedWatts);
  const supply = positive(power.supplyWatts);
  if (peak === null && sustained === null) return null;
  const derated = positive(power.deratedWatts);
  const derating = positive(power.derating);
  const most = Math.max(peak ?? 0, sustained ?? 0, supply ?? 0, derated ?? 0) * 1.04;
  const bar = (label: string, value: number | null, kind: string, limit: number | null, text: string) =>
    value === null || most === 0
      ? null
      : tag(
          'li',
          {},
          tag('p', {}, tag('strong', {}, `${label}: ${watts(value)}`), text),
          // Without the rating of a supply there is nothing to hold a bar against.
          supply !== null &&
            tag(
              'svg',
              { class: 'bar', width: '100%', height: 18, 'aria-hidden': 'true', focusable: 'false' },
              tag('rect', { class: 'bar-ground', width: '100%', height: 18 }),
              tag('rect', { class: `bar-${kind}`, width: percent((100 * value) / most), height: 18 }),
              limit !== null &&
                tag('rect', {
                  class: 'bar-limit',
                  x: percent(Math.min(99, (100 * limit) / most)),
                  width: 3,
                  height: 18,
                }),
            ),
        );
  const amount = (value: Json | undefined): string => {
    const known = number(value);
    return known === null ? '' : ` (${amps(known)})`;
  };
  const limit = number(power.limitAmps);
  const limited = limit === null ? '' : ` The program keeps the current to ${limit} A.`;
  const isOver = (left: number | null): string => (left !== null && left < 0 ? 'over' : 'load');
  const peakLeft = number(power.peakMarginWatts);
  const sustainedLeft = number(power.sustainedMarginWatts);
  const share =
    derated === null || derating === null
      ? ''
      : ` Of a rating ${Math.round(derating * 100)} % is used all the time, here ${watts(derated)}.${marginText(sustainedLeft)}`;
  const remarks = [
    ...groupsOf(power.heating).flatMap((each) => (isHeating(each) ? [heatingText(each)] : [])),
    ...textsOf(power.notKnown).map(sentence),
  ];
  return tag(
    'div',
    { class: 'power' },
    tag(
      'ul',
      { class: 'bars' },
      bar('The fitted supply gives', supply, 'supply', null, amount(power.supplyAmps)),
      bar(
        'All that may be on at once, cold',
        peak,
        isOver(peakLeft),
        supply,
        `${amount(power.peakAmps)}.${limited}${marginText(peakLeft)}`,
      ),
      bar(
        'Hot, on average',
        sustained,
        isOver(sustainedLeft),
        derated,
        `${amount(power.sustainedAmps)}.${share}`,
      ),
    ),
    remarks.length > 0 &&
      tag(
        'ul',
        {},
        remarks.map((text) => tag('li', {}, text)),
      ),
    tag('p', { class: 'note' }, `Estimates from the board profile, not measured. ${powerCaution}`),
  );
}

/** A figure that a power supply could have; a report from a file may hold anything. */
const number = (value: Json | undefined): number | null =>
  typeof value === 'number' && Math.abs(value) <= 1e9 ? value : null;

const positive = (value: Json | undefined): number | null => {
  const known = number(value);
  return known !== null && known >= 0 ? known : null;
};

function isHeating(each: {
  readonly [key: string]: Json;
}): each is Heating & { readonly [key: string]: Json } {
  return (
    typeof each.title === 'string' &&
    [each.levelsOffAt, each.target, each.ambient].every((value) => typeof value === 'number') &&
    ['heater', 'build', 'supply'].includes(String(each.boundBy))
  );
}
