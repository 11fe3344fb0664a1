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
  /**
   * True while the map of the home receiver gets its light another way (footprints): a ray that crosses the home window on
   * its first leg leaves its watts in the moments only, and the cell's place in the tally here.
   */
  withhold = false;
  /** Place in the tally of the cell that was withheld; -1 for none. */
  held = -1;
  /** What one ray counts for: 1, or a part where several rays make one trial. */
  rayCount = 1;

  constructor(tally: Float64Array, layout: TallyLayout) {
    this.tally = tally;
    this.layout = layout;
  }
}
