/**
 * Inverse-CDF tables indexed by the tail probability with a fixed number of cells per octave: every halving of
 * the tail gets as many cells as the halving before it, so linear interpolation holds the same relative accuracy
 * at 5 sigma as near the centre, and a look-up needs no logarithm, only a count of leading zeros.
 *
 * Input is a 31-bit integer v (0 .. 2^31 - 1), the middle of its step: q = (v + 0.5) / 2^31, never 0 and never 1.
 * With lz = clz32(v) (1 .. 31, or 32 for v = 0) the leading one and the OCTAVE_BITS bits after it name the cell, the
 * bits below them are the fraction. Octaves with fewer values of v than cells have fraction 0: there the table holds
 * the exact value of each single v, v = 0 (q = 2^-32) included.
 */

/** Base-2 logarithm of the number of cells in each octave of the tail probability. */
export const OCTAVE_BITS = 7;

const CELLS_PER_OCTAVE = 1 << OCTAVE_BITS;
const STEP = 2 ** -31;

/** Numbers in a table: (value, delta) for each cell; octave 0 is never asked for and only keeps the index simple. */
export const OCTAVE_TABLE_LENGTH = 2 * 33 * CELLS_PER_OCTAVE;

/**
 * Builds the table of x(q) from the inverse of the tail probability.
 *
 * @param inverseTail x such that P(X > x) = q, for q from 2^-32 to 1; must be finite there
 * @returns OCTAVE_TABLE_LENGTH numbers, pairs (value at the cell's start, change over the cell)
 * @throws RangeError when inverseTail gives a value that is not finite
 */
export function buildOctaveTable(inverseTail: (q: number) => number): Float64Array {
  const table = new Float64Array(OCTAVE_TABLE_LENGTH);
  const evaluate = (v: number): number => {
    const value = inverseTail(Math.min(1, (v + 0.5) * STEP));
    if (!Number.isFinite(value)) {
      throw new RangeError(`inverse tail is not finite at q = ${(v + 0.5) * STEP}`);
    }
    return value;
  };
  for (let leadingZeros = 1; leadingZeros <= 31; leadingZeros++) {
    const octaveStart = 2 ** (31 - leadingZeros);
    // An octave with fewer values of v than cells uses only every so-and-so-many-th cell.
    const used = Math.min(CELLS_PER_OCTAVE, octaveStart);
    const stride = CELLS_PER_OCTAVE / used;
    const width = octaveStart / used;
    let start = evaluate(octaveStart);
    for (let cell = 0; cell < used; cell++) {
      const end = evaluate(octaveStart + (cell + 1) * width);
      const index = 2 * ((leadingZeros << OCTAVE_BITS) | (cell * stride));
      table[index] = start;
      table[index + 1] = end - start;
      start = end;
    }
  }
  table[2 * (32 << OCTAVE_BITS)] = evaluate(0);
  return table;
}

/** The first edge between two cells of the table at or above the tail probability q, 0 < q <= 1. */
export function octaveCellEnd(q: number): number {
  const width = 2 ** Math.floor(Math.log2(q)) / CELLS_PER_OCTAVE;
  return Math.ceil(q / width) * width;
}

/**
 * Value of the table at the 31-bit integer v. The trace loop writes these lines out by hand.
 *
 * @param table from buildOctaveTable
 * @param v 0 .. 2^31 - 1; tail probability (v + 0.5) / 2^31
 */
export function octaveLookup(table: Float64Array, v: number): number {
  const leadingZeros = Math.clz32(v);
  // Drops the leading one. For v = 0 both shifts leave 0 (a shift by 32 is a shift by 0).
  const mantissa = (v << leadingZeros) << 1;
  const index = ((leadingZeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
  return table[index] + table[index + 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
}
