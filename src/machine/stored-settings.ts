import type { Capture, Happening } from './capture.js';
import type { RecordedSetting } from './record.js';
import { keyedSettings, repeatedWords } from './setting-keys.js';
import type { CaptureProblem, SettingsReport } from './settings-report.js';

/**
 * What a capture says about the settings that the machine keeps. `none`: there is no report. `known`: the reports and what
 * was done between them agree. `unsaved`: a number was changed and nothing shows that the change was saved. `stale`: the
 * settings were changed or read anew after the last report.
 */
export interface StoredSettings {
  readonly state: 'none' | 'known' | 'unsaved' | 'stale';
  /**
   * The settings that the machine keeps. Empty when that is not certain: with `unsaved` they are those of the report
   * before the change, when the capture shows that these had been saved.
   */
  readonly settings: readonly RecordedSetting[];
  /** Why the state is `unsaved` or `stale`, in a plain sentence. */
  readonly why: string | null;
  /** The last report ends with the capture, without the `ok` that closes one. */
  readonly isCut: boolean;
  /** What could not be read, and stands in no later report. */
  readonly problems: readonly CaptureProblem[];
}

/** Follows the reports of a capture and what was done between them. */
export function storedSettings({ happenings }: Capture): StoredSettings {
  const reports = happenings.flatMap((one) => (one.kind === 'report' ? [one.report] : []));
  const last = reports.at(-1);
  if (last === undefined) return { state: 'none', settings: [], why: null, isCut: false, problems: [] };
  const common = {
    isCut: !last.isClosed,
    problems: reports.flatMap((report, at) =>
      isReplaced(report, reports.slice(at + 1)) ? [] : report.problems,
    ),
  };
  const { current, saved, unsaved, stale } = follow(happenings, reports);
  if (unsaved !== null) return { ...common, state: 'unsaved', settings: saved ?? [], why: unsaved };
  if (stale !== null) return { ...common, state: 'stale', settings: [], why: stale };
  return { ...common, state: 'known', settings: current, why: null };
}

interface Followed {
  /** The last value of each setting that a report gave. */
  readonly current: RecordedSetting[];
  /** What was saved before a change that was not; null when no save was seen. */
  readonly saved: RecordedSetting[] | null;
  readonly unsaved: string | null;
  readonly stale: string | null;
}

function follow(happenings: readonly Happening[], reports: readonly SettingsReport[]): Followed {
  const repeated = repeatedWords(...reports.map(({ settings }) => settings));
  let current = new Map<string, RecordedSetting>();
  let saved: Map<string, RecordedSetting> | null = null;
  let isSaved = false;
  let unsaved: string | null = null;
  let stale: string | null = null;
  /** A change that explains why the next report says something else. */
  let isChanged = false;
  for (const one of happenings) {
    switch (one.kind) {
      case 'report': {
        const before = current;
        current = new Map(before);
        for (const { key, setting, isIndex } of keyedSettings(one.report.settings, repeated)) {
          const other = before.get(key);
          if (!isIndex && other !== undefined && other.value !== setting.value && !isChanged) {
            if (isSaved && unsaved === null) saved = before;
            isSaved = false;
            unsaved ??= `two reports do not agree: ${key} is ${other.value} before line ${one.line} and ${setting.value} after it`;
          }
          current.set(isIndex ? `${key}\n${setting.line}` : key, setting);
        }
        stale = null;
        isChanged = false;
        break;
      }
      case 'edit':
      case 'defaults': {
        if (isSaved && unsaved === null) saved = new Map(current);
        isSaved = false;
        isChanged = true;
        const what = one.kind === 'edit' ? `${one.word} was sent` : 'the defaults of the program were loaded';
        unsaved = `${what} in line ${one.line}, and nothing shows that this was saved`;
        if (current.size > 0) stale = `${what} in line ${one.line}, and no report was printed after it`;
        break;
      }
      case 'saved':
        isSaved = true;
        unsaved = null;
        break;
      case 'loaded':
        // What was not saved is gone, and only a report says what the machine has now.
        if (unsaved !== null && current.size > 0)
          stale = `the saved settings were loaded in line ${one.line}, and no report was printed after it`;
        isChanged = unsaved !== null;
        unsaved = null;
        isSaved = true;
        break;
    }
  }
  return {
    current: [...current.values()],
    saved: saved === null ? null : [...(saved as Map<string, RecordedSetting>).values()],
    unsaved,
    stale,
  };
}

/** A later report that is whole makes up for what was torn in an earlier one. */
function isReplaced({ settings }: SettingsReport, later: readonly SettingsReport[]): boolean {
  const words = new Set(settings.map(({ word }) => word));
  return later.some(
    (one) =>
      one.isClosed &&
      one.problems.length === 0 &&
      [...words].every((word) => one.settings.some((setting) => setting.word === word)),
  );
}
