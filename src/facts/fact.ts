/**
 * A fact is one measured thing about medium, file, image, board or machine. It is known, proved absent, or unseen
 * with a cause. Nothing in between: what was not looked at is unseen, so that a rule about it can never hold by
 * accident.
 */

/** Why something that may exist was not seen. */
export type UnseenCause =
  | 'not-visible' // this kind of target does not show it
  | 'no-permission'
  | 'damaged'
  | 'over-limit'
  | 'not-told' // only the owner knows
  | 'profile-silent'
  | 'not-built-yet';

/** May exist, was not seen. Stands in place of a value anywhere in a fact's value. */
export class Unseen {
  constructor(
    readonly cause: UnseenCause,
    /** Plain words for the owner: why it could not be seen. */
    readonly text: string,
    /** Plain words for the owner: what would settle it. */
    readonly settle?: string,
  ) {}
}

/** Proved not to exist. Stands in place of a value anywhere in a fact's value. */
export class Absent {
  constructor(
    /** Plain words: how that is known. */
    readonly text: string,
  ) {}
}

/** A list, and whether it is all there is. */
export class FactList {
  constructor(
    readonly items: readonly FactValue[],
    /** Set when the list may lack items: why. */
    readonly incomplete?: Unseen,
  ) {}

  /** At most this many items from the start. */
  first(most: number): readonly FactValue[] {
    return this.items.slice(0, most);
  }

  /**
   * A list whose items are made when they are asked for, the first ones alone where that is enough: a card can hold
   * thousands of files that no rule looks at one by one.
   */
  static later(make: (most: number) => readonly FactValue[], incomplete?: Unseen): FactList {
    const list = new FactList([], incomplete);
    let made: readonly FactValue[] | undefined;
    const all = (): readonly FactValue[] => {
      made ??= make(Number.POSITIVE_INFINITY);
      return made;
    };
    Object.defineProperty(list, 'items', { enumerable: true, get: all });
    list.first = (most) => made?.slice(0, most) ?? make(most);
    return list;
  }
}

/** An item of a list of objects. Fields left out are unseen. */
export interface FactRecord {
  readonly [field: string]: FactValue;
}

export type Scalar = boolean | number | string;
export type FactValue = Scalar | Unseen | Absent | FactList | FactRecord;

/** Where a value comes from. `stated`: the owner's word, printed as such. */
export type Origin = 'read' | 'derived' | 'stated' | 'profile';

/** Where on the medium or in which file something was read. */
export interface Where {
  readonly path?: string;
  /** Byte offset from the start of the medium, or of the file in `path`. */
  readonly offset?: number;
  readonly length?: number;
}

/** A fact at its path. */
export interface Fact {
  readonly value: FactValue;
  readonly origin: Origin;
  readonly where?: Where;
}

export const isRecord = (value: FactValue | undefined): value is FactRecord =>
  typeof value === 'object' &&
  !(value instanceof Unseen) &&
  !(value instanceof Absent) &&
  !(value instanceof FactList);
