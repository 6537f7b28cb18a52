import { usageProblem } from './exit.js';

/** What was given on the command line. Values are texts always, so that `1.10` stays what it is. */
export class Given {
  constructor(private readonly values: Readonly<Record<string, unknown>>) {}

  /** The value of an option that may be given once; undefined when it was not given. */
  text(name: string): string | undefined {
    const list = this.texts(name);
    if (list.length > 1) throw usageProblem(`--${name} may be given once only`);
    return list[0];
  }

  /** All values of an option or operand that may be repeated. */
  texts(name: string): string[] {
    const value = this.values[name];
    const list = value === undefined ? [] : Array.isArray(value) ? value.map(String) : [String(value)];
    if (list.includes('')) throw usageProblem(`--${name} needs a value`);
    return list;
  }

  /** An option without a value. */
  flag(name: string): boolean {
    const value = this.values[name];
    return Array.isArray(value) ? value.at(-1) === true : value === true;
  }
}
