/** Where a batch writes down what became of its rays. */
import type { TallyLayout } from './tally.js';

/** The tally being filled, with its layout and what the deposits need at hand. */
export interface Books {
  readonly tally: Float64Array;
  readonly layout: TallyLayout;
  /** The ray in flight has passed its home receiver. */
  passed: boolean;
  /** Of that passing: watts, square of the aperture's scale, square of the distance from the spot centre over its reach. */
  readonly passing: Float64Array;
}

export const PASSING_POWER = 0;
export const PASSING_SCALE = 1;
export const PASSING_DISTANCE = 2;

export function openBooks(tally: Float64Array, layout: TallyLayout): Books {
  return { tally, layout, passed: false, passing: new Float64Array(3) };
}
