/**
 * Cosine and sine of a full turn by linear interpolation: a uniform 32-bit integer is the angle in steps of
 * 2 pi / 2^32. The top TURN_BITS bits name the cell, the rest is the fraction.
 *
 * The interpolated point moves on the chords of a regular polygon. The polygon is drawn a little outside the unit circle,
 * so that the mean square radius is exactly 1: with 256 cells the radius is 5.0e-5 too long at the corners and
 * 2.5e-5 too short at the middle of a chord, and the angle is off by at most 2.4e-7 rad.
 */

/** Base-2 logarithm of the number of cells. */
export const TURN_BITS = 8;

/** Cells in a turn. */
export const TURN_CELLS = 1 << TURN_BITS;

/** Table of TURN_CELLS quadruples (cos, change of cos over the cell, sin, change of sin over the cell). */
export function buildTurnTable(): Float64Array {
  const table = new Float64Array(4 * TURN_CELLS);
  const cell = (2 * Math.PI) / TURN_CELLS;
  // Mean square radius along a chord of the unit circle: 1 - (2/3) sin^2(cell / 2).
  const radius = 1 / Math.sqrt(1 - (2 / 3) * Math.sin(cell / 2) ** 2);
  for (let index = 0; index < TURN_CELLS; index++) {
    const cosine = radius * Math.cos(index * cell);
    const sine = radius * Math.sin(index * cell);
    table[4 * index] = cosine;
    table[4 * index + 1] = radius * Math.cos((index + 1) * cell) - cosine;
    table[4 * index + 2] = sine;
    table[4 * index + 3] = radius * Math.sin((index + 1) * cell) - sine;
  }
  return table;
}

/**
 * Cosine and sine of the angle `bits` / 2^32 of a turn. The trace loop writes these lines out by hand.
 *
 * @param out receives (cos, sin); returned
 * @param table from buildTurnTable
 * @param bits 32-bit integer, signed or unsigned
 */
export function turnLookup(out: Float64Array, table: Float64Array, bits: number): Float64Array {
  const index = (bits >>> (32 - TURN_BITS)) << 2;
  const fraction = ((bits << TURN_BITS) >>> 0) * 2 ** -32;
  out[0] = table[index] + table[index + 1] * fraction;
  out[1] = table[index + 2] + table[index + 3] * fraction;
  return out;
}
