import { isBasisKey } from './coverage.js';
import { groupNames, loaderIds, profileKeys } from './keys.js';
import { nearest } from './nearest.js';
import type { Axis, For, Load, MemoryArea, Profile, Range } from './profile.js';
import { type Numbering, parseRange, valueProblem } from './ranges.js';
import { joined, type Path } from './validate.js';

/** Takes one problem: where, what is wrong, what was expected, and whether the key itself is wrong. */
export type Complain = (path: Path, message: string, expected?: string, at?: 'key' | 'value') => void;

/**
 * What no schema can say: names refer to things that exist, ids are unique, ranges are ranges of their question, areas
 * of memory do not overlap, paths stay on the card. Each problem is given to `complain`.
 */
export function profileProblems(profile: Profile, complain: Complain): void {
  checkAxes(profile, complain);
  checkLoaders(profile, complain);
  checkBasis(profile, complain);
  for (const [path, condition] of conditions(profile)) checkFor(condition, profile, complain, path);
  checkIds(profile, complain);
  checkMemory(profile, complain);
  checkUpdate(profile, complain);
  checkFiles(profile, complain);
  checkPower(profile, complain);
  checkReleases(profile, complain);
  for (const [path, bounds] of boundsOf(profile))
    if (bounds.min !== undefined && bounds.max !== undefined && bounds.min > bounds.max)
      complain(path, `min ${bounds.min} is above max ${bounds.max}`, 'min below max');
}

/**
 * How answers to a question are compared; undefined when the profile has no such question. `installed`, the release
 * that runs now, is a question of every profile.
 */
export function numberingOf(profile: Profile, axisId: string): Numbering | undefined {
  const axis = profile.axes.find((one) => one.id === axisId);
  if (axis?.numbering) return axis.numbering;
  if (axisId === 'installed') return axis?.values ? 'word' : releaseNumbering(profile);
  return axis ? 'word' : undefined;
}

/** How releases are compared; as dotted numbers when the profile does not say. */
export function releaseNumbering(profile: Profile): Numbering {
  const said = profile.releases.numbering ?? profile.axes.find((one) => one.id === 'installed')?.numbering;
  return said === undefined || said === 'any' ? 'dotted' : said;
}

/** All answers that a question can have, or undefined when they cannot be listed. */
export function valuesOf(profile: Profile, axisId: string): readonly string[] | undefined {
  const axis = profile.axes.find((one) => one.id === axisId);
  if (axis === undefined) return undefined;
  return axis.values ?? (axis.from ? Object.keys(axis.from) : undefined);
}

function checkAxes(profile: Profile, complain: Complain): void {
  for (const [index, axis] of profile.axes.entries()) {
    const path = ['axes', index];
    if (
      axis.values === undefined &&
      axis.numbering === undefined &&
      axis.from === undefined &&
      axis.id !== 'installed'
    )
      complain(path, 'a question needs values, numbering or from', 'values, numbering or from');
    if (axis.values && axis.numbering)
      for (const [at, value] of axis.values.entries()) {
        const problem = valueProblem(value, axis.numbering);
        if (problem) complain([...path, 'values', at], problem);
      }
    if (axis.id === 'installed' && axis.from)
      complain([...path, 'from'], 'the release that runs now follows from nothing');
    checkFrom(axis, profile, complain, path);
    const releases = profile.releases.numbering;
    if (
      axis.id === 'installed' &&
      axis.numbering &&
      releases &&
      releases !== 'any' &&
      releases !== axis.numbering
    )
      complain([...path, 'numbering'], `${axis.numbering}, but releases.numbering is ${releases}`, releases);
  }
}

function checkFrom(axis: Axis, profile: Profile, complain: Complain, path: Path): void {
  for (const [answer, condition] of Object.entries(axis.from ?? {})) {
    const place = [...path, 'from', answer];
    if (axis.values && !axis.values.includes(answer))
      complain(
        place,
        `'${answer}' is not among the values of this question`,
        joined(axis.values, 'or'),
        'key',
      );
    checkFor(condition, profile, complain, place);
    // One step is enough for what boards need, and it cannot run in a circle.
    for (const other of Object.keys(condition))
      if (profile.axes.find((one) => one.id === other)?.from)
        complain([...place, other], `${other} follows from another question itself`, undefined, 'key');
  }
}

function checkLoaders(profile: Profile, complain: Complain): void {
  const generations = Object.keys(profile.loaders);
  if (generations.length === 0) return;
  if (!profile.axes.some((axis) => axis.id === 'loader')) {
    complain(
      ['loaders'],
      'the question that tells the generations apart is missing: add loader to axes',
      undefined,
      'key',
    );
    return;
  }
  const known = loaderIds(profile);
  for (const generation of generations)
    if (!known.includes(generation))
      complain(
        ['loaders', generation],
        `the question loader has no such answer; ${hint(generation, known)}`,
        joined(known, 'or'),
        'key',
      );
}

function checkBasis(profile: Profile, complain: Complain): void {
  if (typeof profile.basis !== 'object') return;
  for (const name of Object.keys(profile.basis))
    if (!isBasisKey(name)) {
      const meant = nearest(name, ['default', ...groupNames, ...profileKeys()]);
      complain(
        ['basis', name],
        `there is no such key${meant ? `; did you mean ${meant}?` : ''}`,
        'a key such as loader.clusterBytes, or default',
        'key',
      );
    }
}

function checkFor(condition: For, profile: Profile, complain: Complain, path: Path): void {
  for (const [axisId, range] of Object.entries(condition)) {
    const numbering = numberingOf(profile, axisId);
    if (numbering === undefined) {
      const known = [...new Set(['installed', ...profile.axes.map((axis) => axis.id)])];
      complain(
        [...path, axisId],
        `there is no such question in axes; ${hint(axisId, known)}`,
        joined(known, 'or'),
        'key',
      );
      continue;
    }
    const parsed = parseRange(range, numbering);
    if (!parsed.range) {
      complain([...path, axisId], parsed.problem);
      continue;
    }
    const values = numbering === 'word' ? valuesOf(profile, axisId) : undefined;
    if (values && parsed.range.kind === 'values')
      for (const value of parsed.range.values)
        if (!values.includes(value))
          complain(
            [...path, axisId],
            `the question ${axisId} has no answer '${value}'; ${hint(value, values)}`,
            joined(values, 'or'),
          );
  }
}

/** Every `for` of a profile, with its place. Those of `from` are checked with their question. */
function* conditions(profile: Profile): Iterable<[Path, For]> {
  const lists: [Path, unknown][] = [
    [['memory', 'loader'], profile.memory.loader],
    [['memory', 'application'], profile.memory.application],
    [['memory', 'settings'], profile.memory.settings],
    ...(['path', 'names', 'match', 'encoding', 'bytes', 'skipBytes'] as const).map((key): [Path, unknown] => [
      ['update', key],
      profile.update[key],
    ]),
    [['companions'], profile.companions],
    [['builds'], profile.builds],
    [['releases', 'notes'], profile.releases.notes],
  ];
  for (const [path, list] of lists)
    for (const [index, item] of (Array.isArray(list) ? list : []).entries())
      if (typeof item === 'object' && item !== null && 'for' in item && item.for !== undefined)
        yield [[...path, index, 'for'], item.for as For];
}

function checkIds(profile: Profile, complain: Complain): void {
  const lists: [Path, unknown][] = [
    [['axes'], profile.axes],
    [['supplies'], profile.supplies],
    [['loads'], profile.loads],
    [['builds'], profile.builds],
    [['siblings'], profile.siblings],
    [['settings', 'layouts'], profile.settings.layouts],
  ];
  for (const [path, list] of lists) {
    const seen = new Set<string>();
    for (const [index, item] of listOf(list as { id: string }[] | 'any' | undefined).entries()) {
      if (seen.has(item.id))
        complain([...path, index, 'id'], `there are two of the name ${item.id}`, 'a name of its own');
      seen.add(item.id);
    }
  }
}

function checkMemory(profile: Profile, complain: Complain): void {
  type Placed = { path: Path; name: string; area: MemoryArea & { for?: For } };
  const areas: Placed[] = [];
  for (const name of ['loader', 'application', 'settings'] as const) {
    const said: (MemoryArea & { for?: For })[] | MemoryArea | 'any' | undefined = profile.memory[name];
    if (said === undefined || said === 'any') continue;
    if (!Array.isArray(said)) areas.push({ path: ['memory', name], name, area: said });
    else
      for (const [index, area] of said.entries()) areas.push({ path: ['memory', name, index], name, area });
  }
  for (const [index, one] of areas.entries()) {
    if (one.area.bytes === 0) complain(one.path, 'an area of memory has at least one byte');
    for (const other of areas.slice(0, index)) {
      // Two entries for different machines never hold at once; only equal conditions certainly do.
      const together =
        !one.area.for || !other.area.for || JSON.stringify(one.area.for) === JSON.stringify(other.area.for);
      const alternatives = one.name === other.name && one.name !== 'settings';
      if (together && !alternatives && overlap(one.area, other.area))
        complain(
          one.path,
          `overlaps memory.${other.name}: ${areaText(one.area)} and ${areaText(other.area)}`,
          'areas apart from each other',
        );
    }
  }
}

const overlap = (a: MemoryArea, b: MemoryArea): boolean =>
  a.start < b.start + b.bytes && b.start < a.start + a.bytes;
const areaText = (area: MemoryArea): string =>
  `0x${area.start.toString(16)} to 0x${(area.start + area.bytes - 1).toString(16)}`;

function checkUpdate(profile: Profile, complain: Complain): void {
  const { update } = profile;
  // Lists by axis may share the machines among them.
  const isPlain = (said: unknown): boolean =>
    said !== undefined && said !== 'any' && !(Array.isArray(said) && typeof said[0] === 'object');
  const said = (['path', 'names', 'match'] as const).filter((key) => isPlain(update[key]));
  if (said.length > 1)
    complain(
      ['update', said[1]!],
      `only one of path, names and match: there is update.${said[0]} already`,
      undefined,
      'key',
    );
  const matches =
    update.match === undefined || update.match === 'any'
      ? []
      : Array.isArray(update.match)
        ? update.match.map((entry, index) => ({
            path: ['update', 'match', index, 'match'],
            match: entry.match,
          }))
        : [{ path: ['update', 'match'], match: update.match }];
  for (const { path, match } of matches) if (match) checkMatch(match, complain, path);
  for (const [index, other] of listOf(profile.others).entries())
    checkMatch(other.match, complain, ['others', index, 'match']);
}

function checkMatch(match: { glob?: string; contains?: string }, complain: Complain, path: Path): void {
  if ((match.glob === undefined) === (match.contains === undefined))
    complain(path, 'expected one of glob and contains', 'glob or contains');
  if (match.glob?.includes('/'))
    complain([...path, 'glob'], 'a pattern is for the file name; the folder stands in folder');
}

/** Files are named by paths that stay where they belong: `FOLDER/NAME.EXT`. */
function checkFiles(profile: Profile, complain: Complain): void {
  const paths: [Path, string | undefined][] = [];
  const { update } = profile;
  if (Array.isArray(update.path))
    for (const [index, entry] of update.path.entries())
      paths.push([['update', 'path', index, 'path'], entry.path]);
  else paths.push([['update', 'path'], update.path]);
  if (Array.isArray(update.names))
    for (const [index, entry] of update.names.entries())
      if (typeof entry === 'string') paths.push([['update', 'names', index], entry]);
      else
        for (const [at, name] of (entry.names ?? []).entries())
          paths.push([['update', 'names', index, 'names', at], name]);
  if (Array.isArray(update.match))
    for (const [index, entry] of update.match.entries())
      paths.push([['update', 'match', index, 'match', 'folder'], entry.match?.folder]);
  else if (update.match !== 'any') paths.push([['update', 'match', 'folder'], update.match?.folder]);
  for (const [index, companion] of listOf(profile.companions).entries()) {
    if ((companion.path === undefined) === (companion.glob === undefined))
      complain(['companions', index], 'expected one of path and glob', 'path or glob');
    paths.push(
      [['companions', index, 'path'], companion.path],
      [['companions', index, 'glob'], companion.glob],
    );
  }
  for (const [index, build] of listOf(profile.builds).entries())
    for (const [at, file] of build.files.entries()) paths.push([['builds', index, 'files', at], file]);
  paths.push([['settings', 'file'], profile.settings.file]);
  for (const [path, file] of paths) {
    if (file === undefined) continue;
    const isPlain =
      !/[\\\u0000-\u001F:]/.test(file) &&
      file.split('/').every((name) => name !== '' && name !== '.' && name !== '..');
    if (!isPlain)
      complain(
        path,
        `'${file}' is no path such as NAME.EXT or FOLDER/NAME.EXT`,
        'names with / between them, no / in front',
      );
  }
}

function checkPower(profile: Profile, complain: Complain): void {
  const loads = listOf(profile.loads);
  for (const [index, load] of loads.entries()) checkLoad(load, complain, ['loads', index]);
  const builds = listOf(profile.builds);
  for (const [index, build] of builds.entries())
    for (const [set, together] of (build.heaters?.together ?? []).entries())
      for (const [at, id] of together.entries())
        if (!loads.some((load) => load.id === id)) {
          const known = loads.map((load) => load.id);
          complain(
            ['builds', index, 'heaters', 'together', set, at],
            `there is no load '${id}'; ${hint(id, known)}`,
            joined(known, 'or'),
          );
        }
  const known = builds.map((build) => build.id);
  for (const [index, id] of listOf(profile.whenUnsure).entries())
    if (!known.includes(id))
      complain(['whenUnsure', index], `there is no build '${id}'; ${hint(id, known)}`, joined(known, 'or'));
}

function checkLoad(load: Load, complain: Complain, path: Path): void {
  const given = [load.watts, load.amps, load.ohms].filter((value) => value !== undefined);
  if (given.length !== 1) complain(path, 'expected one of watts, amps and ohms', 'watts, amps or ohms');
  if (load.material !== undefined && load.tempco !== undefined)
    complain([...path, 'tempco'], 'material gives the temperature coefficient already', undefined, 'key');
  const changes = load.material !== undefined || load.tempco !== undefined;
  if (changes && load.ohms === undefined)
    complain(path, 'material and tempco say how ohms changes: ohms is missing', 'ohms');
  if (changes && load.at === undefined)
    complain(path, 'at is missing: the temperature at which ohms was measured', 'at, in degrees Celsius');
}

function checkReleases(profile: Profile, complain: Complain): void {
  const numbering = releaseNumbering(profile);
  const range = (path: Path, text: string | string[]): void => {
    const { problem } = parseRange(text, numbering);
    if (problem) complain(path, problem);
  };
  const release = (path: Path, text: string | undefined): void => {
    const problem = text === undefined ? undefined : valueProblem(text, numbering);
    if (problem) complain(path, problem);
  };
  const { releases } = profile;
  for (const [index, step] of listOf(releases.steps).entries()) {
    range(['releases', 'steps', index, 'from'], step.from);
    range(['releases', 'steps', index, 'to'], step.to);
    release(['releases', 'steps', index, 'via'], step.via);
  }
  for (const [index, lock] of listOf(releases.locks).entries())
    release(['releases', 'locks', index, 'from'], lock.from);
  for (const [index, note] of listOf(releases.notes).entries())
    range(['releases', 'notes', index, 'release'], note.release);
  for (const [index, layout] of listOf(profile.settings.layouts).entries())
    range(['settings', 'layouts', index, 'releases'], layout.releases);
  for (const [index, build] of listOf(profile.builds).entries())
    release(['builds', index, 'cannotReturnFrom'], build.cannotReturnFrom);
  for (const [index, companion] of listOf(profile.companions).entries())
    release(['companions', index, 'from'], companion.from);
  for (const [index, waiver] of profile.waive.entries()) release(['waive', index, 'until'], waiver.until);
}

function* boundsOf(profile: Profile): Iterable<[Path, Range]> {
  const { update } = profile;
  const loaders: [Path, Partial<Profile['loader']>][] = [
    [['loader'], profile.loader],
    ...Object.entries(profile.loaders).map(([id, keys]): [Path, Partial<Profile['loader']>] => [
      ['loaders', id],
      keys,
    ]),
  ];
  for (const [path, loader] of loaders)
    for (const key of ['volumeBytes', 'cardBytes'] as const) {
      const bounds = loader[key];
      if (bounds !== undefined && bounds !== 'any') yield [[...path, key], bounds];
    }
  if (Array.isArray(update.bytes)) {
    for (const [index, entry] of update.bytes.entries())
      if (entry.bytes) yield [['update', 'bytes', index, 'bytes'], entry.bytes];
  } else if (update.bytes !== undefined && update.bytes !== 'any') {
    yield [['update', 'bytes'], update.bytes];
  }
  for (const [index, companion] of listOf(profile.companions).entries())
    if (typeof companion.bytes === 'object') yield [['companions', index, 'bytes'], companion.bytes];
}

function hint(word: string, known: readonly string[]): string {
  if (known.length === 0) return 'there is none';
  const meant = nearest(word, known);
  return meant ? `did you mean ${meant}?` : `expected ${joined(known.slice(0, 20), 'or')}`;
}

const listOf = <T>(said: readonly T[] | 'any' | undefined): readonly T[] =>
  said === undefined || said === 'any' ? [] : said;
