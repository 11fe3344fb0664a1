/** Errors of map cells, cell by cell, from the rays that are known to lie in them. */
import { describe, expect, it } from 'vitest';
import { fluxGrid } from '../../src/result/grid.js';
import { sumSlots } from '../../src/result/resampled.js';
import { NORMAL_975 } from '../../src/run/statistics.js';
import { syntheticScene } from './synthetic-run.js';

const CELLS = 4;
const WINDOW = 0.4;
const RAY_WATTS = 0.25;
/** Rays of the whole run in the first cells; the others are dark. */
const RAYS = [1, 2, 9, 40, 400];

/** A run of `slots` slots of 3 batches; `inSlot` says how many of a cell's rays lie in which slot. */
function gridOf(slots: number, inSlot: (rays: number, slot: number) => number) {
  const scene = syntheticScene(1, { slots, raysPerBatch: 1, cells: CELLS, window: WINDOW });
  const { map } = scene.layout.receivers[0];
  const tallies = Array.from({ length: slots }, (_, slot) => {
    const tally = new Float64Array(scene.layout.length);
    RAYS.forEach((rays, cell) => {
      tally[map + cell] = RAY_WATTS * inSlot(rays, slot);
    });
    return tally;
  });
  return fluxGrid({
    layout: scene.layout,
    sums: sumSlots(tallies, 3),
    receiver: scene.field.receivers[0],
    index: 0,
    wattsPerRay: RAY_WATTS,
  });
}

/** kW/m2 of one ray of a run of so many batches. */
const fluxPerRay = (batches: number) => (1e-3 * RAY_WATTS) / (WINDOW / CELLS) ** 2 / batches;
/** What is added for few rays: see `fewRaysError`. */
const raised = (rays: number) => NORMAL_975 / 2 / (1 + rays / 5);

describe('errors of map cells, in rays', () => {
  it('of a single slot: the root of the rays, and what few rays add', () => {
    const { flux, stdErr } = gridOf(1, (rays) => rays);
    RAYS.forEach((rays, cell) => {
      expect(flux[cell] / fluxPerRay(3)).toBeCloseTo(rays, 10);
      const error = Math.hypot(Math.sqrt(rays), NORMAL_975 / 2) + raised(rays);
      expect(stdErr[cell] / fluxPerRay(3)).toBeCloseTo(error, 10);
    });
  });

  it('of rays that come in clumps: the spread of the slots, and a clump in place of a ray', () => {
    // All rays in one slot of ten: standard error n sqrt(sum (x - mean)^2 / (n (n - 1))) = rays.
    const { stdErr } = gridOf(10, (rays, slot) => (slot === 0 ? rays : 0));
    RAYS.forEach((rays, cell) => {
      const error = Math.hypot(rays, (rays * NORMAL_975) / 2) + raised(rays);
      expect(stdErr[cell] / fluxPerRay(30)).toBeCloseTo(error, 10);
    });
  });

  it('of rays that come evenly: that of a number rounded to whole rays, one ray as the clump', () => {
    const { stdErr } = gridOf(2, (rays) => rays / 2);
    RAYS.forEach((rays, cell) => {
      const error = Math.hypot(Math.sqrt(rays / 12), NORMAL_975 / 2) + raised(rays);
      expect(stdErr[cell] / fluxPerRay(6)).toBeCloseTo(error, 10);
    });
  });

  it('of a dark cell: as far as some 3.8 rays can tell', () => {
    for (const slots of [1, 5]) {
      const { flux, stdErr } = gridOf(slots, (rays) => rays);
      expect(flux[CELLS * CELLS - 1]).toBe(0);
      expect((NORMAL_975 * stdErr[CELLS * CELLS - 1]) / fluxPerRay(3 * slots)).toBeCloseTo(
        NORMAL_975 ** 2,
        9,
      );
    }
  });
});
