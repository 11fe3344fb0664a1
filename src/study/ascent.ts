/** Climbing a smooth function of a few variables whose slope is known. */

/** Value and slope of the function climbed, at some place. */
export interface Climbed {
  readonly value: number;
  /** One per variable. */
  readonly slope: readonly number[];
}

export interface AscentOptions {
  /** Per variable: so far off, about, the function bends by as much as it is high. */
  readonly scales: readonly number[];
  /** Steps are never longer, and the climb ends with one shorter than `finest`; in the variables' own unit. */
  readonly longest: number;
  readonly finest: number;
}

export interface Summit {
  readonly place: readonly number[];
  readonly value: number;
  /** How often the function was looked at. */
  readonly looks: number;
}

const MOST_STEPS = 24;
/** A step must bring this part of what the slope promises, or it is taken shorter. */
const LEAST_OF_PROMISE = 1e-4;
const MOST_SHORTENINGS = 6;

function product(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, i) => sum + value * b[i], 0);
}

/**
 * Climbs from the origin to a top: quasi-Newton steps by the formula of Broyden, Fletcher, Goldfarb and Shanno (Nocedal & Wright,
 * Numerical Optimization, 2nd ed. 2006, eq. 6.17), shortened until they climb.
 * @param lookAt value and slope; climbs start only where the value is above nothing
 */
export function ascend(
  lookAt: (place: readonly number[]) => Climbed,
  { scales, longest, finest }: AscentOptions,
): Summit {
  let place: readonly number[] = scales.map(() => 0);
  let here = lookAt(place);
  let looks = 1;
  // The inverse of the bend, a first guess.
  const reach = (height: number): number[][] =>
    scales.map((own, i) => scales.map((_, j) => (i === j ? own ** 2 / height : 0)));
  if (!(here.value > 0)) return { place, value: here.value, looks };
  let inverse = reach(here.value);
  for (let step = 0; step < MOST_STEPS; step++) {
    let way = inverse.map((row) => product(row, here.slope));
    let promise = product(way, here.slope);
    if (!(promise > 0)) {
      inverse = reach(here.value);
      way = inverse.map((row) => product(row, here.slope));
      promise = product(way, here.slope);
    }
    const length = Math.hypot(...way);
    if (!(length > finest)) break;
    let part = Math.min(1, longest / length);
    let next: Climbed | null = null;
    let at = place;
    for (let k = 0; k <= MOST_SHORTENINGS; k++) {
      at = place.map((value, i) => value + part * way[i]);
      const there = lookAt(at);
      looks++;
      if (there.value >= here.value + LEAST_OF_PROMISE * part * promise) {
        next = there;
        break;
      }
      // Top of the parabola through both values and the slope.
      const fall = here.value + part * promise - there.value;
      const top = there.value > 0 && fall > 0 ? (part * part * promise) / (2 * fall) : 0;
      part = Math.min(0.5 * part, Math.max(0.1 * part, top));
      if (part * length < finest) break;
    }
    if (next === null) break;
    const moved = at.map((value, i) => value - place[i]);
    const { slope } = next;
    const bent = here.slope.map((value, i) => value - slope[i]);
    place = at;
    here = next;
    inverse = updated(inverse, moved, bent);
  }
  return { place, value: here.value, looks };
}

/** The inverse of the bend after a step and the change of the slope over it; as before where the function bends upwards. */
function updated(inverse: number[][], moved: readonly number[], bent: readonly number[]): number[][] {
  const along = product(moved, bent);
  if (!(along > 1e-3 * Math.hypot(...moved) * Math.hypot(...bent))) return inverse;
  const turned = inverse.map((row) => product(row, bent));
  const both = 1 + product(bent, turned) / along;
  return inverse.map((row, i) =>
    row.map(
      (value, j) =>
        value + (both * moved[i] * moved[j] - turned[i] * moved[j] - moved[i] * turned[j]) / along,
    ),
  );
}
