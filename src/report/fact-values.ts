import type { Json } from './report.js';

/** A group of facts, or one item of a list of them. */
export type FactGroup = { readonly [key: string]: Json };

/** The group, or an empty one: a report from a file may hold anything. */
export const group = (value: Json | undefined): FactGroup =>
  typeof value === 'object' && value !== null && !Array.isArray(value) ? value : {};

/** The items of a list of groups; none where there is no list. */
export const groupsOf = (value: Json | undefined): FactGroup[] =>
  Array.isArray(value) ? value.map(group) : [];

/** The texts of a list; none where there is no list. */
export const textsOf = (value: Json | undefined): string[] =>
  Array.isArray(value) ? value.filter((each) => typeof each === 'string') : [];

/** 2 PiB, far more than any card: sums of such numbers are still exact. */
const most = 2 ** 51;

/** A size, a place or an address in bytes, else null. */
export const amount = (value: Json | undefined): number | null =>
  // Added to zero, since JSON knows -0.
  typeof value === 'number' && Number.isInteger(value) && value >= 0 && value <= most ? value + 0 : null;
