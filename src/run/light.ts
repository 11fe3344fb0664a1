/** One batch of light as it leaves the mirrors of a prepared scene. */
import { viewPrepared } from '../kernel/layout.js';
import * as leaving from '../kernel/leaving.js';
import type { PreparedScene } from '../prepare.js';
import { DEFAULT_BATCHES, planBatches } from './plan.js';
import { latticeShifts } from './seeds.js';

/** Numbers of one ray in the recorded light, see the kernel's `LeavingLight`. */
export const { LEAVING_REALS } = leaving;

/**
 * @param rays about so many in all
 * @throws NothingLitError where no facet has light, NoLeavingLightError for toroid facets
 */
export function recordLight(prepared: PreparedScene, seed: string, rays: number): leaving.LeavingLight {
  const { log2Rays } = planBatches(prepared, rays * DEFAULT_BATCHES);
  return leaving.leavingLight(viewPrepared(prepared.buffer), log2Rays, latticeShifts(seed, 0, log2Rays));
}
