/**
 * The known word that a mistyped one was probably meant to be, or undefined when none is close: at most one wrong,
 * missing, extra or swapped letter, two in words of six letters or more; upper and lower case do not count.
 */
export function nearest(word: string, known: readonly string[]): string | undefined {
  if (word.length > 100) return undefined;
  let best: string | undefined;
  let least = word.length >= 6 ? 2.5 : 1.5;
  for (const candidate of known) {
    const steps = distance(word.toLowerCase(), candidate.toLowerCase());
    if (steps < least) {
      best = candidate;
      least = steps;
    }
  }
  return best;
}

/** Optimal string alignment distance: insertions, deletions, replacements and swaps of neighbours. */
function distance(a: string, b: string): number {
  let beforeLast: number[] = [];
  let last = Array.from({ length: b.length + 1 }, (_, column) => column);
  for (let row = 1; row <= a.length; row++) {
    const current = [row];
    for (let column = 1; column <= b.length; column++) {
      const same = a[row - 1] === b[column - 1] ? 0 : 1;
      let steps = Math.min(last[column]! + 1, current[column - 1]! + 1, last[column - 1]! + same);
      if (row > 1 && column > 1 && a[row - 1] === b[column - 2] && a[row - 2] === b[column - 1])
        steps = Math.min(steps, beforeLast[column - 2]! + 1);
      current.push(steps);
    }
    beforeLast = last;
    last = current;
  }
  return last[b.length]!;
}
