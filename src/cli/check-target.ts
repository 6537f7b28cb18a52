import type { Digests } from '../bytes/digests.js';
import { check } from '../core/check.js';
import type { Subject } from '../core/collect.js';
import type { StatedMedia } from '../facts/collect-media.js';
import type { ProcessorTable } from '../firmware/processors.js';
import type { Machine } from '../machine/machine.js';
import type { OpenedTarget } from '../node/open-image.js';
import type { StagingFolder } from '../node/staging-folder.js';
import { StagingTree } from '../node/staging-tree.js';
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

/** One thing to check. */
export type OpenTarget =
  | { readonly kind: 'image'; readonly opened: OpenedTarget }
  | { readonly kind: 'staging'; readonly path: string; readonly folder: StagingFolder };

/** Checks one target. Anything that is thrown is our own fault. */
export function checkTarget(target: OpenTarget, request: CheckRequest): Report {
  const { board, machine, record, media, rules, waivers, useWaivers, allFacts, version, ...rest } = request;
  const inputs = [board?.file, board?.manifest, record].filter((file) => file !== undefined && file !== null);
  return check(
    {
      target: subjectOf(target),
      profile: board?.profile ?? null,
      manifest: board?.release ?? null,
      ...(board ? { profileSha256: board.file.sha256 } : {}),
      candidates: board?.candidates ?? [],
      machine,
      stated: media,
      digests: rest.digests,
      processors: rest.processors,
    },
    {
      ruleSet: rules,
      waivers,
      useWaivers,
      version,
      allFacts,
      inputs: inputs.map(({ role, path, sha256 }) => ({ role, path, sha256 })),
    },
  );
}

function subjectOf(target: OpenTarget): Subject['target'] {
  if (target.kind === 'staging')
    return {
      kind: 'staging',
      path: target.path,
      view: 'cached',
      bytes: null,
      container: 'none',
      containerProblems: [],
      changed: () => false,
      tree: new StagingTree(target.folder),
    };
  const { path, bytes, container, containerProblems, source } = target.opened;
  return {
    kind: 'image',
    path,
    view: 'medium',
    bytes,
    container,
    containerProblems,
    changed: () => target.opened.changed(),
    source,
  };
}
