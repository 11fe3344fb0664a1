/** How coarse the light on a map is: the watts that come down together. */
import { FootprintSum, type TallyLayout } from '../kernel/tally.js';
import type { SlotSums } from './resampled.js';

/**
 * Watts (of a batch) that arrive within `area` as one: what a ray is where rays make the map. For deposits of w_i watts, each
 * spread over A_i, it is sum w_i^2 min(1, area / A_i) / sum w_i: watts / clump is how many equal, independent deposits
 * would be as noisy. Points that were given to rays count whole, as the rays of a point may fall close together.
 *
 * @param index of the receiver
 * @param area over which flux is averaged, m2
 * @returns null where rays made the map
 */
export function footprintClump(
  layout: TallyLayout,
  sums: SlotSums,
  index: number,
  area: number,
): number | null {
  const at = (sum: number) => sums.sum[layout.receivers[index].footprints + sum];
  const watts = at(FootprintSum.Laid) + at(FootprintSum.ByRays);
  if (!(watts > 0)) return null;
  const laid = Math.min(at(FootprintSum.Squares), at(FootprintSum.SquaresPerArea) * area);
  return (laid + at(FootprintSum.RaySquares)) / watts;
}

/** Share of the light off the mirrors whose map was made by rays though footprints were asked for. */
export function byRaysFraction(layout: TallyLayout, sums: SlotSums): number {
  let laid = 0;
  let byRays = 0;
  for (const { footprints } of layout.receivers) {
    laid += sums.sum[footprints + FootprintSum.Laid];
    byRays += sums.sum[footprints + FootprintSum.ByRays];
  }
  return laid + byRays > 0 ? byRays / (laid + byRays) : 0;
}
