/** Where a batch writes down what became of its rays. */
import type { TallyLayout } from './tally.js';

export const PASSING_POWER = 0;
export const PASSING_SCALE = 1;
export const PASSING_DISTANCE = 2;

/** The tally being filled, with its layout and what the deposits need at hand. */
export class Books {
  declare readonly tally: Float64Array;
  declare readonly layout: TallyLayout;
  /** The ray in flight has passed its home receiver. */
  passed = false;
  /** Of that passing: watts, square of the aperture's scale, square of the distance from the spot centre over its reach. */
  readonly passing = new Float64Array(3);

  constructor(tally: Float64Array, layout: TallyLayout) {
    this.tally = tally;
    this.layout = layout;
  }
}
