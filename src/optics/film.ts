import type { Film } from '../scene/types.js';

/**
 * Reflectance of a film at an incidence angle: the table's value, linear in the angle between entries and constant beyond
 * its ends, times the soiling and ageing factors.
 * @param incidence radians, 0 to pi/2
 */
export function filmReflectance(film: Film, incidence: number): number {
  const { incidence: angles, value } = film.reflectance;
  const factor = film.soilingFactor * film.ageingFactor;
  const next = angles.findIndex((angle) => angle > incidence);
  if (next === 0) return value[0] * factor;
  if (next < 0) return value[value.length - 1] * factor;
  const share = (incidence - angles[next - 1]) / (angles[next] - angles[next - 1]);
  return (value[next - 1] + share * (value[next] - value[next - 1])) * factor;
}

/**
 * Reflectance at equal steps of cos(incidence) from 0 to 1, all factors included: what the trace loop reads.
 * @returns cells + 1 values
 */
export function reflectanceByCosine(film: Film, cells: number): Float64Array {
  return Float64Array.from({ length: cells + 1 }, (_, i) => filmReflectance(film, Math.acos(i / cells)));
}

/**
 * Rms per axis of the film's scatter over both lobes together, radians of the reflected ray.
 * Closed form: the variance of a mixture is the weighted mean of the variances.
 */
export function scatterSigma(film: Film): number {
  return Math.sqrt(film.lobes.reduce((sum, lobe) => sum + lobe.weight * lobe.sigma ** 2, 0));
}
