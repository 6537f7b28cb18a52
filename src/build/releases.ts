import { execFileSync } from 'node:child_process';
import { copyFile, mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { crc32 } from 'node:zlib';
import type { Build, Profile } from '../board/profile.js';
import { readProfile } from '../board/read.js';
import { resolveProfile } from '../board/resolve.js';
import { manifestName, manifestText, sealedManifest } from '../board/seal.js';
import { readReleaseFiles } from '../facts/release-files.js';
import { releaseParts } from '../facts/release-parts.js';
import { nodeDigests } from '../node/digests.js';
import { readStagingFolder } from '../node/staging-folder.js';
import { StagingTree } from '../node/staging-tree.js';

/** The sample release: its number, and its folder from the root of the project. */
export const sampleRelease = { release: '31', folder: 'samples/releases/tansy-31' } as const;

/** Makes the sample release of the Larkfield Tansy anew, from `samples/releases/source` and the profile of the board. */
export async function run(root: string): Promise<void> {
  const folder = join(root, sampleRelease.folder);
  await rm(folder, { recursive: true, force: true });
  await buildRelease(root, folder);
}

/**
 * Writes the sample release into a folder: builds linked by arm-none-eabi-gcc, the companion file, a note, the profile
 * of the board as `board.yaml`, and its seal. The same compiler gives the same bytes.
 * @param root root of the project
 */
export async function buildRelease(root: string, folder: string): Promise<void> {
  const source = join(root, 'samples', 'releases', 'source');
  const board = join(root, 'samples', 'boards', 'tansy.yaml');
  const { profile } = readProfile(await readFile(board, 'utf8'), 'samples/boards/tansy.yaml');
  if (!Array.isArray(profile.builds)) throw new Error('the profile of the sample release lists no builds');

  await mkdir(folder, { recursive: true });
  await copyFile(board, join(folder, 'board.yaml'));
  for (const name of ['LARKGO.TXT', 'NOTES.txt']) await copyFile(join(source, name), join(folder, name));
  for (const [index, build] of profile.builds.entries()) {
    const path = build.files[0]!;
    await mkdir(dirname(join(folder, path)), { recursive: true });
    await writeFile(join(folder, path), await programOf(source, profile, build, index + 1));
  }

  const tree = new StagingTree(readStagingFolder(folder));
  const { files } = readReleaseFiles(tree, nodeDigests);
  const { partOf } = releaseParts(profile, tree, files);
  const manifest = sealedManifest(profile, sampleRelease.release, files, partOf);
  await writeFile(join(folder, manifestName), manifestText(manifest));
}

/** One build: the linked program as plain bytes, filled up as the profile wants, with its checksum at the end. */
async function programOf(
  source: string,
  profile: Profile,
  build: Build,
  blinks: number,
): Promise<Uint8Array> {
  const loader = build.for?.loader;
  const marker = build.marker?.text;
  if (typeof loader !== 'string' || marker === undefined)
    throw new Error(`${build.id}: the sample release wants one loader and a marker for each build`);
  const { memory, update } = resolveProfile(profile, { answers: { loader } });
  if (typeof memory.application !== 'object') throw new Error('the profile has no application area');
  const { start, bytes: areaBytes } = memory.application;
  const work = await mkdtemp(join(tmpdir(), 'flashworthy-release-'));
  try {
    const elf = join(work, 'tansy.elf');
    const plain = join(work, 'tansy.bin');
    execFileSync('arm-none-eabi-gcc', [
      ...['-mcpu=cortex-m4', '-mthumb', '-Os', '-Wall', '-Wextra', '-Werror'],
      ...['-ffreestanding', '-nostdlib', '-fno-tree-loop-distribute-patterns'],
      ...[`-DMARKER="${marker}"`, `-DRELEASE="${sampleRelease.release}"`, `-DBLINKS=${blinks}`],
      ...['-Wl,--build-id=none', '-Wl,--fatal-warnings'],
      ...[`-Wl,--defsym=application_start=${start}`, `-Wl,--defsym=application_bytes=${areaBytes}`],
      ...['-T', join(source, 'tansy.ld'), join(source, 'tansy.c'), '-o', elf],
    ]);
    execFileSync('arm-none-eabi-objcopy', ['-O', 'binary', elf, plain]);
    return finished(await readFile(plain), update);
  } finally {
    await rm(work, { recursive: true, force: true });
  }
}

/** Fills a program up with FF, as erased flash reads, and appends the CRC-32 of everything before it. */
function finished(
  program: Uint8Array,
  { bytes, lengthMultiple, checksum }: Pick<Profile['update'], 'bytes' | 'lengthMultiple' | 'checksum'>,
): Uint8Array {
  const isAppended =
    typeof checksum === 'object' &&
    checksum.kind === 'crc-32/iso-hdlc' &&
    checksum.byteOrder === 'little' &&
    checksum.over.from === 0 &&
    checksum.over.to === -4 &&
    checksum.at === -4;
  if (!isAppended || typeof bytes !== 'object' || Array.isArray(bytes) || typeof lengthMultiple !== 'number')
    throw new Error('the profile of the sample release wants a file of another form');
  const least = Math.max(bytes.min ?? 0, program.length + 4);
  const file = Buffer.alloc(Math.ceil(least / lengthMultiple) * lengthMultiple, 0xff);
  file.set(program);
  file.writeUInt32LE(crc32(file.subarray(0, -4)), file.length - 4);
  return file;
}
