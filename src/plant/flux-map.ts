/** A coarse map of flux on a lit wall: what the balance and the film limit need of it. */

import { aboveZero, within } from './inputs.js';
import type { Light, LoopState } from './oil-loop.js';

/** W/m2 in cells of equal size; cells off the wall are left out. For a cavity: on its inner wall, not in its opening. */
export interface WallFlux {
  readonly flux: readonly number[] | Float64Array;
  /** m2. */
  readonly cellArea: number;
}

/**
 * Watts and peak of a map.
 * @throws RangeError for an empty map or a flux that is no number of 0 or more
 */
export function lightOfMap(map: WallFlux): Light {
  aboveZero('cell area, m2,', map.cellArea);
  if (map.flux.length === 0) throw new RangeError('the flux map has no cells');
  let sum = 0;
  let peakFlux = 0;
  for (const flux of map.flux) {
    within('flux, W/m2,', flux, 0);
    sum += flux;
    if (flux > peakFlux) peakFlux = flux;
  }
  return { watts: sum * map.cellArea, peakFlux };
}

/**
 * Oil-side wall temperature behind every cell, K: straight line from the outlet (no flux) to the state's hottest place (peak
 * flux), as the film coefficient is taken to be the same everywhere.
 */
export function filmTemperatures(map: WallFlux, state: LoopState): Float64Array {
  const { peakFlux } = lightOfMap(map);
  const rise = state.film - state.outlet;
  return Float64Array.from(map.flux, (flux) =>
    peakFlux === 0 ? state.outlet : state.outlet + (rise * flux) / peakFlux,
  );
}

/** m2 of wall whose oil is above a limit, K. */
export function areaAbove(map: WallFlux, state: LoopState, limit: number): number {
  let cells = 0;
  for (const film of filmTemperatures(map, state)) if (film > limit) cells++;
  return cells * map.cellArea;
}
