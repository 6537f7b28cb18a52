import type { Finding } from './report.js';

/** Something that was not seen, and every rule that waits for it. */
export interface OpenCause {
  readonly text: string;
  /** How to get it seen. */
  readonly settle?: string;
  readonly rules: readonly string[];
}

/** What could not be judged, one entry a cause, in the order of the rules. */
export function openCauses(findings: readonly Finding[]): OpenCause[] {
  const causes = new Map<string, { text: string; settle?: string; rules: Set<string> }>();
  for (const { rule, title, missing = [] } of findings) {
    const reasons = missing.length > 0 ? missing : [{ text: title, settle: undefined }];
    for (const { text, settle } of reasons) {
      const key = JSON.stringify([text, settle]);
      const cause = causes.get(key) ?? { text, ...(settle ? { settle } : {}), rules: new Set() };
      cause.rules.add(rule);
      causes.set(key, cause);
    }
  }
  return [...causes.values()].map(({ rules, ...cause }) => ({ ...cause, rules: [...rules] }));
}
