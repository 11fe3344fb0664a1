/** A minimum without derivatives: the simplex of Nelder & Mead, Comput. J. 7 (1965) 308, from memory. */

export interface Descent {
  readonly parameters: readonly number[];
  readonly value: number;
  readonly evaluations: number;
}

interface Corner {
  readonly at: readonly number[];
  readonly value: number;
}

/**
 * A local minimum near `start`, for values too rough to differentiate. Never worse than the start.
 * @param size first step of each parameter
 * @param tolerance ends where the corners lie within this part of `size` of each other
 * @param most evaluations
 * @throws RangeError where a size is not above 0 or their number is not that of the parameters
 */
export function simplexDescent(
  value: (parameters: readonly number[]) => number,
  start: readonly number[],
  size: readonly number[],
  tolerance: number,
  most: number,
): Descent {
  if (size.length !== start.length || size.some((one) => !(one > 0))) {
    throw new RangeError('a descent needs a first step above 0 for each parameter');
  }
  let evaluations = 0;
  const corner = (at: readonly number[]): Corner => {
    evaluations++;
    const found = value(at);
    // What cannot be worked out is no minimum.
    return { at, value: Number.isNaN(found) ? Number.POSITIVE_INFINITY : found };
  };
  const corners = [
    corner(start),
    ...start.map((_, i) => corner(start.map((x, j) => (i === j ? x + size[i] : x)))),
  ];
  const order = () => corners.sort((a, b) => a.value - b.value);
  const last = corners.length - 1;
  order();
  while (evaluations < most) {
    const wide = start.some((_, i) =>
      corners.some(({ at }) => Math.abs(at[i] - corners[0].at[i]) > tolerance * size[i]),
    );
    if (!wide) break;
    const worst = corners[last];
    const centre = start.map((_, i) => corners.slice(0, last).reduce((sum, { at }) => sum + at[i], 0) / last);
    const along = (factor: number) => corner(centre.map((x, i) => x + factor * (worst.at[i] - x)));
    const mirrored = along(-1);
    if (mirrored.value < corners[0].value) {
      const further = along(-2);
      corners[last] = further.value < mirrored.value ? further : mirrored;
    } else if (mirrored.value < corners[last - 1].value) {
      corners[last] = mirrored;
    } else {
      const nearer = along(mirrored.value < worst.value ? -0.5 : 0.5);
      if (nearer.value < Math.min(mirrored.value, worst.value)) corners[last] = nearer;
      else {
        for (let i = 1; i <= last; i++) {
          corners[i] = corner(corners[i].at.map((x, j) => (x + corners[0].at[j]) / 2));
        }
      }
    }
    order();
  }
  return { parameters: corners[0].at, value: corners[0].value, evaluations };
}
