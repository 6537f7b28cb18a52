import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { type Manifest, readManifest } from '../../src/board/manifest.js';
import type { Profile } from '../../src/board/profile.js';
import { readProfile } from '../../src/board/read.js';
import { parseTradeSize } from '../../src/board/units.js';
import { type ByteSource, ReadProblem } from '../../src/bytes/byte-source.js';
import { check } from '../../src/core/check.js';
import type { Subject } from '../../src/core/collect.js';
import { type Rehearsed, rehearseSubject } from '../../src/core/rehearsal-report.js';
import { type Processor, processorTable } from '../../src/firmware/processors.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { nodeDigests } from '../../src/node/digests.js';
import { openImage } from '../../src/node/open-image.js';
import { releaseCandidates } from '../../src/node/release-files.js';
import type { Report } from '../../src/report/report.js';
import { compileCondition } from '../../src/rules/compile.js';
import type { Waiver } from '../../src/rules/judge.js';
import type { RuleSet } from '../../src/rules/rule.js';

const root = join(import.meta.dirname, '../..');

let compiled: RuleSet | undefined;
/** The rules as the build compiled them. */
export function builtRules(): RuleSet {
  compiled ??= JSON.parse(readFileSync(join(root, 'dist/rules.json'), 'utf8')) as RuleSet;
  return compiled;
}

/** The processors as the build compiled them. */
export const builtProcessors = (): ReturnType<typeof processorTable> =>
  processorTable(JSON.parse(readFileSync(join(root, 'dist/processors.json'), 'utf8')) as Processor[]);

/** The text of a sample board. */
export function sampleBoard(id: string): string {
  return readFileSync(join(root, 'samples/boards', `${id}.yaml`), 'utf8');
}

const releaseFolder = (name: string): string => join(root, 'samples/releases', name);

/**
 * Checks an image in this process, with the options of a recipe: `board`, `release` (a sample release: its board and
 * manifest), `installed`, `was`, `supply`, `set`
 * (`axis=value axis=value`), `card`, `fresh`, `profile` (a path in place of a sample board), `unreadable` (`OFFSET LENGTH`:
 * reads that touch it fail), `change` (`old => new` in the text of the board).
 */
export async function checkCardFile(
  image: string,
  options: Readonly<Record<string, string>> = {},
  ruleSet: RuleSet = builtRules(),
): Promise<Report> {
  return withSubject(image, options, (subject) =>
    check(subject, { ruleSet, waivers: waiversOf(subject.profile), version: 'test' }),
  );
}

/** Checks and rehearses an image in this process, with the same options. */
export async function rehearseCardFile(
  image: string,
  options: Readonly<Record<string, string>>,
): Promise<Rehearsed> {
  return withSubject(image, options, (subject) => {
    const { profile } = subject;
    if (profile === null) throw new Error('the recipe names no board');
    return rehearseSubject(
      { ...subject, profile },
      { ruleSet: builtRules(), waivers: waiversOf(profile), version: 'test' },
    );
  });
}

/** Everything that the options of a recipe say, about an image that is open while `use` runs. */
export async function withSubject<T>(
  image: string,
  options: Readonly<Record<string, string>>,
  use: (subject: Subject) => T | Promise<T>,
): Promise<T> {
  const text = boardText(options);
  const profile =
    text === null
      ? null
      : readProfile(text, `${options.board ?? options.release ?? options.profile}.yaml`).profile;
  const sets = Object.fromEntries(
    (options.set ?? '')
      .split(' ')
      .filter(Boolean)
      .map((pair) => pair.split('=')),
  );
  const release = options.release === undefined ? null : releaseFolder(options.release);
  const manifest =
    release === null
      ? null
      : readManifest(readFileSync(join(release, 'manifest.json'), 'utf8'), 'manifest.json', profile);
  const { supply, installed, was } = options;
  const { machine, problems } = machineFromOptions({ supply, installed, was, sets }, profile);
  if (problems.length > 0) throw new Error(problems.map(({ message }) => message).join('; '));
  const opened = await openImage(image);
  try {
    const source = options.unreadable ? unreadable(opened.source, options.unreadable) : opened.source;
    return await use({
      target: { ...opened, path: image, kind: 'image', view: 'medium', source },
      profile,
      manifest,
      ...publishedSha256(manifest, options.edited === 'yes'),
      candidates: release === null || manifest === null ? [] : releaseCandidates(release, manifest),
      machine,
      stated: {
        fresh: options.fresh === 'yes',
        ...(options.card ? { cardBytes: parseTradeSize(options.card)?.nominal ?? 0 } : {}),
      },
      digests: nodeDigests,
      processors: builtProcessors(),
    });
  } finally {
    opened.close();
  }
}

/** A variation of a board counts as published like that, unless the recipe says `# edited: yes`. */
const publishedSha256 = (manifest: Manifest | null, edited: boolean): { profileSha256?: string } => {
  const published = manifest?.files.find(({ role }) => role === 'profile')?.sha256;
  return published === undefined ? {} : { profileSha256: edited ? '0'.repeat(64) : published };
};

const waiversOf = (profile: Profile | null): Waiver[] =>
  (profile?.waive ?? []).map(({ only, ...waiver }) =>
    only === undefined ? waiver : { ...waiver, only: compileCondition(only) },
  );

function boardText(options: Readonly<Record<string, string>>): string | null {
  if (options.board === undefined && options.release === undefined)
    return options.profile === undefined ? null : readFileSync(options.profile, 'utf8');
  let text =
    options.release === undefined
      ? sampleBoard(options.board!)
      : readFileSync(join(releaseFolder(options.release), 'board.yaml'), 'utf8');
  // `# change: old => new` replaces one line of the profile, so that a card can be held against a variation of a board.
  for (const [key, value] of Object.entries(options)) {
    if (!/^change(-\d)?$/.test(key)) continue;
    const [from, to] = value.split(' => ');
    if (from === undefined || to === undefined || !text.includes(from.replaceAll('\\n', '\n')))
      throw new Error(`no "${from}" in ${options.board ?? options.release}`);
    text = text.replace(from.replaceAll('\\n', '\n'), to.replaceAll('\\n', '\n'));
  }
  return text;
}

/** A card with a stretch that gives read errors, as a dying one does. */
function unreadable(inner: ByteSource, stretch: string): ByteSource {
  const [at = 0, length = 0] = stretch.split(' ').map(Number);
  return {
    size: inner.size,
    read: (from, bytes) =>
      from < at + length && from + bytes > at
        ? new ReadProblem(from, bytes, 'read-error', 'input/output error')
        : inner.read(from, bytes),
  };
}
