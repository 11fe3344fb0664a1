/**
 * Chi-square test of counts against expected counts, with cells of too small expectation pooled, and the correction for a
 * family of tests.
 */

/** Smallest expected count of a cell; smaller ones are pooled (common practice). */
const SMALLEST_EXPECTED = 5;

export interface ChiSquare {
  readonly statistic: number;
  readonly degrees: number;
  /** Probability of a statistic as large as this or larger if the counts follow the expectation. */
  readonly pValue: number;
}

/**
 * Tests counts against expected counts of the same total. Cells with an expectation below 5 are pooled into one, which is
 * joined to the smallest ordinary cell when it stays below 5 itself. A count where nothing is expected gives p = 0.
 */
export function chiSquare(observed: ArrayLike<number>, expected: ArrayLike<number>): ChiSquare {
  if (observed.length !== expected.length) throw new RangeError('as many counts as expectations are needed');
  const cells: { observed: number; expected: number }[] = [];
  const pool = { observed: 0, expected: 0 };
  for (let index = 0; index < observed.length; index++) {
    if (expected[index] <= 0 && observed[index] > 0) {
      return { statistic: Number.POSITIVE_INFINITY, degrees: 1, pValue: 0 };
    }
    if (expected[index] >= SMALLEST_EXPECTED) {
      cells.push({ observed: observed[index], expected: expected[index] });
    } else {
      pool.observed += observed[index];
      pool.expected += expected[index];
    }
  }
  if (pool.expected >= SMALLEST_EXPECTED) {
    cells.push(pool);
  } else if (pool.expected > 0) {
    if (cells.length === 0) throw new RangeError('fewer than two cells are left');
    const smallest = cells.reduce((least, cell) => (cell.expected < least.expected ? cell : least));
    smallest.observed += pool.observed;
    smallest.expected += pool.expected;
  }
  if (cells.length < 2) throw new RangeError('fewer than two cells are left');
  const statistic = cells.reduce(
    (sum, cell) => sum + (cell.observed - cell.expected) ** 2 / cell.expected,
    0,
  );
  const degrees = cells.length - 1;
  return { statistic, degrees, pValue: upperGamma(degrees / 2, statistic / 2) };
}

/** Level of each of `tests` independent tests so that the family as a whole keeps `level` (Sidak 1967). */
export function sidakLevel(level: number, tests: number): number {
  return 1 - (1 - level) ** (1 / tests);
}

/**
 * Regularised upper incomplete gamma function Q(a, x): series below a + 1, continued fraction (modified Lentz) above.
 * Abramowitz & Stegun 6.5.29 and 6.5.31.
 */
export function upperGamma(a: number, x: number): number {
  if (x <= 0) return 1;
  const front = Math.exp(a * Math.log(x) - x - logGamma(a));
  if (x < a + 1) {
    let term = 1 / a;
    let sum = term;
    for (let n = 1; n < 10_000 && term > sum * 1e-16; n++) {
      term *= x / (a + n);
      sum += term;
    }
    return 1 - front * sum;
  }
  let b = x + 1 - a;
  let c = 1e300;
  let d = 1 / b;
  let fraction = d;
  for (let n = 1; n < 10_000; n++) {
    const numerator = -n * (n - a);
    b += 2;
    d = 1 / (numerator * d + b);
    c = b + numerator / c;
    const factor = c * d;
    fraction *= factor;
    if (Math.abs(factor - 1) < 1e-15) break;
  }
  return front * fraction;
}

/** ln Gamma(x) for x > 0: Stirling's series (Abramowitz & Stegun 6.1.41) after shifting x above 10. */
export function logGamma(x: number): number {
  let shift = 0;
  let z = x;
  while (z < 10) {
    shift -= Math.log(z);
    z += 1;
  }
  const r = 1 / (z * z);
  const series = (1 / 12 - r * (1 / 360 - r * (1 / 1260 - r * (1 / 1680 - r / 1188)))) / z;
  return shift + (z - 0.5) * Math.log(z) - z + 0.5 * Math.log(2 * Math.PI) + series;
}

/** Uniform 32-bit integers for tests from a fixed seed: xorshift128 (Marsaglia, J. Stat. Soft. 8 (2003) issue 14). */
export function testBits(seed: number): () => number {
  let x = (Math.imul(seed, 0x9e3779b1) ^ 0x075bcd15) | 0;
  let y = 0x159a55e5;
  let z = 0x1f123bb5;
  let w = 0x05491333;
  const next = (): number => {
    const t = x ^ (x << 11);
    x = y;
    y = z;
    z = w;
    w = w ^ (w >>> 19) ^ t ^ (t >>> 8);
    return w;
  };
  for (let warm = 0; warm < 64; warm++) next();
  return next;
}
