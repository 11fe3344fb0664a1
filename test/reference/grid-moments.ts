/** Centre and spread of the light in a flux map. */
import type { FluxGrid, Summary } from '../../src/result/types.js';

export interface Spread {
  /** Metres, receiver frame. */
  readonly centre: number;
  /** Root mean square about the centre along one axis, metres. */
  readonly rms: number;
}

/**
 * Marginal centre and rms along u or v. Light is taken as even within a cell only through Sheppard's correction
 * (variance less the square of the cell over 12), good to far below 1e-4 where the spread is ten cells or more.
 */
export function spreadAlong(grid: FluxGrid, axis: 'u' | 'v'): Spread {
  const count = axis === 'u' ? grid.nu : grid.nv;
  const cell = (axis === 'u' ? grid.width : grid.height) / count;
  const profile = new Float64Array(count);
  for (let iv = 0; iv < grid.nv; iv++) {
    for (let iu = 0; iu < grid.nu; iu++) profile[axis === 'u' ? iu : iv] += grid.flux[iv * grid.nu + iu];
  }
  let power = 0;
  let first = 0;
  let second = 0;
  profile.forEach((flux, index) => {
    const at = (index + 0.5 - count / 2) * cell;
    power += flux;
    first += flux * at;
    second += flux * at * at;
  });
  const centre = first / power;
  return { centre, rms: Math.sqrt(second / power - centre ** 2 - cell ** 2 / 12) };
}

/** Reads the spread along one axis of the first map as a plain angle seen from `distance`, without an error of its own. */
export function angularRms(axis: 'u' | 'v', distance: number) {
  return (summary: Summary) => ({
    value: (1000 * spreadAlong(summary.grids[0], axis).rms) / distance,
    std_err: 0,
  });
}
