import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { readManifest } from '../board/manifest.js';
import { readProfile } from '../board/read.js';
import type { Subject } from '../core/collect.js';
import { sha256Hex } from './digests.js';
import { releaseCandidates } from './release-files.js';

/** What a release folder says about its board. */
export type Release = Required<Pick<Subject, 'manifest' | 'profileSha256' | 'candidates'>> & {
  readonly profile: NonNullable<Subject['profile']>;
};

/**
 * Reads the `board.yaml` and the `manifest.json` of a release folder. Throws `ProfileError` or `ManifestError` when
 * they are wrong, the system's error when they are not there.
 */
export function readRelease(folder: string): Release {
  const [profilePath, manifestPath] = [join(folder, 'board.yaml'), join(folder, 'manifest.json')];
  const bytes = readFileSync(profilePath);
  const { profile } = readProfile(bytes.toString('utf8'), profilePath);
  const manifest = readManifest(readFileSync(manifestPath, 'utf8'), manifestPath, profile);
  return {
    profile,
    profileSha256: sha256Hex(bytes),
    manifest,
    candidates: releaseCandidates(folder, manifest),
  };
}
