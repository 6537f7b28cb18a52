/** What is wrong with a rule file, with the place in the file. */

/** One thing that is wrong. */
export interface RuleProblem {
  readonly file: string;
  /** From 1. */
  readonly line: number;
  /** From 1, in UTF-16 units. */
  readonly column: number;
  readonly message: string;
  /** What was expected there. */
  readonly expected: string;
}

/** All that is wrong with the rule files that were loaded; its own place is that of the first problem. */
export class RuleError extends Error implements RuleProblem {
  readonly file: string;
  readonly line: number;
  readonly column: number;
  readonly expected: string;

  constructor(readonly problems: readonly RuleProblem[]) {
    super(problems.map(problemText).join('\n'));
    this.name = 'RuleError';
    const [first] = problems;
    this.file = first?.file ?? '';
    this.line = first?.line ?? 1;
    this.column = first?.column ?? 1;
    this.expected = first?.expected ?? '';
  }
}

/** One problem on one line: `file:line:column: what is wrong; expected …`. */
export function problemText(problem: RuleProblem): string {
  return `${problem.file}:${problem.line}:${problem.column}: ${problem.message}; expected ${problem.expected}`;
}
