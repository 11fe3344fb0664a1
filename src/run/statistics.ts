/** Statistics of batch values. Pure; every error quoted by the program goes through here. */

/** A value with its standard error, named as in the results. */
export interface Estimate {
  readonly value: number;
  readonly std_err: number;
}

/** Two-sided 95 % point of the normal distribution. */
export const NORMAL_975 = 1.959963984540054;

/**
 * @param values one per slot
 * @returns NaN for an empty list
 */
export function mean(values: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i];
  return sum / values.length;
}

/**
 * Standard error of the mean of independent values: sqrt(sum (x - mean)^2 / (n (n - 1))).
 * @param values one per slot
 * @returns Infinity for fewer than two values: one value says nothing about its own error
 */
export function standardError(values: ArrayLike<number>): number {
  const count = values.length;
  if (count < 2) return Number.POSITIVE_INFINITY;
  const centre = mean(values);
  let squares = 0;
  for (let i = 0; i < count; i++) squares += (values[i] - centre) ** 2;
  return Math.sqrt(squares / (count * (count - 1)));
}

/** Mean of independent values with its standard error (Infinity for fewer than two values). */
export function meanEstimate(values: ArrayLike<number>): Estimate {
  return { value: mean(values), std_err: standardError(values) };
}

/**
 * Ratio of two sums with the standard error of the linearised ratio (Cochran, Sampling Techniques, 3rd ed., eq. 6.4):
 * the residuals a_i - r b_i have mean 0, so s.e. = sqrt(sum (a_i - r b_i)^2 / (n (n - 1))) / mean(b).
 * @param numerators one per slot
 * @param denominators one per slot, as many as numerators
 * @returns 0 with error 0 where the denominators sum to 0; the error is Infinity for fewer than two slots
 */
export function ratioEstimate(numerators: ArrayLike<number>, denominators: ArrayLike<number>): Estimate {
  const count = numerators.length;
  const below = mean(denominators);
  if (count > 0 && below === 0) return { value: 0, std_err: 0 };
  const value = mean(numerators) / below;
  if (count < 2) return { value, std_err: Number.POSITIVE_INFINITY };
  let squares = 0;
  for (let i = 0; i < count; i++) squares += (numerators[i] - value * denominators[i]) ** 2;
  return { value, std_err: Math.sqrt(squares / (count * (count - 1))) / Math.abs(below) };
}

/**
 * Standard error and bias by leaving out one slot at a time (Efron & Tibshirani, An Introduction to the Bootstrap,
 * eq. 11.4 and 11.5): s.e.^2 = (n - 1)/n sum (x_j - mean)^2, bias = (n - 1)(mean - full).
 * @param leaveOneOut entry j is the figure with slot j left out
 * @param full the figure of all slots; subtract `bias` from it to correct it
 * @returns an infinite error and no bias for fewer than two entries
 */
export function jackknife(leaveOneOut: ArrayLike<number>, full: number): { std_err: number; bias: number } {
  const count = leaveOneOut.length;
  if (count < 2) return { std_err: Number.POSITIVE_INFINITY, bias: 0 };
  const centre = mean(leaveOneOut);
  let squares = 0;
  for (let i = 0; i < count; i++) squares += (leaveOneOut[i] - centre) ** 2;
  return { std_err: Math.sqrt((squares * (count - 1)) / count), bias: (count - 1) * (centre - full) };
}

/**
 * The 97.5 % quantile of Student's t: half width of a two-sided 95 % interval in standard errors.
 *
 * With t = sqrt(dof) tan(angle) the density is cos(angle)^(dof - 1) / (2 C), C = integral of cos^(dof - 1) from 0 to pi/2.
 * Integrating by parts again and again gives both tails as sin(angle) sum_j cos(angle)^(dof + 2j) / ((dof + 2j) C_j) with
 * C_(j+1) = C_j (dof + 2j) / (dof + 2j + 1). The tail is convex in t, so Newton's steps from the normal quantile, which lies
 * below, close in from one side. From 1000 degrees on: the expansion of Abramowitz & Stegun 26.7.5.
 * @param dof degrees of freedom, 1 or more, whole or not
 * @throws RangeError for fewer than 1 (a single slot has no error)
 */
export function studentT975(dof: number): number {
  if (!(dof >= 1)) throw new RangeError(`Student's t needs at least 1 degree of freedom, got ${dof}`);
  const z = NORMAL_975;
  if (dof >= 1000) {
    const first = (z ** 3 + z) / 4;
    const second = (5 * z ** 5 + 16 * z ** 3 + 3 * z) / 96;
    const third = (3 * z ** 7 + 19 * z ** 5 + 17 * z ** 3 - 15 * z) / 384;
    return z + first / dof + second / dof ** 2 + third / dof ** 3;
  }
  const norm = cosinePowerIntegral(dof);
  let t = z;
  for (let step = 0; step < 60; step++) {
    const cosSquared = dof / (dof + t * t);
    let term = Math.sqrt(1 - cosSquared) * (cosSquared ** (dof / 2) / (dof * norm));
    let tails = 0;
    for (let power = dof; term > 1e-18 * tails; power += 2) {
      tails += term;
      term *= (cosSquared * (power + 1)) / (power + 2);
    }
    const density = cosSquared ** ((dof + 1) / 2) / (norm * Math.sqrt(dof));
    const move = (tails - 0.05) / density;
    t += move;
    if (Math.abs(move) < 1e-13 * t) break;
  }
  return t;
}

/** Integral of cos^(dof - 1) from 0 to pi/2 = sqrt(pi)/2 Gamma(x)/Gamma(x + 1/2), x = dof/2 (ratio by A&S 6.1.47, x raised first). */
function cosinePowerIntegral(dof: number): number {
  let x = dof / 2;
  let raised = 1;
  for (; x < 200; x++) raised *= (x + 0.5) / x;
  const series = 1 + 1 / (8 * x) + 1 / (128 * x ** 2) - 5 / (1024 * x ** 3) - 21 / (32768 * x ** 4);
  return ((Math.sqrt(Math.PI) / 2) * raised * series) / Math.sqrt(x);
}

/**
 * 95 % interval of a mean, ratio or jackknifed figure.
 * @param slots slots that made the estimate; the interval is infinite for fewer than two
 */
export function interval95(estimate: Estimate, slots: number): readonly [number, number] {
  if (slots < 2) return [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];
  const half = studentT975(slots - 1) * estimate.std_err;
  return [estimate.value - half, estimate.value + half];
}

/**
 * 95 % interval of a proportion after Wilson (1927, J. Am. Stat. Assoc. 22, 209-212): holds for few hits, and 0 hits give an
 * upper limit instead of an error of 0.
 * @param hits from 0 to trials
 * @param trials more than 0
 * @throws RangeError for hits outside 0..trials or no trials
 */
export function wilsonInterval(hits: number, trials: number): readonly [number, number] {
  if (!(trials > 0) || !(hits >= 0 && hits <= trials)) {
    throw new RangeError(`a proportion needs 0 <= hits <= trials and trials > 0, got ${hits} of ${trials}`);
  }
  const z2 = NORMAL_975 * NORMAL_975;
  const share = hits / trials;
  const centre = (share + z2 / (2 * trials)) / (1 + z2 / trials);
  const half =
    (NORMAL_975 / (1 + z2 / trials)) * Math.sqrt((share * (1 - share)) / trials + z2 / (4 * trials * trials));
  return [hits === 0 ? 0 : centre - half, hits === trials ? 1 : centre + half];
}
