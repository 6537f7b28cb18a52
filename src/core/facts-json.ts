import { limits } from '../bytes/limits.js';
import { Absent, FactList, type FactValue, isRecord, Unseen } from '../facts/fact.js';
import type { FactStore } from '../facts/fact-store.js';
import type { Json, Report, Stated } from '../report/report.js';
import type { RuleSubject } from '../rules/subject.js';

/** The part of a report that says what was measured. */
export type MeasuredPart = Pick<Report, 'facts' | 'unseen' | 'absent' | 'stated' | 'filesTotal'>;

/**
 * Facts as a report holds them: the known ones nested along the dots of their paths, the others by path. Long lists
 * are cut at `limits.listed` unless `all` is set. What was not seen counts only where it belongs to what was checked: a
 * card shows no release folder, and a release folder no card.
 */
export function measuredPart(store: FactStore, all: boolean, about: RuleSubject): MeasuredPart {
  const part: MeasuredPart = {
    facts: {},
    unseen: {},
    absent: [],
    stated: [],
    filesTotal: store.number('filesTotal') ?? null,
  };
  for (const [path, fact] of store.all()) {
    const { value } = fact;
    if (value instanceof Unseen) {
      if (path.startsWith('releaseFolder.') === (about === 'release')) part.unseen[path] = unseenJson(value);
    } else if (value instanceof Absent) part.absent.push(path);
    else {
      place(part.facts, path, valueJson(value, all));
      const said = fact.origin === 'stated' ? statedText(value) : '';
      if (said !== '') part.stated.push({ fact: path, text: said } satisfies Stated);
    }
  }
  return part;
}

function unseenJson(unseen: Unseen): Report['unseen'][string] {
  return { cause: unseen.cause, text: unseen.text, ...(unseen.settle ? { settle: unseen.settle } : {}) };
}

function place(into: { [key: string]: Json }, path: string, value: Json): void {
  const keys = path.split('.');
  const last = keys.pop() as string;
  let at = into;
  for (const key of keys) {
    at[key] ??= {};
    at = at[key] as { [key: string]: Json };
  }
  at[last] = value;
}

/** A field that was not seen is left out, one that does not exist is null. */
function valueJson(value: FactValue, all: boolean): Json {
  if (value instanceof FactList) {
    const items = all ? value.items : value.first(limits.listed);
    return items.map((item) => valueJson(item, all));
  }
  if (!isRecord(value)) return value instanceof Unseen || value instanceof Absent ? null : value;
  const record: { [key: string]: Json } = {};
  for (const [field, own] of Object.entries(value))
    if (!(own instanceof Unseen)) record[field] = valueJson(own, all);
  return record;
}

function statedText(value: FactValue): string {
  if (value instanceof FactList) return value.items.map(statedText).join(', ');
  return isRecord(value) ? Object.values(value).map(statedText).join(' ') : String(value);
}
