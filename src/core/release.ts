import { coverage } from '../board/coverage.js';
import type { Manifest } from '../board/manifest.js';
import type { Profile } from '../board/profile.js';
import { resolveProfile } from '../board/resolve.js';
import { type SealedFile, sealedManifest } from '../board/seal.js';
import type { Digests } from '../bytes/digests.js';
import { collectAsPublished, collectBoard } from '../facts/collect-board.js';
import { collectReleaseFolder } from '../facts/collect-release-folder.js';
import { Absent } from '../facts/fact.js';
import { FactStore } from '../facts/fact-store.js';
import type { FileTree } from '../facts/file-tree.js';
import { readReleaseFiles } from '../facts/release-files.js';
import { releaseParts } from '../facts/release-parts.js';
import type { ProcessorTable } from '../firmware/processors.js';
import type { Report } from '../report/report.js';
import { judge } from '../rules/judge.js';
import { rulesAbout } from '../rules/subject.js';
import { verdict } from '../rules/verdict.js';
import { type CheckOptions, isReleasePast } from './check.js';
import { measuredPart } from './facts-json.js';
import { tryBuilds } from './release-builds.js';

/** A release folder that is to be checked. */
export interface ReleaseSubject {
  readonly path: string;
  readonly tree: FileTree;
  /** Links and the like in it, each in a plain sentence. */
  readonly notFiles: readonly string[];
  readonly profile: Profile;
  /** What its manifest says; null when there is none, `sealing` when one is to be written. */
  readonly manifest: Manifest | null | 'sealing';
  /** The text of its list of checksums; null when there is none. */
  readonly checksums: string | null;
  /** The release that it is to hold, as the maintainer says; null when it was not said. */
  readonly stated: string | null;
  readonly digests: Digests;
  readonly processors: ProcessorTable;
}

/** What a release folder is, and what it would be sealed with. */
export interface CheckedRelease {
  readonly report: Report;
  readonly files: readonly SealedFile[];
  readonly manifest: Manifest;
}

/** Facts about cards, machines and update files, of which a release folder has none. */
const notHere = [
  'media',
  'partitionTable',
  'partition',
  'volume',
  'damage',
  'files',
  'filesTotal',
  'deletedEntries',
  'updateFile',
  'otherFiles',
  'settingsFile',
  'companions',
  'image',
  'machine',
  'release',
  'power',
];

/** Checks a release folder by the rules about releases. Throws only for our own bugs. */
export function checkRelease(subject: ReleaseSubject, options: CheckOptions): CheckedRelease {
  const { profile, tree, digests, processors, stated, manifest } = subject;
  const content = readReleaseFiles(tree, digests);
  const parts = releaseParts(profile, tree, content.files);
  const release = stated ?? (manifest === 'sealing' ? null : (manifest?.release ?? null));
  const sealed = sealedManifest(profile, release ?? '', content.files, parts.partOf);
  const findings = tryBuilds({
    profile,
    tree,
    parts,
    manifest: sealed,
    release,
    digests,
    processors,
    cardRules: rulesAbout('card', options.ruleSet),
  });

  const store = new FactStore();
  const noCard = new Absent('a release folder was checked, no card');
  for (const group of notHere) store.setGroup(group, noCard);
  store.set('target.kind', 'release');
  store.set('target.view', 'cached');
  store.set('target.path', subject.path);
  store.set('target.changed', false);
  collectBoard(store, resolveProfile(profile, null), profile);
  collectAsPublished(store, null, undefined);
  collectReleaseFolder(store, profile, { ...subject, content, parts }, findings);

  const ruleSet = rulesAbout('release', options.ruleSet);
  const isPast = (until: string): boolean | undefined =>
    release === null ? undefined : isReleasePast(profile, release, until);
  const judgement = judge(store, ruleSet, { isPast, ...options });
  const result = verdict(judgement.findings, ruleSet.rules, 'release');
  return {
    files: content.files,
    manifest: sealed,
    report: {
      schema: 'flashworthy-report/1',
      tool: { name: 'flashworthy', version: options.version ?? options.ruleSet.version },
      target: { path: subject.path, kind: 'release', view: 'cached', bytes: null },
      board: { id: profile.id, title: profile.title, revision: profile.revision },
      inputs: [...(options.inputs ?? [])],
      rules: { version: ruleSet.version, sha256: ruleSet.sha256 },
      ...result,
      provided: result.verdict === 'fit' ? judgement.provided : [],
      findings: judgement.findings,
      counts: judgement.counts,
      coverage: coverage(profile),
      ...measuredPart(store, options.allFacts ?? false),
    },
  };
}

/** True when nothing but the missing manifest keeps a release from being complete. */
export const isReadyToSeal = ({ verdict: word, findings, keystonesMissing }: Report): boolean =>
  word !== 'refused' &&
  !findings.some(({ outcome, hazard }) => outcome === 'unknown' && hazard !== 'advice') &&
  keystonesMissing.every((keystone) => keystone === 'release-sealed');
