import { Absent, type Fact, type FactValue, type Origin, Unseen, type Where } from './fact.js';
import { factSchema } from './schema.js';

const notCollected = new Unseen('not-visible', 'this was not looked at');

/** All facts of one run, by dotted path. A path that nobody set is unseen. */
export class FactStore {
  private readonly facts = new Map<string, Fact>();
  private readonly groups: { prefix: string; fact: Fact }[] = [];

  /** Sets one fact. A path outside the schema is our own bug and throws. */
  set(path: string, value: FactValue | undefined, how: { origin?: Origin; where?: Where } = {}): void {
    if (!(path in factSchema)) throw new Error(`no such fact in the schema: ${path}`);
    if (value === undefined) throw new Error(`fact ${path} was set to undefined`);
    this.facts.set(path, { value, origin: how.origin ?? 'read', ...(how.where ? { where: how.where } : {}) });
  }

  /** Sets every fact at or below `prefix` that nobody sets by itself: `setGroup('volume', new Unseen(…))`. */
  setGroup(prefix: string, value: Unseen | Absent): void {
    this.groups.push({ prefix, fact: { value, origin: 'read' } });
  }

  /** The fact at a path of the schema; a throw for any other path. */
  get(path: string): Fact {
    if (!(path in factSchema)) throw new Error(`no such fact in the schema: ${path}`);
    const own = this.facts.get(path);
    if (own) return own;
    // The closest group wins; of two with one prefix the later one, since later stages know more.
    let best: { prefix: string; fact: Fact } | undefined;
    for (const group of this.groups)
      if (
        (path === group.prefix || path.startsWith(`${group.prefix}.`)) &&
        group.prefix.length >= (best?.prefix.length ?? 0)
      )
        best = group;
    return best?.fact ?? { value: notCollected, origin: 'derived' };
  }

  /** The value at a path: a scalar, list or record, or the marker that says why there is none. */
  value(path: string): FactValue {
    return this.get(path).value;
  }

  /** The value when it is known and of the given JavaScript type; else undefined. For decoders' glue only, never for a judgement. */
  number(path: string): number | undefined {
    const value = this.value(path);
    return typeof value === 'number' ? value : undefined;
  }
  text(path: string): string | undefined {
    const value = this.value(path);
    return typeof value === 'string' ? value : undefined;
  }

  /** All paths of the schema in its order, each with its fact. */
  *all(): Iterable<[string, Fact]> {
    for (const path of Object.keys(factSchema)) yield [path, this.get(path)];
  }
}

export { Absent, Unseen };
