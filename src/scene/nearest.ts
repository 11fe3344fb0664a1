/** The nearest known word to a mistyped one. */

/**
 * Edit distance that counts a swap of two neighbours as one step (optimal string alignment).
 * @param most gives up above this distance and returns `most + 1`
 */
export function editDistance(from: string, to: string, most: number): number {
  if (Math.abs(from.length - to.length) > most) return most + 1;
  let beforeLast: number[] = [];
  let last = Array.from({ length: to.length + 1 }, (_, column) => column);
  for (let row = 1; row <= from.length; row++) {
    const current = [row];
    let smallest = row;
    for (let column = 1; column <= to.length; column++) {
      const same = from[row - 1] === to[column - 1];
      let distance = Math.min(last[column] + 1, current[column - 1] + 1, last[column - 1] + (same ? 0 : 1));
      const swapped =
        row > 1 && column > 1 && from[row - 1] === to[column - 2] && from[row - 2] === to[column - 1];
      if (swapped) distance = Math.min(distance, beforeLast[column - 2] + 1);
      current.push(distance);
      smallest = Math.min(smallest, distance);
    }
    if (smallest > most) return most + 1;
    beforeLast = last;
    last = current;
  }
  return last[to.length];
}

/** @returns the known word nearest to `word`, or undefined when none is near enough to be what was meant */
export function nearest(word: string, known: Iterable<string>): string | undefined {
  const wanted = word.toLowerCase().slice(0, 100);
  let best: string | undefined;
  let bestDistance = Math.max(2, Math.floor(wanted.length / 3)) + 1;
  for (const candidate of known) {
    const distance = editDistance(wanted, candidate.toLowerCase(), bestDistance - 1);
    if (distance < bestDistance) {
      best = candidate;
      bestDistance = distance;
    }
  }
  return best;
}
