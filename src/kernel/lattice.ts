/**
 * Embedded rank-1 lattice rule: point i of 2^k in dimension d is the 32-bit fraction i z_d / 2^k + shift_d, with one
 * vector z for every k. In the loop that is a running 32-bit counter with a constant step for each dimension.
 */

/** What each dimension is for. The map is fixed, and a ray always consumes all of it. */
export const POINT_ACROSS = 0;
export const POINT_ALONG = 1;
export const SUNSHAPE_RADIUS = 2;
export const SUNSHAPE_TURN = 3;
export const SLOPE_ALONG = 4;
export const SLOPE_ACROSS = 5;
export const SPECULARITY_FIRST = 6;
export const SPECULARITY_SECOND = 7;
export const LOBE_CHOICE = 8;
export const DIMENSIONS = 9;

/** Smallest and largest log2 of the number of points the vector is built for. */
export const SMALLEST_LOG2_RAYS = 4;
export const LARGEST_LOG2_RAYS = 22;

/**
 * Importance of each dimension in the error criterion the vector was built for. Small enough that projections on few
 * dimensions lead: with weights near 1 the criterion is ruled by all nine at once, where no rule of useful size beats
 * chance; the spill of a trial strip then had 1.8 times the error at 2^14 rays.
 */
export const WEIGHTS: readonly number[] = [0.3, 0.28, 0.26, 0.24, 0.22, 0.2, 0.1, 0.08, 0.02];

/** Odd integers below 2^22, as printed by bench/build-lattice.ts. */
export const GENERATING_VECTOR: readonly number[] = [
  1, 444567, 1220955, 236173, 153977, 709835, 675707, 1360649, 1919941,
];

/**
 * Step of the running counter from point to point, a signed 32-bit integer: point i is (i * step + shift) | 0.
 *
 * @param dimension 0 .. DIMENSIONS - 1
 * @param log2Rays k of the 2^k points, 0 .. 22
 */
export function latticeStep(dimension: number, log2Rays: number): number {
  // A shift by 32 would be a shift by 0; one point never steps.
  return log2Rays === 0 ? 0 : GENERATING_VECTOR[dimension] << (32 - log2Rays);
}

/**
 * One point of the rule as signed 32-bit integers: the value in dimension d is out[d] mod 2^32, over 2^32.
 *
 * @param out receives DIMENSIONS values; returned
 * @param index 0 .. 2^log2Rays - 1
 * @param shift DIMENSIONS 32-bit integers
 */
export function latticePoint(
  out: Int32Array,
  index: number,
  log2Rays: number,
  shift: ArrayLike<number>,
): Int32Array {
  for (let dimension = 0; dimension < DIMENSIONS; dimension++) {
    out[dimension] = (Math.imul(index, latticeStep(dimension, log2Rays)) + shift[dimension]) | 0;
  }
  return out;
}

/** The 32 bits of `value` from the last to the first. */
function reversedBits(value: number): number {
  let bits = ((value >>> 1) & 0x55555555) | ((value & 0x55555555) << 1);
  bits = ((bits >>> 2) & 0x33333333) | ((bits & 0x33333333) << 2);
  bits = ((bits >>> 4) & 0x0f0f0f0f) | ((bits & 0x0f0f0f0f) << 4);
  bits = ((bits >>> 8) & 0x00ff00ff) | ((bits & 0x00ff00ff) << 8);
  return (bits >>> 16) | (bits << 16);
}

/**
 * How far a facet's lattice is moved from that of facet 0, so that the lattices of a batch lie between one another: those of
 * 2^m facets with 2^k points each, the first 2^m or any 2^m that start at a multiple of it, are together one lattice of 2^(k + m)
 * points. The facets take their places in the order of van der Corput's sequence, so any run of neighbours, such as the
 * strips of a dish, is spread evenly.
 *
 * @param facet from 0; with 2^(32 - k) facets all places are taken
 * @param log2Rays k of the facet's own 2^k points, 0 .. 22
 * @returns a 32-bit integer, to be added to the shift
 */
export function latticeOffset(dimension: number, facet: number, log2Rays: number): number {
  return Math.imul(reversedBits(facet) >>> log2Rays, GENERATING_VECTOR[dimension]);
}
