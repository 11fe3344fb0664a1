/** Flux maps with their noise. */

import type { PlacedReceiver } from '../field/types.js';
import type { TallyLayout } from '../kernel/tally.js';
import { apertureSize } from './aperture.js';
import { COUNT_ERROR, latticeError, type SlotSums } from './resampled.js';
import type { FluxGrid } from './types.js';

/** A receiver's map in a run. */
export interface MapOfRun {
  readonly layout: TallyLayout;
  readonly sums: SlotSums;
  readonly receiver: PlacedReceiver;
  readonly index: number;
  /** Power of one ray of a batch that arrives, W. */
  readonly wattsPerRay: number;
}

/** kW/m2 for each watt in a cell. */
function fluxPerWatt({ layout, receiver, index }: MapOfRun): number {
  const { nu, nv } = layout.receivers[index];
  const { window } = receiver.design;
  return 1e-3 / ((window.width / nu) * (window.height / nv));
}

/** Mean flux of every cell, kW/m2. */
export function fluxMap(map: MapOfRun): Float64Array {
  const { slots, batchesPerSlot, sum } = map.sums;
  const { map: offset, nu, nv } = map.layout.receivers[map.index];
  const perSlot = fluxPerWatt(map) / batchesPerSlot;
  const flux = new Float64Array(nu * nv);
  for (let cell = 0; cell < flux.length; cell++) flux[cell] = (sum[offset + cell] * perSlot) / slots.length;
  return flux;
}

/**
 * Standard error of the flux of some cells over the slots, kW/m2.
 *
 * A cell holds few rays: their number speaks with the spread (see `latticeError`, `COUNT_ERROR`, `fewRaysError`). So a dark
 * cell has an error too: it is no darker than some 3.8 rays can tell.
 *
 * @param flux from `fluxMap`
 * @param first cell that is wanted
 * @param end the cell after the last
 */
export function fluxErrors(map: MapOfRun, flux: Float64Array, first: number, end: number): Float64Array {
  const { slots, batchesPerSlot } = map.sums;
  const { wattsPerRay } = map;
  const offset = map.layout.receivers[map.index].map + first;
  const count = slots.length;
  const cells = end - first;
  const perWatt = fluxPerWatt(map);
  const perSlot = perWatt / batchesPerSlot;
  const stdErr = new Float64Array(cells);
  if (count < 2) {
    for (let cell = 0; cell < cells; cell++) {
      stdErr[cell] = Math.sqrt((flux[first + cell] * wattsPerRay * perWatt) / batchesPerSlot);
    }
  } else {
    for (const slot of slots) {
      for (let cell = 0; cell < cells; cell++) {
        stdErr[cell] += (slot[offset + cell] * perSlot - flux[first + cell]) ** 2;
      }
    }
    for (let cell = 0; cell < cells; cell++) stdErr[cell] = Math.sqrt(stdErr[cell] / (count * (count - 1)));
  }
  const fluxPerRay = (wattsPerRay * perWatt) / (count * batchesPerSlot);
  if (fluxPerRay > 0) {
    for (let cell = 0; cell < cells; cell++) {
      const rays = flux[first + cell] / fluxPerRay;
      const spread = Math.max(stdErr[cell] / fluxPerRay, latticeError(rays, rays, rays));
      // Through a small cell of a faultless mirror a lattice sends no ray or several at once: that many count as one.
      const clump = rays > 1 ? Math.max(1, spread ** 2 / rays) : 1;
      stdErr[cell] = fluxPerRay * (Math.hypot(spread, clump * COUNT_ERROR) + fewRaysError(rays));
    }
  }
  return stdErr;
}

/** Mean flux of every cell with its standard error, and what the map is of. */
export function fluxGrid(map: MapOfRun): FluxGrid {
  const { receiver, index } = map;
  const { nu, nv } = map.layout.receivers[index];
  const { window, kind } = receiver.design;
  const flux = fluxMap(map);
  return {
    receiver: receiver.name,
    kind,
    aperture: apertureSize(receiver.design),
    nu,
    nv,
    width: window.width,
    height: window.height,
    flux,
    stdErr: fluxErrors(map, flux, 0, flux.length),
  };
}

/**
 * What is added to the standard error of a cell of few rays, in rays: counts are skew, and an interval that is the same to both
 * sides must be as wide as its upper side asks. So 0, 1 and 2 rays reach up to the 97.5 % limits of a Poisson mean, 3.7, 5.6
 * and 7.2 (Garwood 1936, Biometrika 28, 437-442, from memory), near enough; at 50 rays it is 1 % of the error.
 */
function fewRaysError(rays: number): number {
  return COUNT_ERROR / (1 + rays / 5);
}
