/** What flashworthy needs of Node: card images, staging folders, release folders, digests, the files of the package. */

export { imageTarget, type OpenCard, openCard, stagingTarget } from './card-target.js';
export { openDevice } from './device-target.js';
export { nodeDigests, sha256Hex } from './digests.js';
export { FileSource } from './file-source.js';
export { openFolder } from './folder-target.js';
export { type ContainerProblem, isGzip, type Progress, type Unpacked, unpackGzip } from './gzip.js';
export { type OpenedTarget, openImage } from './open-image.js';
export { packagedProcessors, packagedRules } from './package-files.js';
export { type Release, readRelease } from './read-release.js';
export {
  readStagedFile,
  readStagingFolder,
  type SkippedEntry,
  type StagedEntry,
  type StagingFolder,
} from './staging-folder.js';
export { StagingTree } from './staging-tree.js';
export { cardSystem } from './systems/index.js';
export { cardPath, type TargetKind, targetKind } from './target-kind.js';
export { WriteProblem, writeNewFile } from './write-new-file.js';
