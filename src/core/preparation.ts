import { releaseNumbering } from '../board/check.js';
import { axisQuestion, type Question } from '../board/choose.js';
import type { Companion, Profile, ResolvedProfile } from '../board/profile.js';
import { compareValues, valueProblem } from '../board/ranges.js';
import { resolveProfile } from '../board/resolve.js';
import { cardPieces, type Piece } from '../card/writer/card-image.js';
import { type CardLayout, layOut } from '../card/writer/layout.js';
import type { NewPartition } from '../card/writer/sectors.js';
import { lengthsIn, NameProblem, type NewFile, treeOf } from '../card/writer/tree.js';
import { foldCase, matchesGlob, nameCaseOf, splitPath, wantedFile } from '../facts/update-file-name.js';
import type { Machine } from '../machine/machine.js';
import type { CardFile } from '../report/choice.js';
import type { PreparationReport, PreparedCard, PreparedFile } from '../report/preparation.js';
import { type CardOrder, cardDemand, noLayoutText, partitionFor } from './card-wish.js';
import { type ChoiceSubject, cardFiles, choiceReport, openQuestions } from './choice-report.js';

/** A file that the owner named beside the release. */
export interface OwnFile {
  /** As it was given. */
  readonly path: string;
  readonly bytes: Uint8Array;
}

/** A release, a machine, and the card or folder that is wanted. */
export interface PreparationSubject extends Omit<ChoiceSubject, 'next'> {
  readonly target: PreparationReport['target'];
  /** The program, for a board that takes every build; null: the release tells. */
  readonly program: OwnFile | null;
  /** Companions that the release does not hold. */
  readonly added: readonly OwnFile[];
  /** Name of the update file on the card; null: the profile tells. */
  readonly name: string | null;
  /** Volume label, legal and in capitals; null for none. */
  readonly label: string | null;
  readonly order: CardOrder;
}

/** What is to be written, before anything is. */
export interface Preparation {
  /** The report as far as it is known; `outcome` and `text` say why nothing is to be written when `files` is null. */
  readonly report: PreparationReport;
  /** What goes onto the card, the update file first; null when nothing does. */
  readonly files: readonly NewFile[] | null;
  /** The card image, when one was asked for. */
  readonly image: { readonly bytes: number; readonly pieces: readonly Piece[] } | null;
  /** True when all that is missing is the name of the update file. */
  readonly wantsName: boolean;
}

/**
 * Chooses the build for a machine, gathers the files that belong on its card, and lays the card out. Nothing is
 * judged here but what keeps a card from being made at all.
 */
export function planPreparation(subject: PreparationSubject): Preparation {
  const { profile, machine, manifest } = subject;
  const choice = choiceReport({ ...subject, next: '' });
  const report: PreparationReport = {
    schema: 'flashworthy-preparation/1',
    tool: choice.tool,
    board: choice.board,
    release: choice.release,
    inputs: choice.inputs,
    stated: choice.stated,
    outcome: 'not-proven',
    text: choice.text,
    target: subject.target,
    written: false,
    build: choice.build,
    card: null,
    files: [],
    questions: choice.questions,
    check: null,
    cautions: choice.cautions,
    steps: [],
    next: [],
  };
  const stop = (outcome: 'refused' | 'not-proven', text: string, wantsName = false): Preparation => ({
    report: { ...report, outcome, text },
    files: null,
    image: null,
    wantsName,
  });
  if (choice.outcome === 'none') return stop('refused', choice.text);
  const questions = preparationQuestions(profile, machine, manifest);
  if (questions.length > 0) {
    report.questions = questions;
    return stop(
      'not-proven',
      `${questions.length === 1 ? 'A question is' : `${questions.length} questions are`} open.`,
    );
  }
  if (choice.outcome !== 'one' && choice.outcome !== 'any') return stop('not-proven', choice.text);
  const update = choice.outcome === 'one' ? chosenBuild(choice.card[0]) : programOf(subject);
  if (update === null)
    return stop(
      'not-proven',
      'This board takes every build, so the release does not say which program is meant. Name its file: --file FILE.',
    );

  const gathered = gather(subject, resolveProfile(profile, machine), update);
  if (gathered.files === null) return stop(gathered.outcome, gathered.text, gathered.wantsName);
  const contents = gathered.files;
  report.files = contents.map(({ bytes, ...file }) => ({
    ...file,
    bytes: bytes.length,
    ...digestsOf(subject, bytes),
  }));
  const files = contents.map(({ to, bytes }) => ({ path: to, bytes }));
  try {
    if (subject.target.kind === 'folder') {
      treeOf(files, true);
      return { report, files, image: null, wantsName: false };
    }
    return planImage(subject, report, files, stop);
  } catch (error) {
    if (!(error instanceof NameProblem)) throw error;
    return stop('refused', error.message);
  }
}

/** What is open about the build, and about the card on which this machine finds its files. */
export function preparationQuestions(
  profile: Profile,
  machine: Machine,
  manifest: ChoiceSubject['manifest'],
): Question[] {
  const questions = openQuestions(profile, machine, manifest);
  const places = Object.entries(resolveProfile(profile, machine).open).filter(([key]) =>
    /^(loader|companions|update\.(path|names|match))(\.|$)/.test(key),
  );
  const asked = new Set(questions.map(({ axis }) => axis));
  for (const [, { axes }] of places)
    for (const axis of axes) {
      if (!asked.has(axis)) questions.push(axisQuestion(profile, machine, axis));
      asked.add(axis);
    }
  return questions;
}

// ---- the files ----------------------------------------------------------------------------------------------

interface Content extends Omit<PreparedFile, 'bytes' | 'crc32' | 'sha256'> {
  readonly bytes: Uint8Array;
}
type Gathered =
  | { readonly files: readonly Content[] }
  | {
      readonly files: null;
      readonly outcome: 'refused' | 'not-proven';
      readonly text: string;
      readonly wantsName?: boolean;
    };

interface Update {
  readonly title: string;
  readonly from: string;
  /** Null: it lies in the release folder. */
  readonly bytes: Uint8Array | null;
}

const chosenBuild = (file: CardFile | undefined): Update | null =>
  file === undefined || file.from === null ? null : { title: file.title, from: file.from, bytes: null };

/** The file that the owner named, or the only build of the release. */
function programOf({ program, manifest }: PreparationSubject): Update | null {
  if (program !== null) return { title: 'program', from: program.path, bytes: program.bytes };
  const builds = (manifest?.files ?? []).filter(({ role }) => role === 'build');
  return builds.length === 1 ? { title: 'program', from: builds[0]!.path, bytes: null } : null;
}

function gather(subject: PreparationSubject, resolved: ResolvedProfile, update: Update): Gathered {
  const stop = (outcome: 'refused' | 'not-proven', text: string, wantsName = false): Gathered => ({
    files: null,
    outcome,
    text,
    wantsName,
  });
  const name = lastName(update.from);
  const [first, ...companions] = cardFiles(subject, resolved, { title: update.title, from: name });
  const place = placeOf(subject, resolved, first as CardFile, name);
  if (place.to === null) return stop(place.outcome, place.text, place.wantsName);
  const bytes = update.bytes ?? subject.read(update.from);
  if (bytes === null)
    return stop(
      'not-proven',
      `The file ${update.from} is not in the release folder: download the release again.`,
    );
  const files: Content[] = [{ role: 'update', title: update.title, from: update.from, to: place.to, bytes }];

  const wanted = Array.isArray(resolved.companions) ? resolved.companions : [];
  const used = new Set<OwnFile>();
  const missing: string[] = [];
  for (const [at, file] of companions.entries()) {
    const companion = wanted[at] as Companion;
    const own = subject.added.find(({ path }) => isNamedLike(companion, lastName(path), resolved));
    if (own !== undefined) {
      used.add(own);
      files.push({
        role: 'companion',
        title: file.title,
        from: own.path,
        to: ownPlace(companion, own),
        bytes: own.bytes,
      });
      continue;
    }
    const found =
      companion.content === 'same-as-update' ? bytes : file.from === null ? null : subject.read(file.from);
    if (found === null || file.from === null || file.to === null) {
      if (companion.required && !isFromLaterOn(companion, subject))
        missing.push(`${file.to ?? companion.glob ?? companion.path} (${file.title})`);
      continue;
    }
    const from = companion.content === 'same-as-update' ? update.from : file.from;
    if (isChanged(subject, from, found))
      return stop(
        'refused',
        `${from} is not the file that the manifest of this release describes: download the release again.`,
      );
    files.push({ role: 'companion', title: file.title, from, to: file.to, bytes: found });
  }
  const stray = subject.added.find((file) => !used.has(file));
  if (stray !== undefined)
    return stop(
      'refused',
      `${stray.path} is none of the files that this board wants beside the update file.`,
    );
  if (missing.length > 0)
    return stop(
      'not-proven',
      `This board also wants ${missing.join(' and ')}, which the release folder does not hold. Look for it on the card that came with the machine, or ask whoever publishes the release, and say: --add FILE.`,
    );
  return { files };
}

/** Where the update file goes, or what keeps that open. */
function placeOf(
  subject: PreparationSubject,
  resolved: ResolvedProfile,
  { to, note }: CardFile,
  ownName: string,
): { to: string } | { to: null; outcome: 'refused' | 'not-proven'; text: string; wantsName: boolean } {
  const wanted = wantedFile(resolved);
  const { name } = subject;
  const inFolder = (file: string): string =>
    wanted === null || wanted.folder === '' ? file : `${wanted.folder}/${file}`;
  if (wanted === null) {
    const isAny = [resolved.update.path, resolved.update.names, resolved.update.match].includes('any');
    if (isAny) return { to: name ?? ownName };
  } else if (name !== null) {
    const place = wanted.places.find((one) => foldCase(one.name) === foldCase(name));
    if (place !== undefined)
      return { to: [place.folder, place.name].filter((part) => part !== '').join('/') };
    if (wanted.pattern !== null) return { to: inFolder(name) };
    return {
      to: null,
      outcome: 'refused',
      text: `This board looks for ${wanted.text}, so the file cannot be called ${name}.`,
      wantsName: false,
    };
  }
  if (to !== null) return { to };
  const why = note === undefined ? '' : `: ${note}`;
  return {
    to: null,
    outcome: 'not-proven',
    text: `The name of the update file on the card is open${why}. Say it with --name NAME.`,
    wantsName: wanted !== null,
  };
}

const lastName = (path: string): string => path.replaceAll('\\', '/').split('/').at(-1) ?? path;

function isNamedLike({ path, glob }: Companion, name: string, resolved: ResolvedProfile): boolean {
  const wanted = splitPath(path ?? glob ?? '').name;
  return path === undefined
    ? matchesGlob(name, wanted, nameCaseOf(resolved))
    : foldCase(name) === foldCase(wanted);
}

/** A companion with a fixed path goes there; one that a pattern finds keeps its own name. */
function ownPlace({ path, glob }: Companion, own: OwnFile): string {
  if (path !== undefined) return path;
  const { folder } = splitPath(glob ?? '');
  return [folder, lastName(own.path)].filter((part) => part !== '').join('/');
}

/** True when only releases after this one want the companion. */
function isFromLaterOn({ from }: Companion, { profile, manifest }: PreparationSubject): boolean {
  const numbering = releaseNumbering(profile);
  if (from === undefined || manifest === null || valueProblem(manifest.release, numbering) !== undefined)
    return false;
  return compareValues(manifest.release, from, numbering) < 0;
}

function isChanged(subject: PreparationSubject, path: string, bytes: Uint8Array): boolean {
  const listed = subject.manifest?.files.find((file) => file.path === path);
  return listed !== undefined && listed.sha256 !== digestsOf(subject, bytes).sha256;
}

function digestsOf({ digests }: PreparationSubject, bytes: Uint8Array): { crc32: string; sha256: string } {
  const [crc32, sha256] = [digests.crc32(), digests.sha256()];
  crc32.update(bytes);
  sha256.update(bytes);
  return { crc32: crc32.hex(), sha256: sha256.hex() };
}

// ---- the card -----------------------------------------------------------------------------------------------

function planImage(
  subject: PreparationSubject,
  report: PreparationReport,
  files: readonly NewFile[],
  stop: (outcome: 'refused' | 'not-proven', text: string) => Preparation,
): Preparation {
  const { profile, machine, label, order } = subject;
  const resolved = resolveProfile(profile, machine);
  const demand = cardDemand(resolved, order);
  if (demand.unmade !== undefined) return stop('not-proven', demand.unmade);
  const root = treeOf(files, resolved.loader.nameCase === 'exact');
  const lengths = lengthsIn(root);
  const { needsFreeClusters } = resolved.update;
  const layout = layOut(demand.wish, {
    lengths,
    rootSlots: root.slots + (label === null ? 0 : 1),
    freeClusters: typeof needsFreeClusters === 'number' ? needsFreeClusters : 0,
  });
  if (layout === null) return stop('refused', noLayoutText(demand.wish, lengths));
  const partition = layout.scheme === 'none' ? null : partitionFor(resolved, layout);
  if (typeof partition === 'string') return stop('refused', partition);
  const serial = serialOf(subject, files);
  const pieces = cardPieces({ layout, partition, root, label: label?.padEnd(11) ?? null, serial });
  return {
    report: { ...report, card: preparedCard(layout, partition, label, serial) },
    files,
    image: { bytes: layout.bytes, pieces },
    wantsName: false,
  };
}

/** A number for the volume that follows from what lies on it, so that the same files give the same card. */
function serialOf({ digests, label }: PreparationSubject, files: readonly NewFile[]): number {
  const crc = digests.crc32();
  crc.update(codeUnits(`${label ?? ''}\n`));
  for (const { path, bytes } of files) {
    crc.update(codeUnits(`${path}\n${bytes.length}\n`));
    crc.update(bytes);
  }
  return Number.parseInt(crc.hex(), 16);
}

/** A text as bytes, two for each of its code units, the low one first. */
const codeUnits = (text: string): Uint8Array =>
  Uint8Array.from(
    Array.from({ length: text.length * 2 }, (_, at) => (text.charCodeAt(at >> 1) >> (8 * (at & 1))) & 0xff),
  );

function preparedCard(
  layout: CardLayout,
  partition: NewPartition | null,
  label: string | null,
  serial: number,
): PreparedCard {
  return {
    bytes: layout.bytes,
    partitionTable: layout.scheme,
    partition:
      partition === null
        ? null
        : { index: partition.slot, type: partition.type, bootFlag: partition.bootFlag },
    startByte: layout.startByte,
    volumeBytes: layout.totalSectors * layout.bytesPerSector,
    fileSystem: layout.fileSystem,
    bytesPerSector: layout.bytesPerSector,
    clusterBytes: layout.clusterBytes,
    clusterCount: layout.clusterCount,
    reservedSectors: layout.reservedSectors,
    fatCount: layout.fatCount,
    dataStartByte: layout.dataByte,
    label,
    serial,
  };
}
