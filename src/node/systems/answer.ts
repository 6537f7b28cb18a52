/** A group of values that a program printed. Only its own keys count, and only values of the kind that is asked for. */
export class Answer {
  constructor(private readonly values: unknown) {}

  /** A text that is not empty. */
  text(key: string): string | undefined {
    const value = this.value(key);
    return typeof value === 'string' && value !== '' ? value : undefined;
  }

  /** A whole number from 0 that is exact in JavaScript. */
  number(key: string): number | undefined {
    const value = this.value(key);
    return typeof value === 'number' && Number.isSafeInteger(value) && value >= 0 ? value : undefined;
  }

  flag(key: string): boolean | undefined {
    const value = this.value(key);
    return typeof value === 'boolean' ? value : undefined;
  }

  /** True when the key is there, whatever its value. */
  has(key: string): boolean {
    return this.value(key) !== undefined && this.value(key) !== null;
  }

  /** A group inside this one; empty when there is none. */
  group(key: string): Answer {
    return new Answer(this.value(key));
  }

  /** Groups of a list. PowerShell prints a list of one as its item, and some lists inside a group of their own. */
  groups(key: string): Answer[] {
    const inner = this.group(key);
    const value = inner.has('Count') && inner.has('value') ? inner.value('value') : this.value(key);
    if (Array.isArray(value)) return value.map((each) => new Answer(each));
    return typeof value === 'object' && value !== null ? [new Answer(value)] : [];
  }

  private value(key: string): unknown {
    const { values } = this;
    return typeof values === 'object' && values !== null && Object.hasOwn(values, key)
      ? (values as Record<string, unknown>)[key]
      : undefined;
  }
}
