/** Counts how often stated 95 % intervals hold the true value, as they are and with errors made too small. */
import type { Figure } from '../../src/result/types.js';

/** Seeds of each calibration. */
export const SEEDS = 300;

/**
 * Bounds on the number of intervals that hold the truth: a coverage of 93 to 97 % (the jackknife of 32 groups is itself
 * only good to some per cent), widened by two binomial standard deviations of 300 trials at 95 % (2 x 1.26 %).
 */
export const LEAST_HELD = Math.ceil(SEEDS * (0.93 - 0.0252));
export const MOST_HELD = Math.floor(SEEDS * (0.97 + 0.0252));

/** The fault planted in the sabotage twins: standard errors 0.7 of the true ones. At Student's t that covers some 84 %. */
export const SABOTAGE = 0.7;

export interface Coverage {
  held: number;
  /** With the sabotaged error. */
  heldSabotaged: number;
}

export function countInto(
  coverage: Map<string, Coverage>,
  name: string,
  figure: Figure,
  truth: number,
): void {
  const entry = coverage.get(name) ?? { held: 0, heldSabotaged: 0 };
  coverage.set(name, entry);
  const [low, high] = figure.ci95;
  if (low <= truth && truth <= high) entry.held++;
  const shrunkLow = figure.value - SABOTAGE * (figure.value - low);
  const shrunkHigh = figure.value + SABOTAGE * (high - figure.value);
  if (shrunkLow <= truth && truth <= shrunkHigh) entry.heldSabotaged++;
}

export function isCalibrated(held: number): boolean {
  return held >= LEAST_HELD && held <= MOST_HELD;
}
