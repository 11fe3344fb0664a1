import { buildOctaveTable, octaveLookup } from './octave.js';

/**
 * Normal deviates through an octave table of the half-normal distribution: the low 31 bits give |z| by its tail
 * probability, the top bit the sign.
 */

/** Horner form, coefficients from the constant term up. */
function polynomial(coefficients: readonly number[], x: number): number {
  let sum = 0;
  for (let index = coefficients.length - 1; index >= 0; index--) sum = sum * x + coefficients[index];
  return sum;
}

// Wichura, "Algorithm AS 241: the percentage points of the normal distribution", Applied Statistics 37 (1988) 477,
// routine PPND16, about 1 part in 1e16; the printed coefficients rounded to the nearest double.
const CENTRE_NUMERATOR = [
  3.3871328727963665, 133.14166789178438, 1971.5909503065513, 13731.69376550946, 45921.95393154987,
  67265.7709270087, 33430.57558358813, 2509.0809287301227,
];
const CENTRE_DENOMINATOR = [
  1, 42.31333070160091, 687.1870074920579, 5394.196021424751, 21213.794301586597, 39307.89580009271,
  28729.085735721943, 5226.495278852854,
];
const MIDDLE_NUMERATOR = [
  1.4234371107496835, 4.630337846156546, 5.769497221460691, 3.6478483247632045, 1.2704582524523684,
  0.2417807251774506, 0.022723844989269184, 0.0007745450142783414,
];
const MIDDLE_DENOMINATOR = [
  1, 2.053191626637759, 1.6763848301838038, 0.6897673349851, 0.14810397642748008, 0.015198666563616457,
  0.0005475938084995345, 1.0507500716444169e-9,
];
const FAR_NUMERATOR = [
  6.657904643501103, 5.463784911164114, 1.7848265399172913, 0.29656057182850487, 0.026532189526576124,
  0.0012426609473880784, 2.7115555687434876e-5, 2.0103343992922881e-7,
];
const FAR_DENOMINATOR = [
  1, 0.599832206555888, 0.1369298809227358, 0.014875361290850615, 0.0007868691311456133,
  1.8463183175100548e-5, 1.421511758316446e-7, 2.0442631033899397e-15,
];

/**
 * z with P(Z > z) = tail for the standard normal.
 *
 * @param tail probability above z, 0 < tail < 1
 * @throws RangeError outside that range
 */
export function normalTailPoint(tail: number): number {
  if (!(tail > 0 && tail < 1)) throw new RangeError(`tail probability must lie between 0 and 1, got ${tail}`);
  const fromMedian = 0.5 - tail;
  if (Math.abs(fromMedian) <= 0.425) {
    const r = 0.180625 - fromMedian * fromMedian;
    return (fromMedian * polynomial(CENTRE_NUMERATOR, r)) / polynomial(CENTRE_DENOMINATOR, r);
  }
  const r = Math.sqrt(-Math.log(Math.min(tail, 1 - tail)));
  const size =
    r <= 5
      ? polynomial(MIDDLE_NUMERATOR, r - 1.6) / polynomial(MIDDLE_DENOMINATOR, r - 1.6)
      : polynomial(FAR_NUMERATOR, r - 5) / polynomial(FAR_DENOMINATOR, r - 5);
  return fromMedian < 0 ? -size : size;
}

/** Octave table of |z| by P(|Z| > |z|) for the standard normal; OCTAVE_TABLE_LENGTH numbers. */
export function buildNormalTable(): Float64Array {
  return buildOctaveTable((q) => (q >= 1 ? 0 : normalTailPoint(q / 2)));
}

/**
 * Standard normal deviate from the 32-bit integer `bits` (signed or unsigned). Largest size about 6.3.
 *
 * @param table from buildNormalTable
 */
export function normalDeviate(table: Float64Array, bits: number): number {
  const size = octaveLookup(table, bits & 0x7fffffff);
  return (bits | 0) < 0 ? -size : size;
}
