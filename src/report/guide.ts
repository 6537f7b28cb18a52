import type { Json, Report } from './report.js';

/** What the owner does and sees at the machine, as the board profile says it. */
export interface GuideText {
  /** What to do, in order: before, socket, start. */
  readonly steps: readonly string[];
  readonly signs: readonly { readonly after: string; readonly sees: string; readonly means: string }[];
  readonly wayBack: string | null;
}

/** The guide of the board that was checked, or null when its profile has none. */
export function guideOf(report: Report): GuideText | null {
  const guide = objectAt(objectAt(report.facts, 'board'), 'guide');
  const textOf = (key: string): string | null => {
    const value = guide[key];
    return typeof value === 'string' ? value : null;
  };
  // guide.before, guide.socket, guide.start
  const steps = ['before', 'socket', 'start'].map(textOf).filter((text) => text !== null);
  // guide.signs: each with after, sees and means
  const signs = (Array.isArray(guide.signs) ? guide.signs : []).flatMap((sign) => {
    const { after, sees, means } = isObject(sign) ? sign : {};
    return typeof after === 'string' && typeof sees === 'string' && typeof means === 'string'
      ? [{ after, sees, means }]
      : [];
  });
  const wayBack = textOf('wayBack');
  return steps.length + signs.length > 0 || wayBack !== null ? { steps, signs, wayBack } : null;
}

type JsonObject = { [key: string]: Json };

const isObject = (value: Json | undefined): value is JsonObject =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

function objectAt(value: JsonObject, key: string): JsonObject {
  const found = value[key];
  return isObject(found) ? found : {};
}
