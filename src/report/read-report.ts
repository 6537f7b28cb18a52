import { limits } from '../bytes/limits.js';
import { hazards, outcomes } from '../rules/rule.js';
import type { Finding, Json, RemedyText } from './report.js';

/** What `explain` needs of a saved report. */
export interface SavedReport {
  /** The card that was checked, as it was named. */
  readonly path: string;
  readonly verdict: string;
  readonly findings: readonly Finding[];
}

/** Why a text is no report, as the rest of a sentence. */
export class NotAReport extends Error {
  override readonly name = 'NotAReport';
}

/**
 * Reads a JSON report or summary that was saved earlier, one entry for each card. Throws `NotAReport`. Findings come
 * back with every field of the type that it should have: a report may have been sent by a stranger.
 */
export function readReports(text: string): SavedReport[] {
  if (text.length > limits.reportBytes) throw new NotAReport('it is too long');
  let data: Json;
  try {
    // A byte-order mark is what some editors and shells put in front.
    data = JSON.parse(text.replace(/^\uFEFF/, ''));
  } catch {
    throw new NotAReport('it is not JSON; a report is saved with --report json=FILE');
  }
  const top = object(data, 'the file');
  if (top.schema === 'flashworthy-summary/1') return list(top.reports, 'reports').map(report);
  return [report(top)];
}

type Group = { readonly [key: string]: Json };

function report(data: Json): SavedReport {
  const top = object(data, 'a report');
  if (top.schema !== 'flashworthy-report/1')
    throw new NotAReport('it is JSON, but no report of flashworthy (flashworthy-report/1)');
  return {
    path: string(object(top.target, 'target').path, 'target.path'),
    verdict: word(top.verdict, 'verdict', ['fit', 'refused', 'not-proven'] as const),
    findings: list(top.findings, 'findings').map(finding),
  };
}

function finding(data: Json): Finding {
  const each = object(data, 'a finding');
  return {
    rule: string(each.rule, 'rule'),
    outcome: word(each.outcome, 'outcome', outcomes),
    hazard: word(each.hazard, 'hazard', hazards),
    title: string(each.title, 'title'),
    found: string(each.found, 'found'),
    needed: string(each.needed, 'needed'),
    why: string(each.why, 'why'),
    remedy: list(each.remedy, 'remedy').map(remedy),
    ...(each.because === undefined ? {} : { because: string(each.because, 'because') }),
    ...(each.shown === undefined
      ? {}
      : { shown: list(each.shown, 'shown').map((item) => string(item, 'an entry of shown')) }),
    ...(typeof each.total === 'number' ? { total: each.total } : {}),
    ...(each.missing === undefined ? {} : { missing: list(each.missing, 'missing').map(missing) }),
    sources: [],
  };
}

function remedy(data: Json): RemedyText {
  const each = object(data, 'a remedy');
  return {
    system: word(each.system, 'system', ['windows', 'macos', 'linux', 'any'] as const),
    rights: word(each.rights, 'rights', ['none', 'administrator'] as const),
    // What does not say that it spares the card is taken to erase it.
    erases: each.erases !== false,
    do: string(each.do, 'do'),
  };
}

function missing(data: Json): NonNullable<Finding['missing']>[number] {
  const each = object(data, 'an entry of missing');
  return {
    fact: string(each.fact, 'fact'),
    cause: 'not-visible',
    text: string(each.text, 'text'),
    ...(each.settle === undefined ? {} : { settle: string(each.settle, 'settle') }),
  };
}

function object(value: Json | undefined, what: string): Group {
  if (typeof value === 'object' && value !== null && !Array.isArray(value)) return value;
  throw new NotAReport(`${what} is not what it is in a report`);
}

function list(value: Json | undefined, what: string): Json[] {
  if (Array.isArray(value)) return value;
  throw new NotAReport(`${what} is not a list`);
}

function string(value: Json | undefined, what: string): string {
  if (typeof value === 'string') return value;
  throw new NotAReport(`${what} is not a text`);
}

function word<Word extends string>(value: Json | undefined, what: string, words: readonly Word[]): Word {
  const found = words.find((each) => each === value);
  if (found !== undefined) return found;
  throw new NotAReport(`${what} is none of ${words.join(', ')}`);
}
