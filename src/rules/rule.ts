import type { UnseenCause } from '../facts/fact.js';

/** Hazards, worst first. `advice` never touches the verdict. */
export const hazards = [
  'unsafe',
  'unbootable',
  'one-way',
  'wrong-program',
  'looped',
  'settings-lost',
  'ignored',
  'advice',
] as const;
export type Hazard = (typeof hazards)[number];

export const outcomes = ['failed', 'unknown', 'waived', 'holds', 'not-applicable'] as const;
export type Outcome = (typeof outcomes)[number];

/** The eight things that must all hold before a card is fit. Each is carried by one rule or more. */
export const keystones = [
  'medium-read',
  'volume-found',
  'update-file-whole',
  'encoding',
  'application-area',
  'known-build',
  'for-this-machine',
  'companions',
] as const;

/** What must all hold before a release folder is complete. */
export const releaseKeystones = [
  'folder-read',
  'builds-there',
  'builds-pass',
  'choice-proved',
  'release-sealed',
] as const;
export type Keystone = (typeof keystones)[number] | (typeof releaseKeystones)[number];

/** A compiled expression: plain JSON, made from the syntax tree of the CEL library after its type check. */
export type Expression =
  | readonly ['value', boolean | number | string]
  | readonly ['fact', string]
  | readonly ['variable', string]
  | readonly ['field', Expression, string]
  | readonly ['item', Expression, Expression]
  | readonly ['list', readonly Expression[]]
  | readonly ['not' | 'minus', Expression]
  | readonly ['and' | 'or', Expression, Expression]
  | readonly ['if', Expression, Expression, Expression]
  | readonly ['all' | 'exists', Expression, string, Expression]
  | readonly [
      '==' | '!=' | '<' | '<=' | '>' | '>=' | 'in' | '+' | '-' | '*' | '/' | '%' | 'whole/',
      Expression,
      Expression,
    ]
  | readonly ['call', string, readonly Expression[]];

/** A text with expressions in braces: `{sizeText(volume.clusterBytes)} clusters`. */
export type Template = readonly (string | { readonly expression: Expression })[];

export interface RemedyStep {
  readonly system: 'windows' | 'macos' | 'linux' | 'any';
  readonly rights: 'none' | 'administrator';
  /** True when the steps erase the card. Printed before the steps. */
  readonly erases: boolean;
  readonly do: Template;
}

export interface Source {
  readonly title?: string;
  readonly section?: string;
  readonly url?: string;
  /** `common practice, no published source` */
  readonly practice?: string;
}

/** One rule as the engine runs it. */
export interface Rule {
  /** `group/what-is-checked`, never renamed. */
  readonly id: string;
  readonly title: string;
  /** Guards in order; the last has none. */
  readonly hazard: readonly { readonly if?: Expression; readonly is: Hazard }[];
  readonly keystone: Keystone | null;
  readonly after: readonly string[];
  readonly when: Expression | null;
  readonly must: Expression;
  /** `must` is asked of every item of this list, as `item`. */
  readonly each: Expression | null;
  /** What to print of an item that fails. */
  readonly show: Template | null;
  readonly settledBy: Expression | null;
  /** What the owner must ensure, said with `fit`, when the guard is true (or there is none). */
  readonly provided: readonly { readonly if?: Expression; readonly text: Template }[];
  readonly found: Template;
  readonly needed: Template;
  readonly why: Template;
  readonly remedy: readonly RemedyStep[];
  /** Fact whose place on the medium the finding points at. */
  readonly where: string | null;
  readonly sources: readonly Source[];
  /** Rows of the failure catalogue. */
  readonly catalogue: readonly string[];
  /** Facts that `when`, `must` and `each` touch, by path. */
  readonly touches: readonly string[];
}

/** Rules compiled to data, with what identifies them. */
export interface RuleSet {
  readonly version: string;
  /** SHA-256 over the rule files, 64 lower-case hexadecimal digits. */
  readonly sha256: string;
  readonly rules: readonly Rule[];
}

/** A fact that kept a rule from being judged. */
export interface MissingFact {
  readonly fact: string;
  readonly cause: UnseenCause;
  readonly text: string;
  readonly settle?: string;
}
