import type { Digests } from '../bytes/digests.js';
import { type CheckOptions, check } from '../core/check.js';
import type { Subject, Target } from '../core/collect.js';
import type { StatedMedia } from '../facts/collect-media.js';
import type { ProcessorTable } from '../firmware/processors.js';
import type { Machine } from '../machine/machine.js';
import type { OpenCard } from '../node/card-target.js';
import type { Report } from '../report/report.js';
import type { Waiver } from '../rules/judge.js';
import type { RuleSet } from '../rules/rule.js';
import type { InputFile } from './inputs.js';
import type { LoadedBoard } from './load-board.js';

/** What is the same for every target of one run. */
export interface CheckRequest {
  readonly board: LoadedBoard | null;
  /** What the owner says about the machine. */
  readonly machine: Machine;
  /** The machine record that it comes from; null when none was given. */
  readonly record: InputFile | null;
  /** What the owner says about the card. */
  readonly media: StatedMedia;
  readonly rules: RuleSet;
  /** Waivers of the profile, compiled. */
  readonly waivers: readonly Waiver[];
  readonly useWaivers: boolean;
  /** True when the report lists every file. */
  readonly allFacts: boolean;
  /** Version of flashworthy. */
  readonly version: string;
  readonly digests: Digests;
  /** Processors that profiles name. */
  readonly processors: ProcessorTable;
}

/** One thing to check, open until it is closed. */
export type OpenTarget = OpenCard;

/** Checks one target. Anything that is thrown is our own fault. */
export const checkTarget = (target: Target, request: CheckRequest): Report =>
  check(subjectOf(target, request), checkOptions(request));

/** How a target is judged and reported. */
export function checkOptions(request: CheckRequest): CheckOptions {
  const { rules, waivers, useWaivers, allFacts, version } = request;
  const inputs = inputFiles(request).map(({ role, path, sha256 }) => ({ role, path, sha256 }));
  return { ruleSet: rules, waivers, useWaivers, version, allFacts, inputs };
}

/** Everything that the facts of one target are collected from. */
export function subjectOf(target: Target, request: CheckRequest): Subject {
  const { board, machine, media, digests, processors } = request;
  return {
    target,
    profile: board?.profile ?? null,
    manifest: board?.release ?? null,
    ...(board ? { profileSha256: board.file.sha256 } : {}),
    candidates: board?.candidates ?? [],
    machine,
    stated: media,
    digests,
    processors,
  };
}

/** Files that a verdict rests on besides the target: profile, manifest, machine record. */
export function inputFiles({ board, record }: CheckRequest): InputFile[] {
  return [board?.file, board?.manifest, record].filter((file) => file !== undefined && file !== null);
}
