/** Flux maps with their noise. */

import type { PlacedReceiver } from '../field/types.js';
import type { TallyLayout } from '../kernel/tally.js';
import { apertureSize } from './aperture.js';
import { COUNT_ERROR, latticeError, type SlotSums } from './resampled.js';
import type { FluxGrid } from './types.js';

/**
 * Mean flux of every cell with its standard error over the slots, kW/m2.
 *
 * A cell holds few rays: their number speaks with the spread (see `latticeError`, `COUNT_ERROR`, `fewRaysError`). So a dark
 * cell has an error too: it is no darker than some 3.8 rays can tell.
 *
 * @param wattsPerRay power of one ray of a batch that arrives, W
 */
export function fluxGrid(
  layout: TallyLayout,
  sums: SlotSums,
  receiver: PlacedReceiver,
  index: number,
  wattsPerRay: number,
): FluxGrid {
  const { map, nu, nv } = layout.receivers[index];
  const { window } = receiver.design;
  const { slots, batchesPerSlot, sum } = sums;
  const cells = nu * nv;
  const count = slots.length;
  const perWatt = 1e-3 / ((window.width / nu) * (window.height / nv));
  const flux = new Float64Array(cells);
  const stdErr = new Float64Array(cells);
  const perSlot = perWatt / batchesPerSlot;
  for (let cell = 0; cell < cells; cell++) flux[cell] = (sum[map + cell] * perSlot) / count;
  if (count < 2) {
    for (let cell = 0; cell < cells; cell++) {
      stdErr[cell] = Math.sqrt((flux[cell] * wattsPerRay * perWatt) / batchesPerSlot);
    }
  } else {
    for (const slot of slots) {
      for (let cell = 0; cell < cells; cell++) stdErr[cell] += (slot[map + cell] * perSlot - flux[cell]) ** 2;
    }
    for (let cell = 0; cell < cells; cell++) stdErr[cell] = Math.sqrt(stdErr[cell] / (count * (count - 1)));
  }
  const fluxPerRay = (wattsPerRay * perWatt) / (count * batchesPerSlot);
  if (fluxPerRay > 0) {
    for (let cell = 0; cell < cells; cell++) {
      const rays = flux[cell] / fluxPerRay;
      const spread = Math.max(stdErr[cell] / fluxPerRay, latticeError(rays, rays, rays));
      // Through a small cell of a faultless mirror a lattice sends no ray or several at once: that many count as one.
      const clump = rays > 1 ? Math.max(1, spread ** 2 / rays) : 1;
      stdErr[cell] = fluxPerRay * (Math.hypot(spread, clump * COUNT_ERROR) + fewRaysError(rays));
    }
  }
  return {
    receiver: receiver.name,
    kind: receiver.design.kind,
    aperture: apertureSize(receiver.design),
    nu,
    nv,
    width: window.width,
    height: window.height,
    flux,
    stdErr,
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
