import type { Processor } from '../firmware/processors.js';
import type { Hazard } from '../rules/rule.js';
import { type Proof, proveChoice } from './axes-proof.js';
import { releaseNumbering } from './check.js';
import { coverage } from './coverage.js';
import { profileKeys } from './keys.js';
import { peakWattsOf } from './power.js';
import type { Build, MemoryArea, Profile } from './profile.js';
import { compareValues, valueProblem } from './ranges.js';
import { joined, type Path } from './validate.js';

/** What is wrong with, or missing from, a profile whose every key can be read. */
export interface SoundnessRemark {
  /** `fault`: cards are judged wrongly, or never fit. `advice`: nothing is judged wrongly. */
  readonly level: 'fault' | 'advice';
  /** Place in the profile. */
  readonly path: Path;
  /** A plain sentence. */
  readonly text: string;
}

/** What the remarks need to know of a rule. */
export interface RuleOutline {
  readonly id: string;
  readonly keystone: string | null;
  readonly hazards: readonly Hazard[];
  /** Facts that it touches, such as `board.loader.fragments`. */
  readonly touches: readonly string[];
}

/** What a profile is held against. */
export interface SoundnessContext {
  readonly rules: readonly RuleOutline[];
  /** The processor that the profile names; null when none is named, or the name is not known. */
  readonly processor: Processor | null;
  /** Number of the release that the profile goes with; null without a manifest. */
  readonly release: string | null;
}

/** What `checkBoard` finds. */
export interface Soundness {
  readonly remarks: SoundnessRemark[];
  /** The proof of the build choice, in one sentence. */
  readonly choice: string;
  readonly silent: SilentKey[];
  readonly coverage: { readonly keys: number; readonly said: number };
}

/** What no load of a profile can refuse: choices that cannot be made, waivers that never count, silent keys. */
export function checkBoard(profile: Profile, context: SoundnessContext): Soundness {
  const proof = proveChoice(profile);
  const silent = silentKeys(profile, context.rules);
  const keys = profileKeys().length;
  return {
    remarks: [
      ...silentCore(silent),
      ...processorRemarks(profile, context.processor),
      ...choiceRemarks(profile, proof),
      ...powerRemarks(profile),
      ...waiverRemarks(profile, context),
      ...guideRemarks(profile),
    ],
    choice: proof.text,
    silent,
    coverage: { keys, said: keys - silent.length },
  };
}

/** A key about which a profile says nothing, and the rules that judge nothing because of that. */
export interface SilentKey {
  readonly key: string;
  readonly core: boolean;
  readonly rules: string[];
}

/** Every silent key with the rules that it would put to work. */
function silentKeys(profile: Profile, rules: readonly RuleOutline[]): SilentKey[] {
  const { silent, coreSilent } = coverage(profile);
  return silent.map((key) => ({
    key,
    core: coreSilent.includes(key),
    rules: rules
      .filter(({ touches }) =>
        touches.some((fact) => fact === `board.${key}` || fact.startsWith(`board.${key}.`)),
      )
      .map(({ id }) => id),
  }));
}

const fault = (path: Path, text: string): SoundnessRemark => ({ level: 'fault', path, text });
const advice = (path: Path, text: string): SoundnessRemark => ({ level: 'advice', path, text });

function silentCore(silent: readonly SilentKey[]): SoundnessRemark[] {
  return silent.flatMap(({ key, core }) =>
    core
      ? [
          fault(
            key.split('.').slice(0, 1),
            `${key} is left out. It is a core key: until it says something, or says any, no card is ever fit for this board.`,
          ),
        ]
      : [],
  );
}

function processorRemarks(
  { processor: said, memory }: Profile,
  processor: Processor | null,
): SoundnessRemark[] {
  if (said === undefined || said === 'any') return [];
  if (processor === null)
    return [
      fault(
        ['processor'],
        'This processor is not in the table of this version, so nothing is known of its memory: describe it in the profile (core, flash, ram), or leave the key out.',
      ),
    ];
  // Of external flash the part does not tell the size.
  if (processor.externalFlash) return [];
  const remarks: SoundnessRemark[] = [];
  for (const name of ['loader', 'application', 'settings'] as const)
    for (const [path, area] of areasOf(memory[name], ['memory', name]))
      if (!processor.flash.some(({ start, end }) => area.start >= start && area.start + area.bytes <= end))
        remarks.push(
          fault(
            path,
            `This area does not lie inside the flash memory of the ${processor.id} (${processor.flash
              .map(({ start, end }) => `${hexText(start)} to ${hexText(end - 1)}`)
              .join(', ')}).`,
          ),
        );
  return remarks;
}

type Areas = MemoryArea | readonly MemoryArea[] | 'any' | undefined;

function areasOf(said: Areas, path: Path): [Path, MemoryArea][] {
  if (said === undefined || said === 'any') return [];
  if (!('length' in said)) return [[path, said]];
  return said.map((area, index) => [[...path, index], area]);
}

const hexText = (value: number): string => `0x${value.toString(16).toUpperCase().padStart(8, '0')}`;

/** What the proof of the build choice finds, and builds that nobody gets. */
function choiceRemarks(profile: Profile, proof: Proof): SoundnessRemark[] {
  const remarks = proof.problems.map(({ text }) => fault(['builds'], text));
  if (proof.state === 'over-limit') remarks.push(fault(['builds'], proof.text));
  const safe = new Set(proof.rows.flatMap((row) => row.safe));
  for (const [index, { id }] of buildsOf(profile).entries())
    if (proof.neverPreferred.includes(id))
      remarks.push(
        safe.has(id)
          ? advice(
              ['builds', index],
              `${id} is never the one that is chosen: wherever it is safe, another one is stronger.`,
            )
          : fault(['builds', index], `${id} is safe for no machine: nobody can ever use it.`),
      );
  return remarks;
}

const buildsOf = ({ builds }: Profile): readonly Build[] =>
  builds === undefined || builds === 'any' ? [] : builds;

/** A build whose estimated peak is above the supply that it asks for would be refused on every machine. */
function powerRemarks(profile: Profile): SoundnessRemark[] {
  return buildsOf(profile).flatMap((build, index) => {
    const { needs } = build;
    if (needs?.volts === undefined || needs.amps === undefined) return [];
    const [peak, rating] = [peakWattsOf(profile, build), needs.volts * needs.amps];
    return peak > rating
      ? [
          fault(
            ['builds', index, 'needs'],
            `${build.id} asks for a supply of ${needs.volts} V and ${needs.amps} A (${round(rating)} W), but by the loads of this profile it may draw ${round(peak)} W at once.`,
          ),
        ]
      : [];
  });
}

const round = (watts: number): string => (Math.round(watts * 10) / 10).toString();

function waiverRemarks(profile: Profile, { rules, release }: SoundnessContext): SoundnessRemark[] {
  const numbering = releaseNumbering(profile);
  return profile.waive.flatMap((waiver, index) => {
    const path = ['waive', index];
    const rule = rules.find(({ id }) => id === waiver.rule);
    if (!rule)
      return [fault([...path, 'rule'], `There is no rule ${waiver.rule}: this waiver never counts.`)];
    if (rule.keystone !== null)
      return [
        fault(
          [...path, 'rule'],
          `${waiver.rule} carries a keystone, which nobody can waive: this waiver never counts.`,
        ),
      ];
    if (rule.hazards.every((hazard) => hazard === 'unsafe'))
      return [
        fault(
          [...path, 'rule'],
          `${waiver.rule} is about an unsafe machine, which nobody can waive: this waiver never counts.`,
        ),
      ];
    if (rule.hazards.every((hazard) => hazard === 'advice'))
      return [advice([...path, 'rule'], `${waiver.rule} is only advice: there is nothing to waive.`)];
    const remarks: SoundnessRemark[] = [];
    if (waiver.because.trim().length < leastReason)
      remarks.push(
        fault(
          [...path, 'because'],
          'This gives no reason. Say in a sentence why the rule may fail on this board.',
        ),
      );
    const { until } = waiver;
    const isPlaced =
      until !== undefined &&
      release !== null &&
      [until, release].every((one) => valueProblem(one, numbering) === undefined);
    if (isPlaced && compareValues(release, until, numbering) > 0)
      remarks.push(
        fault(
          [...path, 'until'],
          `This waiver was meant until release ${until}, and this is release ${release}: it no longer counts. Take it out, or say why it goes on.`,
        ),
      );
    if (until === undefined)
      remarks.push(advice(path, 'This waiver has no until: nobody will be reminded to look at it again.'));
    return remarks;
  });
}

/** Shorter words than this, such as `ok`, are no reason. */
const leastReason = 10;

function guideRemarks({ guide, cautions, loads }: Profile): SoundnessRemark[] {
  const remarks: SoundnessRemark[] = [];
  const lacking = (['start', 'signs', 'wayBack'] as const).filter(
    (key) => guide === undefined || (guide !== 'any' && guide[key] === undefined),
  );
  if (lacking.length > 0)
    remarks.push(
      advice(
        ['guide'],
        `The guide does not say ${joined(
          lacking.map((key) => `${key} (${guideWords[key]})`),
          'and',
        )}: somebody in front of the machine will want to know.`,
      ),
    );
  if (cautions === undefined && loads !== undefined && loads !== 'any' && loads.some(({ heats }) => heats))
    remarks.push(advice(['loads'], 'Something here becomes hot, and cautions says nothing of it.'));
  return remarks;
}

const guideWords = {
  start: 'how a flash is begun',
  signs: 'what is seen meanwhile',
  wayBack: 'what to do when it fails',
} as const;
