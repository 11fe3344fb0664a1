/** Flux maps with their noise. */

import type { PlacedReceiver } from '../field/types.js';
import type { TallyLayout } from '../kernel/tally.js';
import { apertureSize } from './aperture.js';
import type { SlotSums } from './resampled.js';
import type { FluxGrid } from './types.js';

/**
 * Mean flux of every cell with its standard error over the slots, kW/m2.
 * @param wattsPerRay power of one ray that arrives, for the error (Poisson) of a run of a single slot
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
