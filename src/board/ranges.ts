/**
 * Ranges of releases, dates and other numbered answers: `"31"`, `"<31"`, `">=20 <31"`, or a list of values.
 */

/** How the answers of a question are compared. `word`: only equal or not. */
export type Numbering = 'integer' | 'dotted' | 'date' | 'word';

type Operator = '<' | '<=' | '>' | '>=';

/** A range as parsed: one of some values, or between limits. */
export type ParsedRange =
  | { readonly kind: 'values'; readonly values: readonly string[] }
  | { readonly kind: 'limits'; readonly limits: readonly { operator: Operator; value: string }[] };

export type RangeResult =
  | { readonly range: ParsedRange; readonly problem?: undefined }
  | { readonly range?: undefined; readonly problem: string };

/** Why a value is none that this numbering knows; undefined when it is one. */
export function valueProblem(value: string, numbering: Numbering): string | undefined {
  if (numbering === 'word') return undefined;
  if (key(value, numbering) !== undefined) return undefined;
  if (numbering === 'integer') return `'${value}' is no whole number`;
  if (numbering === 'dotted') return `'${value}' is no dotted number such as 1.10`;
  return `'${value}' is no date such as 2026-01-31`;
}

/**
 * Orders two values of one numbering: negative, zero or positive. Dotted numbers are compared part by part, so 1.10
 * is above 1.9, and missing parts count as zero. Throws for a value that `valueProblem` refuses, and for words.
 */
export function compareValues(a: string, b: string, numbering: Numbering): number {
  const left = key(a, numbering);
  const right = key(b, numbering);
  if (left === undefined || right === undefined)
    throw new Error(`cannot order '${a}' and '${b}' as ${numbering}`);
  for (let part = 0; part < Math.max(left.length, right.length); part++) {
    const difference = (left[part] ?? 0) - (right[part] ?? 0);
    if (difference !== 0) return difference;
  }
  return 0;
}

/** Parses a range for one numbering; a problem in plain words when it is none, or when nothing can lie in it. */
export function parseRange(text: string | readonly string[], numbering: Numbering): RangeResult {
  if (typeof text !== 'string') {
    for (const value of text) {
      const problem = valueProblem(value, numbering);
      if (problem) return { problem };
    }
    return { range: { kind: 'values', values: text } };
  }
  const words = text.trim().split(/\s+/);
  if (!/[<>=]/.test(text)) {
    if (numbering !== 'word' && words.length > 1)
      return { problem: `'${text}' is no range such as ">=20 <31"` };
    const problem = valueProblem(text.trim(), numbering);
    return problem ? { problem } : { range: { kind: 'values', values: [text.trim()] } };
  }
  if (numbering === 'word')
    return { problem: `'${text}' compares, but the answers of this question have no order: list the values` };
  const limits: { operator: Operator; value: string }[] = [];
  // An operator may stand apart from its value: ">= 20".
  for (const word of text
    .replace(/([<>]=?)\s+/g, '$1')
    .trim()
    .split(/\s+/)) {
    const operator = /^(<=|>=|<|>)/.exec(word)?.[1];
    if (operator !== '<' && operator !== '<=' && operator !== '>' && operator !== '>=')
      return { problem: `'${text}' is no range such as ">=20 <31"` };
    const value = word.slice(operator.length);
    const problem = valueProblem(value, numbering);
    if (problem) return { problem };
    limits.push({ operator, value });
  }
  return isEmpty(limits, numbering)
    ? { problem: `nothing lies in '${text}'` }
    : { range: { kind: 'limits', limits } };
}

/** Whether a value lies in a range. Throws when either is none of this numbering: check them when they are read. */
export function inRange(
  value: string,
  range: string | readonly string[] | ParsedRange,
  numbering: Numbering,
): boolean {
  const parsed = typeof range === 'object' && 'kind' in range ? range : parsedOrThrow(range, numbering);
  if (parsed.kind === 'values')
    return parsed.values.some((one) =>
      numbering === 'word' ? one === value : compareValues(value, one, numbering) === 0,
    );
  return parsed.limits.every((limit) => {
    const order = compareValues(value, limit.value, numbering);
    if (limit.operator === '<') return order < 0;
    if (limit.operator === '<=') return order <= 0;
    return limit.operator === '>' ? order > 0 : order >= 0;
  });
}

/** The values at which a range starts or ends: where a proof over all machines has to cut. */
export function endPoints(range: ParsedRange): readonly string[] {
  return range.kind === 'values' ? range.values : range.limits.map((limit) => limit.value);
}

function parsedOrThrow(text: string | readonly string[], numbering: Numbering): ParsedRange {
  const { range, problem } = parseRange(text, numbering);
  if (!range) throw new Error(problem);
  return range;
}

/** Nothing lies between limits when the highest lower one is above the lowest upper one; whole numbers leave gaps. */
function isEmpty(limits: readonly { operator: Operator; value: string }[], numbering: Numbering): boolean {
  return limits.some((low) =>
    limits.some((high) => {
      if (!low.operator.startsWith('>') || !high.operator.startsWith('<')) return false;
      const order = compareValues(low.value, high.value, numbering);
      if (order !== 0) {
        const touch = numbering === 'integer' && low.operator === '>' && high.operator === '<';
        return order > 0 || (touch && Number(high.value) - Number(low.value) === 1);
      }
      return low.operator === '>' || high.operator === '<';
    }),
  );
}

/** The numbers to compare one after another; undefined when the value is none of this numbering. */
function key(value: string, numbering: Numbering): readonly number[] | undefined {
  if (numbering === 'integer') return /^[0-9]{1,15}$/.test(value) ? [Number(value)] : undefined;
  if (numbering === 'dotted')
    return /^[0-9]{1,15}(\.[0-9]{1,15}){0,7}$/.test(value) ? value.split('.').map(Number) : undefined;
  const date = /^([0-9]{4})-([0-9]{2})-([0-9]{2})$/.exec(value);
  if (numbering !== 'date' || !date) return undefined;
  const [year, month, day] = [Number(date[1]), Number(date[2]), Number(date[3])];
  if (month < 1 || month > 12 || day < 1 || day > daysOf(year, month)) return undefined;
  return [year, month, day];
}

function daysOf(year: number, month: number): number {
  if (month === 2) return year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : 28;
  return [4, 6, 9, 11].includes(month) ? 30 : 31;
}
